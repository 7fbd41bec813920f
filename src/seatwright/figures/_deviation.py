"""The poured cast's deviation from its reference as a picture with its legend, seen as the arch sheet is."""

from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.case import Arch
from seatwright.figures._colors import diverging_color
from seatwright.figures._drawing_frame import fit_drawing_axes
from seatwright.figures._ink import INK, QUIET, Ink
from seatwright.figures._render import UNKNOWN_COLOR, Paint, View, project_scale, render_surface, round_limit
from seatwright.figures._svg import Box, Sheet
from seatwright.quantities import FloatArray
from seatwright.workflows.results import CastStep

__all__ = [
    "LegendPlate",
    "color_deviation",
    "draw_deviation",
    "draw_deviation_legend",
    "place_legend_mm",
    "scale_of_deviation",
    "view_of_cast",
]

_WIDTH_MM = 186.0
_N_COLORS = 41


@dataclass(frozen=True, slots=True, eq=False)
class LegendPlate:
    """A picture that stands in the surface's own space.

    Attributes
    ----------
    corners_mm : ndarray of shape (4, 3)
        In the surface's frame: lower left, lower right, upper right, upper left as the picture is read.
    png : bytes
    notes : mapping
        What the colors mean, for programs that show no picture.
    """

    corners_mm: FloatArray
    png: bytes
    notes: Mapping[str, str | float]


def view_of_cast(cast: CastStep) -> View:
    """Return the view on the biting side with the patient's right on the left of the page.

    Falls back to the scan's own x and y where the units do not tell the pose.
    """
    units = [u for u in cast.result.units if u.is_measured]
    arch = cast.reference_scan.arch
    axes = fit_drawing_axes({int(u.tooth): np.asarray(u.about_mm) for u in units}, arch)
    left, back = (np.eye(3) if axes is None else axes)[:2]
    return View(left, back if arch is Arch.MANDIBLE else -back)


def color_deviation(cast: CastStep) -> NDArray[np.uint8]:
    """Return the color of each reference vertex on the picture's own scale, shape (n, 3), sRGB 0 to 255."""
    values, known, limit = _scaled(cast)
    colors = np.where(known[:, None], diverging_color(values / limit), UNKNOWN_COLOR)
    return np.asarray(np.round(colors * 255.0), dtype=np.uint8)


def scale_of_deviation(cast: CastStep) -> float:
    """Return the end of the color scale of a cast's pictures, µm."""
    return _scaled(cast)[2]


def _scaled(cast: CastStep) -> tuple[FloatArray, NDArray[np.bool_], float]:
    """Return deviations (0 where unknown), where they are known, and an end of the scale that holds every shift."""
    known = np.asarray(cast.deviation_known)
    values = np.where(known, np.asarray(cast.deviation_um), 0.0)
    shifts = [m.middle_um for u in cast.result.units if (m := u.told_shift) is not None]
    return values, known, round_limit(values[known], max([2 * cast.result.tolerance_um, *shifts]))


def draw_deviation(cast: CastStep, *, width_px: int = 1000) -> str:
    """Draw how far the poured cast stands proud of its reference, or falls short, as SVG text.

    The picture inside is a PNG of the reference surface; blue is short, brown is proud, gray is not known.
    """
    values, known, limit = _scaled(cast)
    view = view_of_cast(cast)
    own = cast.reference.vertices_mm @ view.axes().T
    extent = own.max(axis=0) - own.min(axis=0)
    height_px = int(np.clip(width_px * extent[1] / max(extent[0], 1e-9), 0.4 * width_px, 1.1 * width_px))
    picture = render_surface(cast.reference, view=view, paint=Paint(values, known, limit), size=(width_px, height_px))
    height_mm = _WIDTH_MM * height_px / width_px
    sheet = Sheet(
        f"deviation-{cast.poured_scan.id.lower()}",
        _WIDTH_MM,
        height_mm + 17.0,
        title="Deviation of the poured cast from its reference",
        description=_describe(cast, values, known, limit),
    )
    href = "data:image/png;base64," + b64encode(picture).decode("ascii")
    sheet.add("image", x=0, y=0, width=_WIDTH_MM, height=height_mm, href=href)
    per_mm = project_scale(cast.reference, view, (width_px, height_px)) * _WIDTH_MM / width_px
    _draw_legend(sheet, height_mm + 6.0, limit, per_mm)
    return sheet.to_svg()


def draw_deviation_legend(cast: CastStep) -> tuple[str, dict[str, str | float]]:
    """Draw the legend of the colored surface alone, as SVG text, and say the same as notes."""
    values, known, limit = _scaled(cast)
    notes: dict[str, str | float] = {
        "shows": f"deviation of {cast.poured_scan.id} from {cast.reference_scan.id}",
        "blue_um": -limit,
        "white_um": 0.0,
        "brown_um": limit,
        "gray": "not known",
        "tolerance_um": cast.result.tolerance_um,
    }
    sheet = Sheet(
        f"legend-{cast.poured_scan.id.lower()}",
        _WIDTH_MM,
        26.0,
        title="Legend of the deviation",
        description=_describe(cast, values, known, limit),
    )
    sheet.text((0, 5.0), "Deviation of the poured cast from its reference", size_mm=5.0, bold=True)
    sheet.text((_WIDTH_MM, 5.0), f"{cast.result.tolerance_um:g} µm allowed", size_mm=4.0, anchor="end")
    _draw_scale(sheet, 12.0, limit)
    return sheet.to_svg(), notes


def place_legend_mm(cast: CastStep, aspect: float) -> FloatArray:
    """Return the corners of a plate as wide as the arch, below it as the arch sheet is seen, shape (4, 3).

    Parameters
    ----------
    cast : CastStep
    aspect : float
        Height over width of the picture, > 0.
    """
    axes = view_of_cast(cast).axes()
    own = cast.reference.vertices_mm @ axes.T
    low, high = own.min(axis=0), own.max(axis=0)
    width = float(high[0] - low[0])
    top = float(low[1]) - 0.04 * width
    middle = float(low[2] + high[2]) / 2
    plate = [(low[0], top - aspect * width), (high[0], top - aspect * width), (high[0], top), (low[0], top)]
    return np.array([(x, y, middle) for x, y in plate]) @ axes


def _draw_legend(sheet: Sheet, y: float, limit: float, page_mm_per_mm: float) -> None:
    bar = 10 * page_mm_per_mm
    sheet.line((2.0, y + 2), (2.0 + bar, y + 2), INK, 0.6)
    sheet.text((2.0, y + 8), "10 mm", size_mm=3.6)
    _draw_scale(sheet, y, limit)


def _draw_scale(sheet: Sheet, y: float, limit: float) -> None:
    left, right = 62.0, 142.0
    step = (right - left) / _N_COLORS
    for k, color in enumerate(diverging_color(np.linspace(-1, 1, _N_COLORS))):
        box = Box(left + k * step, y, left + (k + 1) * step + 0.1, y + 4)
        sheet.rectangle(box, stroke=None, fill=Ink("scale", _hex(color)))
    sheet.rectangle(Box(left, y, right, y + 4), width_mm=0.25)
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        x = left + (share + 1) / 2 * (right - left)
        sheet.line((x, y + 4), (x, y + 5), INK, 0.25)
        text = f"{share * limit:+g}".replace("-", "−") if share else "0"
        sheet.text((x, y + 8.6), text, size_mm=3.6, anchor="middle")
    sheet.text((right + 7.5, y + 8.6), "µm", size_mm=3.6)
    sheet.text((left - 3, y + 3.2), "short", size_mm=3.6, anchor="end")
    sheet.text((right + 3, y + 3.2), "proud", size_mm=3.6)
    gray = Box(_WIDTH_MM - 22, y, _WIDTH_MM - 16, y + 4)
    sheet.rectangle(gray, fill=Ink("scale", _hex(UNKNOWN_COLOR)), width_mm=0.25)
    sheet.text((_WIDTH_MM, y + 8.6), "not known", size_mm=3.6, anchor="end", ink=QUIET)


def _hex(color: FloatArray) -> str:
    return "#" + "".join(f"{round(float(v) * 255):02x}" for v in color)


def _describe(cast: CastStep, values: FloatArray, known: NDArray[np.bool_], limit: float) -> str:
    if not known.any():
        return "Nowhere does the poured scan face the reference."
    share = 100.0 * float((np.abs(values[known]) <= cast.result.tolerance_um).mean())
    return (
        f"{share:.0f} % of the compared points lie within {cast.result.tolerance_um:g} µm of the reference; "
        f"{100.0 * float(known.mean()):.0f} % of the points could be compared. "
        f"The scale runs from blue, {limit:g} µm short, over white to brown, {limit:g} µm proud."
    )
