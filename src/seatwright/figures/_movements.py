"""Where each unit went: arrows from plan and elevation, drawn larger by a stated factor, against the tolerance."""

from dataclasses import dataclass

import numpy as np

from seatwright.arch import nominal_layout
from seatwright.case import Arch
from seatwright.figures._answers import VERDICT_WORDS
from seatwright.figures._drawing_frame import fit_drawing_axes
from seatwright.figures._ink import ACCENT, FAINT, INK, QUIET, SHADE, Ink
from seatwright.figures._outlines import PlacedTooth, place_tooth
from seatwright.figures._svg import Box, Point, Sheet, path_through
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray
from seatwright.workflows.results import CastStep

__all__ = ["choose_enlargement", "draw_movements"]

_WIDTH_MM = 186.0
_SCALE = 2.0
_LONGEST_MM = 22.0
_ENLARGEMENTS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_K_PLANE_95 = 2.448  # square root of the 95 % quantile of chi-square with two degrees of freedom


@dataclass(frozen=True, slots=True)
class _Move:
    """One unit's movement in drawing directions (patient's left, back, lifting off), mm."""

    tooth: int
    shift_mm: FloatArray
    u_mm: FloatArray
    verdict: Verdict
    shown: str


def choose_enlargement(longest_mm: float) -> int:
    """Return the largest round factor at which `longest_mm` still fits the drawing.

    Examples
    --------
    >>> choose_enlargement(0.187), choose_enlargement(0.05)
    (100, 200)
    """
    fitting = [k for k in _ENLARGEMENTS if k * longest_mm <= _LONGEST_MM]
    return max(fitting, default=_ENLARGEMENTS[0])


def draw_movements(cast: CastStep) -> str:
    """Draw every measured unit's shift in plan and in elevation, as SVG text.

    Circles (plan) and bands (elevation) are the tolerance, drawn at the same enlargement as the arrows. The ring
    round an arrow's tip holds the true place with 95 % probability in that view.
    """
    arch = cast.reference_scan.arch
    moves, in_patient_axes = _moves(cast, arch)
    tolerance_mm = cast.result.tolerance_um / 1000.0
    longest = max([float(np.linalg.norm(m.shift_mm)) for m in moves] + [tolerance_mm])
    factor = choose_enlargement(longest)
    teeth, low, high = _place_teeth(arch)
    plan_top = 16.0 - low
    teeth = {t: _lowered(p, plan_top) for t, p in teeth.items()}
    plan_bottom = plan_top + high + 8.0
    rise, fall = _reach(moves, tolerance_mm, factor)
    sheet = Sheet(
        f"moves-{cast.poured_scan.id.lower()}",
        _WIDTH_MM,
        plan_bottom + 12.0 + rise + fall + 10.0,
        title=f"Movement of each unit, drawn {factor} times larger",
        description=_describe(cast, moves, factor),
    )
    _draw_heading(sheet, factor, tolerance_mm)
    for tooth, placed in teeth.items():
        _draw_outline(sheet, placed, is_unit=any(m.tooth == tooth for m in moves))
    for move in moves:
        _draw_plan(sheet, teeth[move.tooth], move, (factor, tolerance_mm), arch)
    _draw_elevation(sheet, moves, (factor, tolerance_mm), arch, plan_bottom)
    if not in_patient_axes:
        sheet.text((_WIDTH_MM, 12.0), "directions as in the scan: too few units", size_mm=3, anchor="end", ink=QUIET)
    return sheet.to_svg()


def _moves(cast: CastStep, arch: Arch) -> tuple[list[_Move], bool]:
    units = [u for u in cast.result.units if u.is_measured]
    axes = fit_drawing_axes({int(u.tooth): np.asarray(u.about_mm) for u in units}, arch)
    turn = np.eye(3) if axes is None else axes
    moves = []
    for unit in units:
        if unit.told_shift is None or unit.covariance is None or int(unit.tooth) not in nominal_layout(arch):
            continue
        u_mm = np.sqrt(np.diag(turn @ unit.covariance[:3, :3] @ turn.T))
        shift = turn @ np.asarray(unit.shift_mm, dtype=float)
        moves.append(_Move(int(unit.tooth), shift, u_mm, unit.verdict, unit.shown_shift()))
    return moves, axes is not None


def _place_teeth(arch: Arch) -> tuple[dict[int, PlacedTooth], float, float]:
    layout = nominal_layout(arch)
    teeth = {
        t: place_tooth(place, arch, origin=(_WIDTH_MM / 2, 0.0), scale=_SCALE)
        for t, place in layout.items()
        if t % 10 != 8
    }
    low = min(float(p.outline[:, 1].min()) for p in teeth.values())
    high = max(float(p.outline[:, 1].max()) for p in teeth.values())
    return teeth, low, high


def _lowered(tooth: PlacedTooth, by_mm: float) -> PlacedTooth:
    center = (tooth.center[0], tooth.center[1] + by_mm)
    return PlacedTooth(
        tooth.tooth,
        center,
        tooth.outline + np.array([0.0, by_mm]),
        tooth.surface_of,
        tooth.facial,
        tooth.mesial,
        tooth.half_md_mm,
        tooth.half_bl_mm,
    )


def _draw_heading(sheet: Sheet, factor: int, tolerance_mm: float) -> None:
    sheet.text((0, 4.5), "From above", size_mm=4.6, bold=True)
    text = f"arrows {factor} times life size, teeth {_SCALE:g} times"
    sheet.text((0, 10.0), text, size_mm=3.4, ink=QUIET)
    bar = tolerance_mm * factor
    sheet.line((_WIDTH_MM - bar, 4.0), (_WIDTH_MM, 4.0), INK, 0.5)
    for x in (_WIDTH_MM - bar, _WIDTH_MM):
        sheet.line((x, 3.0), (x, 5.0), INK, 0.5)
    sheet.text((_WIDTH_MM - bar - 2, 5.0), f"{tolerance_mm * 1000:g} µm allowed", size_mm=3.4, anchor="end", bold=True)


def _draw_outline(sheet: Sheet, tooth: PlacedTooth, *, is_unit: bool) -> None:
    data = path_through([(float(x), float(y)) for x, y in tooth.outline], closed=True)
    sheet.path(data, stroke=FAINT, fill=SHADE if is_unit else None, width_mm=0.25)


def _draw_plan(sheet: Sheet, tooth: PlacedTooth, move: _Move, sizes: tuple[float, float], arch: Arch) -> None:
    factor, tolerance_mm = sizes
    down = 1.0 if arch is Arch.MAXILLA else -1.0
    delta = (float(move.shift_mm[0]) * factor, float(move.shift_mm[1]) * factor * down)
    spread = (float(move.u_mm[0]) * factor * _K_PLANE_95, float(move.u_mm[1]) * factor * _K_PLANE_95)
    sheet.circle(tooth.center, tolerance_mm * factor, stroke=QUIET, width_mm=0.3, stroke_dasharray="1.2 0.8")
    _draw_arrow(sheet, tooth.center, delta, spread, _ink_of(move))
    inner = tooth.beside_lingual(3.4)
    sheet.text((inner[0], inner[1] + 1.3), str(move.tooth), size_mm=3.8, bold=True, anchor="middle", over_picture=True)


def _draw_elevation(sheet: Sheet, moves: list[_Move], sizes: tuple[float, float], arch: Arch, top: float) -> None:
    factor, tolerance_mm = sizes
    sheet.text((0, top + 4.5), "From the side, arch unrolled", size_mm=4.6, bold=True)
    sheet.text((_WIDTH_MM, top + 4.5), "up is off the cast", size_mm=3.4, anchor="end", ink=QUIET)
    rise, fall = _reach(moves, tolerance_mm, factor)
    zero = top + 12.0 + rise
    layout = nominal_layout(arch)
    order = sorted((t for t in layout if t % 10 != 8), key=lambda t: layout[t].x_mm)
    length = sum(layout[t].width_md_mm for t in order)
    step = (_WIDTH_MM - 12) / length
    band = Box(0, zero - tolerance_mm * factor, _WIDTH_MM, zero + tolerance_mm * factor)
    sheet.rectangle(band, stroke=None, fill=SHADE)
    sheet.line((0, zero), (_WIDTH_MM, zero), QUIET, 0.25)
    x = 6.0
    for tooth in order:
        half = layout[tooth].width_md_mm * step / 2
        move = next((m for m in moves if m.tooth == tooth), None)
        if move is not None:
            along = move.shift_mm[:2] @ np.array([np.cos(layout[tooth].heading_rad), np.sin(layout[tooth].heading_rad)])
            delta = (float(along) * factor, -float(move.shift_mm[2]) * factor)
            spread = (float(move.u_mm[:2].mean()) * factor * _K_PLANE_95, float(move.u_mm[2]) * factor * _K_PLANE_95)
            sheet.circle((x + half, zero), 0.7, stroke=None, fill=INK)
            _draw_arrow(sheet, (x + half, zero), delta, spread, _ink_of(move))
        foot = zero + fall + 6.0
        sheet.text((x + half, foot), str(tooth), size_mm=3.8, bold=move is not None, anchor="middle",
                   ink=INK if move else QUIET)  # fmt: skip
        x += 2 * half


def _reach(moves: list[_Move], tolerance_mm: float, factor: float) -> tuple[float, float]:
    """Return how far the elevation reaches above and below its line, page mm."""
    up = max([float(m.shift_mm[2] + 3 * m.u_mm[2]) for m in moves] + [tolerance_mm])
    down = max([float(-m.shift_mm[2] + 3 * m.u_mm[2]) for m in moves] + [tolerance_mm])
    return up * factor, down * factor


def _draw_arrow(sheet: Sheet, start: Point, delta: Point, spread: Point, ink: Ink) -> None:
    tip = (start[0] + delta[0], start[1] + delta[1])
    length = float(np.hypot(*delta))
    width = 1.1 if ink is ACCENT else 0.6
    sheet.add("ellipse", cx=tip[0], cy=tip[1], rx=max(spread[0], 0.05), ry=max(spread[1], 0.05), fill="none",
              stroke=ink.value, stroke_width=0.25, **{"class": f"s-{ink.name}"})  # fmt: skip
    if length < 0.3:
        sheet.circle(start, 0.5, stroke=None, fill=ink)
        return
    head = min(2.6, 0.55 * length)
    unit = np.array(delta) / length
    side = np.array([-unit[1], unit[0]])
    neck = np.array(tip) - unit * head
    sheet.line(start, (float(neck[0]), float(neck[1])), ink, width)
    corners = [neck + side * head * 0.42, np.array(tip), neck - side * head * 0.42]
    sheet.path(path_through([(float(c[0]), float(c[1])) for c in corners], closed=True), stroke=None, fill=ink)


def _ink_of(move: _Move) -> Ink:
    return ACCENT if move.verdict is Verdict.DOES_NOT_CONFORM else INK


def _describe(cast: CastStep, moves: list[_Move], factor: int) -> str:
    parts = [f"Arrows are {factor} times life size; {cast.result.tolerance_um:g} µm are allowed."]
    for move in moves:
        left, back, off = (float(v) * 1000 for v in move.shift_mm)
        parts.append(
            f"{move.tooth} {VERDICT_WORDS[move.verdict]}, {move.shown}: "
            f"{abs(left):.0f} µm to the patient’s {'left' if left >= 0 else 'right'}, "
            f"{abs(back):.0f} µm {'back' if back >= 0 else 'forward'}, "
            f"{abs(off):.0f} µm {'off the cast' if off >= 0 else 'into the cast'}."
        )
    return " ".join(parts)
