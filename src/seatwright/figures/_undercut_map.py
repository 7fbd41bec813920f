"""The undercuts of a surface as one sheet: along the path and from two sides, with survey lines, gauges and marks."""

from base64 import b64encode
from itertools import pairwise

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.figures._ink import ACCENT, INK, PAPER, QUIET
from seatwright.figures._render import View
from seatwright.figures._svg import Box, Sheet, path_through
from seatwright.figures._undercut_picture import N_BANDS, UndercutPicture, band_swatch, picture_undercut
from seatwright.mesh import LevelLine
from seatwright.quantities import FloatArray
from seatwright.survey import GAUGES_MM, SurveyLines, TripodMarks, UndercutMap, trace_gauge_line

__all__ = ["draw_undercut_map"]

_WIDTH_MM = 186.0
_GAP_MM = 6.0
_DASHES = ("0.6 0.9", "1.8 0.9", "4 1")
_LEAST_LINE_MM = 0.6  # shorter lines are not drawn


def draw_undercut_map(
    field: UndercutMap,
    survey_lines: SurveyLines,
    marks: TripodMarks | None = None,
    *,
    name: str = "surface",
    frame: OcclusalFrame | None = None,
    width_px: int = 900,
) -> str:
    """Draw the undercuts along a path as SVG text; the shaded pictures in it are PNG.

    Parameters
    ----------
    field : UndercutMap
    survey_lines : SurveyLines
    marks : TripodMarks, optional
        Drawn as numbered crosses.
    name : str
        What is shown, for the heading.
    frame : OcclusalFrame, optional
        Lays the patient's left to the right, as on the arch sheet; else the surface's longer side lies flat.
    width_px : int
        Width of the largest picture.
    """
    right, up, out = _axes_of_sheet(field, frame)
    front_caption, side_caption = _captions(up, frame)
    above = picture_undercut(field, View(right, up), width_px=width_px, see_through=True)
    front = picture_undercut(field, View(right, out), width_px=width_px // 2)
    side = picture_undercut(field, View(up, out), width_px=width_px // 2)
    half = (_WIDTH_MM - _GAP_MM) / 2
    placed = [
        (above, 0.0, 12.0, _WIDTH_MM * 0.72, "Along the path, as it stands on the table; undercuts shown through"),
        (front, 0.0, 0.0, half, front_caption),
        (side, half + _GAP_MM, 0.0, half, side_caption),
    ]
    heights = [w * picture.size_px[1] / picture.size_px[0] for picture, _, _, w, _ in placed]
    below = 12.0 + heights[0] + 14.0
    lower = max(heights[1:])
    sheet = Sheet(
        "undercut-map",
        _WIDTH_MM,
        below + lower + 10.0,
        title=f"Undercuts of {name}",
        description=_describe(field, survey_lines),
    )
    sheet.text((0, 5.0), f"Undercuts of {name}", size_mm=5.0, bold=True)
    lines = [
        (survey_lines.lines, None),
        *((trace_gauge_line(field, g), d) for g, d in zip(GAUGES_MM, _DASHES, strict=True)),
    ]
    for number, (picture, x, _, width, caption) in enumerate(placed):
        y = 12.0 if number == 0 else below
        box = Box(x, y, x + width, y + heights[number])
        _draw_view(sheet, picture, box, lines[:1] if number == 0 else lines, marks, is_above=number == 0)
        sheet.text((x, (y + heights[0] if number == 0 else below + lower) + 4.5), caption, size_mm=3.2, ink=QUIET)
    _draw_legend(sheet, _WIDTH_MM * 0.72 + 5.0, 16.0, field, marks)
    return sheet.to_svg()


def _captions(up: FloatArray, frame: OcclusalFrame | None) -> tuple[str, str]:
    if frame is None:
        return "From the lower edge of the picture above", "From its right edge"
    is_front_below = float(np.dot(up, frame.posterior)) > 0
    return f"From the {'front' if is_front_below else 'back'}: the lower edge above", "From the patient's left"


def _axes_of_sheet(field: UndercutMap, jaw: OcclusalFrame | None) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Right and up on the page, and out of it, for the view along the path."""
    frame = field.path.frame()[:3, :3]
    if jaw is not None:
        right = jaw.left - frame[2] * float(np.dot(jaw.left, frame[2]))
        right = right / np.linalg.norm(right)
        return right, np.cross(frame[2], right), frame[2]
    plan = field.surface.vertices_mm @ frame[:2].T
    plan = plan - plan.mean(axis=0)
    _, axes = np.linalg.eigh(plan.T @ plan)
    right = axes[:, 1] @ frame[:2]
    right = right * np.sign(right[int(np.argmax(np.abs(right)))])
    return right, np.cross(frame[2], right), frame[2]


def _draw_view(
    sheet: Sheet,
    picture: UndercutPicture,
    box: Box,
    lines: list[tuple[tuple[LevelLine, ...], str | None]],
    marks: TripodMarks | None,
    *,
    is_above: bool,
) -> None:
    href = "data:image/png;base64," + b64encode(picture.png).decode("ascii")
    width = box.right - box.left
    sheet.add("image", x=box.left, y=box.top, width=width, height=box.bottom - box.top, href=href)
    per_px = width / picture.size_px[0]

    def on_sheet(px: FloatArray) -> list[tuple[float, float]]:
        return [(float(box.left + x * per_px), float(box.top + y * per_px)) for x, y in px]

    for group, dash in lines:
        for line in group:
            if line.length_mm < _LEAST_LINE_MM:
                continue
            for run in picture.runs(line, always=is_above):
                data = path_through(on_sheet(run), closed=False)
                if dash is None:
                    sheet.path(data, stroke=PAPER, width_mm=0.75)
                    sheet.path(data, width_mm=0.4)
                else:
                    sheet.path(data, width_mm=0.18, stroke_dasharray=dash)
    if marks is not None:
        seen = picture.sees(marks.points_mm) | is_above
        for number, (x, y) in enumerate(on_sheet(picture.place(marks.points_mm)), start=1):
            if seen[number - 1]:
                _draw_mark(sheet, x, y, number)


def _draw_mark(sheet: Sheet, x: float, y: float, number: int) -> None:
    sheet.circle((x, y), 1.7, stroke=ACCENT, fill=PAPER, width_mm=0.35)
    sheet.line((x - 2.8, y), (x + 2.8, y), ACCENT, 0.3)
    sheet.line((x, y - 2.8), (x, y + 2.8), ACCENT, 0.3)
    sheet.text((x + 2.2, y - 1.2), str(number), size_mm=3.4, bold=True, ink=ACCENT, over_picture=True)


def _draw_legend(sheet: Sheet, x: float, y: float, field: UndercutMap, marks: TripodMarks | None) -> None:
    sheet.text((x, y), "Undercut, mm", size_mm=3.8, bold=True)
    starts = (0.0, *GAUGES_MM)
    words = [f"to {GAUGES_MM[0]:.2f}"]
    words += [f"{a:.2f} to {b:.2f}" for a, b in pairwise(starts[1:])]
    words += [f"{GAUGES_MM[-1]:.2f} to {field.max_undercut_mm:g}", f"over {field.max_undercut_mm:g}, or not reached"]
    for band in range(N_BANDS):
        top = y + 3.0 + 6.5 * band
        href = "data:image/png;base64," + b64encode(band_swatch(band, (60, 30))).decode("ascii")
        sheet.add("image", x=x, y=top, width=9.0, height=4.5, href=href, preserveAspectRatio="none")
        sheet.rectangle(Box(x, top, x + 9.0, top + 4.5), width_mm=0.2)
        sheet.text((x + 11.0, top + 3.4), words[band], size_mm=3.4)
    y += 3.0 + 6.5 * N_BANDS + 4.0
    sheet.line((x, y), (x + 9.0, y), INK, 0.45)
    sheet.text((x + 11.0, y + 1.1), "survey line", size_mm=3.4)
    for gauge, dash in zip(GAUGES_MM, _DASHES, strict=True):
        y += 5.5
        sheet.line((x, y), (x + 9.0, y), INK, 0.25, stroke_dasharray=dash)
        sheet.text((x + 11.0, y + 1.1), f"gauge {gauge:.2f} touches", size_mm=3.4)
    if marks is None:
        return
    y += 9.0
    _draw_mark(sheet, x + 3.5, y, 1)
    sheet.text((x + 11.0, y + 1.1), "tripod marks", size_mm=3.4)
    sides = " / ".join(f"{side:.0f}" for side in marks.sides_mm)
    sheet.text((x, y + 7.0), f"{sides} mm apart", size_mm=3.2, ink=QUIET)
    sheet.text((x, y + 11.5), f"tilt back to ±{2 * marks.u_retilt_deg[0]:.2f}° (95 %)", size_mm=3.2, ink=QUIET)
    sheet.text((x, y + 16.0), f"at {marks.u_mark_mm:g} mm a mark", size_mm=3.2, ink=QUIET)


def _describe(field: UndercutMap, survey_lines: SurveyLines) -> str:
    seat = ", ".join(f"{k:.3f}" for k in field.path.seat_direction)
    return (
        f"Three shaded views for a partial that seats along ({seat}); undercuts in bands at "
        f"{', '.join(f'{g:.2f}' for g in GAUGES_MM)} mm, {len(survey_lines.lines)} survey lines of "
        f"{survey_lines.length_mm:.0f} mm in all."
    )
