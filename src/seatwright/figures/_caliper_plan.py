"""Marks read with a caliper on a plan sketch: movements drawn larger, what is allowed, and what could stay unseen."""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.cast import CaliperResult, MarkMovement, PairReport, nominal_places, tooth_of
from seatwright.figures._answers import VERDICT_WORDS
from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE, Ink
from seatwright.figures._movements import choose_enlargement
from seatwright.figures._svg import Point, Sheet, path_through
from seatwright.figures._text import wrap_text
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray, tell_interval, tell_signed

__all__ = ["draw_caliper_plan"]

_WIDTH_MM = 186.0
_FIELD_MM = (112.0, 105.0)
_MARGIN_MM = 24.0
_LONGEST_MM = 20.0
_K_PLANE_95 = 2.448  # square root of the 95 % quantile of chi-square with two degrees of freedom
_K_LINE_95 = 1.960
_KEY_LEFT_MM = 4.0
_ROW_MM = 6.0
_NAME_MM = 26.0
_NAME_SIZE_MM = 3.8
_CLEAR = 0.5  # cosine: a name keeps 60 degrees from its arrow


@dataclass(frozen=True, slots=True)
class _Plan:
    """How millimeters of the sketch become millimeters of the page."""

    scale: float
    factor: int
    middle: FloatArray
    center: Point
    down: float

    def place(self, mark: MarkMovement) -> Point:
        at = _two(mark.place_mm) - self.middle
        return self.center[0] + self.scale * float(at[0]), self.center[1] + self.down * self.scale * float(at[1])

    def arrow(self, vector_mm: FloatArray) -> Point:
        v = _two(vector_mm) * self.factor
        return float(v[0]), self.down * float(v[1])


def _two(vector: FloatArray) -> FloatArray:
    """Return the first two components; 0 for the second on a line."""
    padded = np.zeros(2)
    n = min(2, vector.size)
    padded[:n] = vector[:n]
    return padded


def draw_caliper_plan(result: CaliperResult) -> str:
    """Draw the marks, their movements and their detectable movements, as SVG text.

    Where the readings fix no figure, a short sheet says so.
    """
    if not result.marks:
        sheet = Sheet("caliper-plan", _WIDTH_MM, 24.0, title="Caliper check", description=result.headline)
        _draw_headline(sheet, result)
        return sheet.to_svg()
    plan = _fit_plan(result)
    n_rows = len(result.marks)
    field_foot = plan.center[1] + _half_height(result, plan) + _MARGIN_MM
    height = field_foot + 24.0 + _ROW_MM * n_rows
    sheet = Sheet(
        "caliper-plan",
        _WIDTH_MM,
        height,
        title=f"Movement of each mark, drawn {plan.factor} times larger",
        description=_describe(result, plan),
    )
    _draw_headline(sheet, result)
    _draw_pairs(sheet, result, plan)
    for mark in result.marks:
        _draw_mark(sheet, mark, result, plan)
    _draw_key(sheet, result, plan, field_foot)
    _draw_table(sheet, result, field_foot + 18.0)
    return sheet.to_svg()


def _fit_plan(result: CaliperResult) -> _Plan:
    places = np.array([_two(mark.place_mm) for mark in result.marks])
    low, high = places.min(axis=0), places.max(axis=0)
    extent = np.maximum(high - low, 1.0)
    scale = min(3.0, float((np.array(_FIELD_MM) / extent).min()))
    longest = max(
        [result.asked.tolerance_um]
        + [float(np.linalg.norm(_two(mark.moved_um))) for mark in result.marks]
        + [min(_reach(mark), 4 * result.asked.tolerance_um) for mark in result.marks]
    )
    factor = choose_enlargement(longest / 1000.0)
    n_lines = len(_headline_lines(result))
    top = 6.2 * n_lines + _MARGIN_MM
    center = (_WIDTH_MM / 2, top + scale * float(extent[1]) / 2)
    is_upper = any((tooth_of(mark.mark) or 30) < 30 for mark in result.marks)
    is_tooth_map = len(nominal_places([m.mark for m in result.marks])) >= len(result.marks) > 0
    return _Plan(scale, factor, (low + high) / 2, center, 1.0 if is_upper and is_tooth_map else -1.0)


def _reach(mark: MarkMovement) -> float:
    return max((v for v in mark.detectable_um if v is not None), default=0.0)


def _half_height(result: CaliperResult, plan: _Plan) -> float:
    ys = [plan.place(mark)[1] for mark in result.marks]
    return (max(ys) - min(ys)) / 2


def _draw_headline(sheet: Sheet, result: CaliperResult) -> None:
    ink = ACCENT if result.verdict is Verdict.DOES_NOT_CONFORM else INK
    for k, line in enumerate(_headline_lines(result)):
        sheet.text((0.0, 5.0 + 6.2 * k), line, size_mm=5.0, bold=True, ink=ink)


def _headline_lines(result: CaliperResult) -> list[str]:
    return wrap_text(result.headline, _WIDTH_MM, 5.0, bold=True, max_lines=4)


def _draw_pairs(sheet: Sheet, result: CaliperResult, plan: _Plan) -> None:
    places = {mark.mark: plan.place(mark) for mark in result.marks}
    for pair in result.pairs:
        if pair.first not in places or pair.second not in places:
            continue
        is_off = pair.verdict is Verdict.DOES_NOT_CONFORM
        dashes = {} if _is_used(pair) else {"stroke_dasharray": "1.2 1.6"}
        sheet.line(
            places[pair.first], places[pair.second], QUIET if is_off else FAINT, 0.5 if is_off else 0.15, **dashes
        )


def _is_used(pair: PairReport) -> bool:
    return pair.reference_mm is not None and pair.cast_mm is not None and not pair.is_set_aside


def _draw_mark(sheet: Sheet, mark: MarkMovement, result: CaliperResult, plan: _Plan) -> None:
    at = plan.place(mark)
    tolerance = result.asked.tolerance_um / 1000.0 * plan.factor
    sheet.circle(at, tolerance, stroke=QUIET, width_mm=0.3, stroke_dasharray="1.2 0.8")
    _draw_ellipse(
        sheet,
        at,
        (mark.detectable_axes, np.array([v or 0.0 for v in mark.detectable_um])),
        plan,
        stroke=FAINT,
        fill=SHADE,
    )
    sheet.circle(at, 0.8, stroke=None, fill=INK)
    if _is_told(result):
        _draw_movement(sheet, mark, at, plan)
    _draw_name(sheet, mark, at, plan, tolerance + 2.0)


def _draw_name(sheet: Sheet, mark: MarkMovement, at: Point, plan: _Plan, away: float) -> None:
    """Write the mark's name outside its circle: outwards, or turned from there until its arrow is well clear."""
    if mark.place_mm.size == 1:
        turn = math.pi / 2
    else:
        outwards = math.atan2(at[1] - plan.center[1], at[0] - plan.center[0])
        dx, dy = plan.arrow(mark.moved_um / 1000.0)
        arrow = math.atan2(dy, dx) if math.hypot(dx, dy) > 0.4 * away else None
        turns = (outwards + step * math.pi / 4 for step in (0, 1, -1, 2, -2, 3))
        turn = next((t for t in turns if arrow is None or math.cos(t - arrow) < _CLEAR), outwards + math.pi)
    lines = wrap_text(mark.mark, _NAME_MM, _NAME_SIZE_MM, bold=True, max_lines=2)
    across = math.cos(turn)
    anchor = "middle" if abs(across) < 0.35 else "start" if across > 0 else "end"
    x, y = at[0] + away * across, at[1] + away * math.sin(turn)
    if math.sin(turn) > 0.35:
        y += 2.9
    elif math.sin(turn) < -0.35:
        y += 0.3 - 4.0 * (len(lines) - 1)
    else:
        y += 1.3
    for k, line in enumerate(lines):
        place = (x, y + 4.0 * k)
        sheet.text(place, line, size_mm=_NAME_SIZE_MM, bold=True, anchor=anchor, over_picture=True, ink=_ink_of(mark))


def _draw_movement(sheet: Sheet, mark: MarkMovement, at: Point, plan: _Plan) -> None:
    dx, dy = plan.arrow(mark.moved_um / 1000.0)
    tip = (at[0] + dx, at[1] + dy)
    values, axes = np.linalg.eigh(mark.covariance_um2)
    k = _K_LINE_95 if values.size == 1 else _K_PLANE_95
    ring = (axes, k * np.sqrt(np.clip(values, 0.0, None)))
    _draw_ellipse(sheet, tip, ring, plan, stroke=_ink_of(mark))
    _draw_arrow(sheet, at, tip, _ink_of(mark))


def _draw_ellipse(
    sheet: Sheet,
    center: Point,
    ellipse: tuple[FloatArray, FloatArray],
    plan: _Plan,
    *,
    stroke: Ink | None = None,
    fill: Ink | None = None,
) -> None:
    """Draw the shadow in plan of an ellipse or ellipsoid given by axes in columns and half-axes, µm."""
    axes, half_um = ellipse
    spread = np.zeros((2, 2))
    full = axes @ np.diag((half_um / 1000.0 * plan.factor) ** 2) @ axes.T
    n = min(2, full.shape[0])
    spread[:n, :n] = full[:n, :n]
    values, turned = np.linalg.eigh(spread)
    rx, ry = (max(math.sqrt(max(float(v), 0.0)), 0.15) for v in values)
    angle = math.degrees(math.atan2(plan.down * float(turned[1, 0]), float(turned[0, 0])))
    names = [f"s-{stroke.name}"] if stroke else []
    names += [f"f-{fill.name}"] if fill else []
    sheet.add("ellipse", cx=0.0, cy=0.0, rx=rx, ry=ry, fill=fill.value if fill else "none",
              stroke=stroke.value if stroke else "none", stroke_width=0.25,
              transform=f"translate({center[0]:.3f} {center[1]:.3f}) rotate({angle:.2f})",
              **{"class": " ".join(names), "fill-opacity": 0.75})  # fmt: skip


def _draw_arrow(sheet: Sheet, start: Point, tip: Point, ink: Ink) -> None:
    delta = np.subtract(tip, start)
    length = float(np.hypot(*delta))
    if length < 0.4:
        return
    head = min(2.6, 0.55 * length)
    unit = delta / length
    side = np.array([-unit[1], unit[0]])
    neck = np.array(tip) - unit * head
    sheet.line(start, (float(neck[0]), float(neck[1])), ink, 1.1 if ink is ACCENT else 0.6)
    corners = [neck + side * head * 0.42, np.array(tip), neck - side * head * 0.42]
    sheet.path(path_through([(float(c[0]), float(c[1])) for c in corners], closed=True), stroke=None, fill=ink)


def _ink_of(mark: MarkMovement) -> Ink:
    return ACCENT if mark.judged.verdict is Verdict.DOES_NOT_CONFORM else INK


def _draw_key(sheet: Sheet, result: CaliperResult, plan: _Plan, top: float) -> None:
    y = top
    sheet.line((0.0, y - 6.0), (_WIDTH_MM, y - 6.0), FAINT, 0.2)
    text = f"sketch {plan.scale:.1f} times life size; arrows, circles and shading {plan.factor} times"
    sheet.text((0.0, y), text, size_mm=3.4, ink=QUIET)
    sheet.circle((_KEY_LEFT_MM, y + 5.4), 1.6, stroke=QUIET, width_mm=0.3, stroke_dasharray="1.2 0.8")
    sheet.text((_KEY_LEFT_MM + 4, y + 6.5), f"allowed, {result.asked.tolerance_um:g} µm", size_mm=3.2, ink=QUIET)
    sheet.circle((50.0, y + 5.4), 1.8, stroke=None, fill=SHADE)
    sheet.text((54.0, y + 6.5), "smaller movements may stay unseen", size_mm=3.2, ink=QUIET)
    if _is_told(result):
        sheet.circle((110.0, y + 5.4), 1.4, stroke=INK, fill=PAPER, width_mm=0.25)
        sheet.text((114.0, y + 6.5), "95 % ring round an arrow’s tip", size_mm=3.2, ink=QUIET)


def _draw_table(sheet: Sheet, result: CaliperResult, top: float) -> None:
    for row, mark in enumerate(result.marks):
        y = top + _ROW_MM * row
        ink = _ink_of(mark)
        is_bold = mark.judged.verdict is not Verdict.CONFORMS
        sheet.text((0.0, y), mark.mark, size_mm=3.8, bold=True, ink=ink)
        if not _is_told(result):
            words = "open: " if result.stable is not None else ""
            sheet.text((56.0, y), f"{words}movements from {_reach(mark):.0f} µm would be found", size_mm=3.6)
            continue
        sheet.text((56.0, y), _verdict_words(mark), size_mm=3.6, bold=is_bold, ink=ink)
        sheet.text((98.0, y), _size_words(mark), size_mm=3.6)
        sheet.text((_WIDTH_MM, y), f"found from {_reach(mark):.0f} µm", size_mm=3.4, anchor="end", ink=QUIET)


def _is_told(result: CaliperResult) -> bool:
    """Whether movements are drawn: both epochs were read, and which marks hold the frame is not open."""
    return result.stable is not None and result.stable.is_unique


def _verdict_words(mark: MarkMovement) -> str:
    if mark.judged.verdict is Verdict.DOES_NOT_CONFORM and not mark.is_moved:
        return "off with the whole cast"
    return VERDICT_WORDS[mark.judged.verdict]


def _size_words(mark: MarkMovement) -> str:
    judged = mark.judged
    if judged.low_um is None or judged.high_um is None:
        return f"{judged.length_um:.0f} µm"
    low, high = tell_interval(judged.low_um, judged.high_um, judged.u_worst_um)
    return f"{judged.length_um:.0f} µm ({low} to {high})"


def _describe(result: CaliperResult, plan: _Plan) -> str:
    parts = [
        result.headline,
        f"Arrows are {plan.factor} times life size; {result.asked.tolerance_um:g} µm are allowed.",
    ]
    for mark in result.marks:
        if not _is_told(result):
            parts.append(f"{mark.mark}: movements from {_reach(mark):.0f} µm would be found.")
            continue
        moved = ", ".join(tell_signed(v, 0) for v in mark.moved_um)
        parts.append(f"{mark.mark} {_verdict_words(mark)}, {_size_words(mark)}; components {moved} µm.")
    return " ".join(parts)
