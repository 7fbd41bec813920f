"""The window of paths on a polar diagram in degrees: how far the path leans, which way, and what limits it.

Seen along the occlusal normal onto the arch, as the arch sheet is: the patient's left to the right, so that the front
is up in an upper jaw and down in a lower one.
"""

import math

import numpy as np

from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE
from seatwright.figures._intervals import nice_step
from seatwright.figures._svg import Box, Point, Sheet, format_number, path_through
from seatwright.quantities import FloatArray
from seatwright.survey import FrameworkSurvey, PathSurvey, PathWindow

__all__ = ["draw_path_window"]

_WIDTH_MM, _HEIGHT_MM = 186.0, 112.0
_RADIUS_MM = 40.0
_CENTER = (48.0, 62.0)
_ZOOM_CENTER = (138.0, 60.0)
_ZOOM_MM = 26.0
_SMALL_SHARE = 0.25


def draw_path_window(survey: PathSurvey) -> str:
    """Draw window, attachments' own windows and the path as SVG text; a small window also enlarged."""
    window = survey.window
    sheet = Sheet(
        "path-window", _WIDTH_MM, _HEIGHT_MM, title="Window of paths of insertion", description=_in_words(survey)
    )
    sheet.text((0.0, 6.0), _headline(survey), size_mm=4.8, bold=True, ink=ACCENT if survey.path is None else INK)
    if survey.path is not None:
        sheet.text((0.0, 12.0), survey.path.tilt.words + _known_to(survey), size_mm=3.6, ink=QUIET)
    is_lower = _is_lower(survey)
    polar = _Polar(_CENTER, _RADIUS_MM / survey.max_tilt_deg, is_lower=is_lower)
    _fill_window(sheet, survey, polar)
    _draw_rings(sheet, survey.max_tilt_deg, polar)
    for attachment in survey.attachments:
        if len(attachment.outline_deg) > 2 and attachment.centered_deg > 0.02 * survey.max_tilt_deg:
            _outline(sheet, attachment.outline_deg, polar, dash="0.6 0.9")
            edge = [polar.place(float(p[0]), float(p[1])) for p in attachment.outline_deg]
            lowest = max(edge, key=lambda at: at[1])
            sheet.text((lowest[0], lowest[1] + 3.2), attachment.id, size_mm=2.8, anchor="middle", ink=QUIET)
    _draw_window(sheet, survey, polar)
    _label_axes(sheet, survey, polar)
    if survey.framework is not None:
        _tell_framework(sheet, survey.framework)
    reach = max(window.antero_posterior_deg, window.lateral_deg, _floating_reach(survey))
    if not window.is_empty and 0 < reach < _SMALL_SHARE * 2 * survey.max_tilt_deg:
        _draw_zoom(sheet, survey, reach)
    elif not window.is_empty:
        _list_sides(sheet, window, has_path=survey.path is not None)
    else:
        _list_gaps(sheet, survey)
    return sheet.to_svg()


class _Polar:
    """Places a lean on the paper: distance from the middle is the lean in degrees, its way is the way it leans."""

    def __init__(self, center: Point, per_deg: float, about_deg: Point = (0.0, 0.0), *, is_lower: bool = False) -> None:
        self.center, self.per_deg, self.about, self.down = center, per_deg, about_deg, -1.0 if is_lower else 1.0

    def place(self, posterior_deg: float, left_deg: float) -> Point:
        back, left = math.tan(math.radians(posterior_deg)), math.tan(math.radians(left_deg))
        size = math.hypot(back, left)
        lean = math.degrees(math.atan(size))
        share = lean / size if size > 0 else 0.0
        x, y = left * share - self.about[1], back * share - self.about[0]
        return (self.center[0] + x * self.per_deg, self.center[1] + self.down * y * self.per_deg)


def _is_lower(survey: PathSurvey) -> bool:
    """Whether left, back and the occlusal normal are right-handed: seen onto a lower jaw."""
    frame = survey.frame
    return float(np.dot(np.cross(frame.left, frame.posterior), frame.occlusal)) > 0


def _known_to(survey: PathSurvey) -> str:
    """How well the tilt is known, 95 %: as well as the occlusal plane that it is told from."""
    if survey.frame.u_deg == 0 or survey.path is None or survey.path.tilt.words.startswith("level"):
        return ""
    return f", ±{2 * survey.frame.u_deg:.1f} degrees (95 %)"


def _headline(survey: PathSurvey) -> str:
    if survey.path is None:
        return survey.no_path
    if survey.is_fixed:
        return f"Path fixed by {' and '.join(survey.fixed_by)}"
    return "Window of paths"


def _in_words(survey: PathSurvey) -> str:
    window = survey.window
    if window.is_empty:
        return f"No direction is left; {-window.in_radius_deg:.2f} degrees are missing."
    sides = ", ".join(f"{s.side} {s.reach_deg:.2f} degrees ({s.feature})" for s in window.sides)
    return f"From {'the path' if survey.path is not None else 'its middle'} the window reaches {sides}."


def _draw_rings(sheet: Sheet, max_tilt_deg: float, polar: _Polar) -> None:
    step = nice_step(max_tilt_deg, 4)
    sheet.circle(polar.center, max_tilt_deg * polar.per_deg, stroke=QUIET, width_mm=0.3)
    for k in range(1, int(max_tilt_deg / step + 1e-9) + 1):
        ring = k * step
        if ring < max_tilt_deg - 1e-9:
            sheet.circle(polar.center, ring * polar.per_deg, stroke=FAINT, width_mm=0.15)
        x = polar.center[0] + ring * polar.per_deg * math.cos(math.radians(45))
        y = polar.center[1] + ring * polar.per_deg * math.sin(math.radians(45))
        sheet.circle((x + 2.6, y + 1.6), 2.2, stroke=None, fill=PAPER)
        sheet.text((x + 0.8, y + 2.6), f"{ring:g}°", size_mm=2.8, ink=QUIET)
    edge = max_tilt_deg * polar.per_deg
    (cx, cy) = polar.center
    sheet.line((cx - edge, cy), (cx + edge, cy), FAINT, 0.15)
    sheet.line((cx, cy - edge), (cx, cy + edge), FAINT, 0.15)
    above, below = ("back", "front") if polar.down < 0 else ("front", "back")
    sheet.text((cx, cy - edge - 1.6), f"leans to the {above}", size_mm=3.0, anchor="middle", ink=QUIET)
    sheet.text((cx, cy + edge + 4.0), f"leans to the {below}", size_mm=3.0, anchor="middle", ink=QUIET)
    sheet.text((cx - edge - 1.2, cy - 1.0), "right", size_mm=3.0, anchor="end", ink=QUIET)
    sheet.text((cx + edge + 1.2, cy - 1.0), "left", size_mm=3.0, ink=QUIET)


def _outline(sheet: Sheet, points: FloatArray, polar: _Polar, *, dash: str = "") -> None:
    data = path_through([polar.place(float(p[0]), float(p[1])) for p in points], closed=True)
    more = {"stroke_dasharray": dash} if dash else {}
    sheet.path(data, stroke=INK, fill=None, width_mm=0.3, **more)


def _fill_window(sheet: Sheet, survey: PathSurvey, polar: _Polar) -> None:
    """Shade what is admitted: by attachments and guide planes, and by the framework where both were sought together."""
    framework = survey.framework
    shared = framework.shared if framework is not None else ()
    rings = [ring for region in shared for ring in (region.outline_deg, *region.holes_deg)]
    if not shared and len(survey.window.outline_deg) > 2:
        rings = [survey.window.outline_deg]
    if rings:
        data = " ".join(path_through([polar.place(float(p[0]), float(p[1])) for p in r], closed=True) for r in rings)
        sheet.path(data, stroke=None, fill=SHADE, width_mm=0.0, fill_rule="evenodd")


def _draw_window(sheet: Sheet, survey: PathSurvey, polar: _Polar) -> None:
    if len(survey.window.outline_deg) > 2:
        _outline(sheet, survey.window.outline_deg, polar)
    floating = survey.window_floating
    if floating is not None and len(floating.outline_deg) > 2:
        _outline(sheet, floating.outline_deg, polar, dash="1.4 0.8")
    for region in survey.framework.regions if survey.framework is not None else ():
        for ring in (region.outline_deg, *region.holes_deg):
            _outline(sheet, ring, polar, dash="3 1 0.6 1")
    if survey.path is not None:
        tilt = survey.path.tilt
        _mark_path(sheet, polar.place(tilt.posterior_deg, tilt.left_deg))


def _mark_path(sheet: Sheet, at: Point) -> None:
    sheet.circle(at, 1.3, stroke=INK, fill=PAPER, width_mm=0.5)
    sheet.circle(at, 0.4, stroke=None, fill=INK)


def _label_axes(sheet: Sheet, survey: PathSurvey, polar: _Polar) -> None:
    """Each attachment's axis as a tick with its name, names stacked beside the diagram's foot where they are close."""
    y = _HEIGHT_MM - 1.0
    names = []
    for attachment in survey.attachments:
        if attachment.tilt is None:
            names.append(f"{attachment.id} points away from the jaw")
            continue
        at = polar.place(attachment.tilt.posterior_deg, attachment.tilt.left_deg)
        sheet.line((at[0] - 1.0, at[1] - 1.0), (at[0] + 1.0, at[1] + 1.0), INK, 0.3)
        sheet.line((at[0] - 1.0, at[1] + 1.0), (at[0] + 1.0, at[1] - 1.0), INK, 0.3)
        names.append(
            f"{attachment.id}: {attachment.centered_deg:.2f}° centered, {attachment.floating_deg:.2f}° floating"
        )
    if names:
        sheet.text((0.0, y), "× axes: " + "; ".join(names), size_mm=3.0, ink=QUIET)


def _tell_framework(sheet: Sheet, framework: FrameworkSurvey) -> None:
    seating = framework.seating
    says = "no path to seat along"
    if seating is not None:
        says = "seats along the path" if seating.enters else f"stops {seating.stops_short_mm:.2f} mm short of its seat"
    regions = f"{len(framework.regions)} window" + ("" if len(framework.regions) == 1 else "s")
    sheet.text((_WIDTH_MM, 12.0), f"framework (dash-dot, {regions}): {says}", size_mm=3.2, anchor="end", ink=QUIET)


def _floating_reach(survey: PathSurvey) -> float:
    floating = survey.window_floating
    return max(floating.antero_posterior_deg, floating.lateral_deg) if floating is not None else 0.0


def _draw_zoom(sheet: Sheet, survey: PathSurvey, reach_deg: float) -> None:
    tilt = survey.path.tilt if survey.path is not None else survey.window.center_tilt
    if tilt is None:
        return
    lean = _Polar((0.0, 0.0), 1.0).place(tilt.posterior_deg, tilt.left_deg)
    per_deg = 1.5 * _ZOOM_MM / reach_deg
    is_lower = _is_lower(survey)
    zoom = _Polar(_ZOOM_CENTER, per_deg, (lean[1], lean[0]), is_lower=is_lower)
    (cx, cy), edge = _ZOOM_CENTER, _ZOOM_MM
    sheet.rectangle(Box(cx - edge, cy - edge, cx + edge, cy + edge), stroke=FAINT, width_mm=0.2)
    _fill_window(sheet, survey, zoom)
    _draw_window(sheet, survey, zoom)
    scale = nice_step(reach_deg, 4)
    sheet.line((cx - edge, cy + edge + 8.0), (cx - edge + scale * per_deg, cy + edge + 8.0), INK, 0.5)
    sheet.text((cx - edge + scale * per_deg + 1.5, cy + edge + 9.0), f"{format_number(scale, 3)}°", size_mm=3.0)
    sheet.text(
        (cx - edge, cy + edge + 13.0), "shaded: males centered; dashed: may sit to one side", size_mm=3.0, ink=QUIET
    )
    sides = {side.side: side for side in survey.window.sides}
    above, below = ("posterior", "anterior") if is_lower else ("anterior", "posterior")
    for name, y in ((above, cy - edge - 1.6), (below, cy + edge + 3.8)):
        side = sides[name]
        sheet.text(
            (cx, y), f"{side.reach_deg:.2f}° {side.feature} {side.limit}", size_mm=3.0, anchor="middle", bold=True
        )
    for name, x, anchor in (("right", cx - edge - 1.5, "end"), ("left", cx + edge + 1.5, "start")):
        side = sides[name]
        for row, text in enumerate((f"{side.reach_deg:.2f}°", side.feature, side.limit)):
            sheet.text((x, cy - 3.0 + 4.0 * row), text, size_mm=3.0, anchor=anchor, bold=True)
    openings = {round(s.opening_um_per_deg) for s in survey.window.sides if s.opening_um_per_deg is not None}
    if openings:
        widest = " to ".join(f"{v:d}" for v in sorted({min(openings), max(openings)}))
        more = f"1° more on a side would take {widest} µm more room there"
        sheet.text((cx - edge, cy + edge + 17.0), more, size_mm=3.0, ink=QUIET)


def _list_sides(sheet: Sheet, window: PathWindow, *, has_path: bool) -> None:
    y = 30.0
    seen = "From the path the window ends" if has_path else "From its middle the guides' window ends"
    sheet.text((104.0, y), seen, size_mm=3.8, bold=True)
    for side in window.sides:
        y += 7.0
        sheet.text((104.0, y), f"{side.side}: {side.reach_deg:.1f}°", size_mm=3.6)
        ends = side.limit if side.feature == "search" else f"{side.feature} {side.limit}"
        sheet.text((132.0, y), ends, size_mm=3.6, ink=QUIET)
        if side.opening_um_per_deg is not None:
            y += 4.5
            sheet.text((132.0, y), f"{side.opening_um_per_deg:.0f} µm a side for 1° more", size_mm=3.2, ink=QUIET)


def _list_gaps(sheet: Sheet, survey: PathSurvey) -> None:
    y = 30.0
    sheet.text(
        (104.0, y), f"{-survey.window.in_radius_deg:.2f}° are missing at each", size_mm=3.8, bold=True, ink=ACCENT
    )
    for name, gap in survey.window.openings_um.items():
        y += 7.0
        sheet.text((104.0, y), f"{name} would need {gap:.0f} µm per side", size_mm=3.6)
    if survey.window_floating is not None and survey.window_floating.openings_um:
        y += 9.0
        sheet.text((104.0, y), "with the partial free to sit to one side", size_mm=3.4, ink=QUIET)
        for name, gap in survey.window_floating.openings_um.items():
            y += 6.0
            sheet.text((104.0, y), f"{name} {gap:.0f} µm per side", size_mm=3.4, ink=QUIET)
