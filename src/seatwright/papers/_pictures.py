"""The pictures of a cast check as files: drawings, their pixels, and the colored surface with its legend."""

import struct
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from seatwright.figures import (
    LegendPlate,
    color_deviation,
    draw_caliper_plan,
    draw_deviation,
    draw_deviation_legend,
    draw_index_test,
    draw_intervals,
    draw_movements,
    place_legend_mm,
)
from seatwright.papers._typeset import rasterize_svg
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.workflows.caliper import ByHand
from seatwright.workflows.results import CastStep

__all__ = ["GlbEncoder", "draw_by_hand", "draw_cast_figures", "paint_cast", "render_cast_pictures"]

GlbEncoder = Callable[[FloatArray, NDArray[np.int32], NDArray[np.uint8], LegendPlate], bytes]


def render_cast_pictures(
    casts: Sequence[CastStep], *, encode_glb: GlbEncoder, progress: Progress = SILENT
) -> Mapping[str, bytes]:
    """Return the pictures of each cast check by file name: intervals, movements, deviation (SVG, PNG), surface (GLB).

    Parameters
    ----------
    casts : sequence of CastStep
    encode_glb : callable
        Turns vertices (n, 3) in mm, faces (m, 3), colors (n, 3) uint8 and a legend into the bytes of a GLB file.
    """
    files: dict[str, bytes] = {}
    for number, cast in enumerate(casts, start=1):
        for name, svg in draw_cast_figures(cast, number).items():
            progress.report((number - 1) / len(casts), f"drawing {name}")
            files[f"{name}.svg"], files[f"{name}.png"] = svg.encode(), rasterize_svg(svg)
        files[f"deviation-{number}.glb"] = paint_cast(cast, encode_glb)
    return files


def draw_cast_figures(cast: CastStep, number: int) -> dict[str, str]:
    """Return the drawings of one cast check as SVG text by name."""
    return {
        f"intervals-{number}": draw_intervals(cast),
        f"movements-{number}": draw_movements(cast),
        f"deviation-{number}": draw_deviation(cast),
    }


def draw_by_hand(by_hand: ByHand) -> dict[str, str]:
    """Return the drawings of readings by caliper and foil as SVG text by name."""
    figures = {}
    if by_hand.caliper is not None:
        figures["caliper-plan"] = draw_caliper_plan(by_hand.caliper.result)
    if by_hand.index is not None:
        figures["index-test"] = draw_index_test(by_hand.index.result)
    return figures


def paint_cast(cast: CastStep, encode_glb: GlbEncoder) -> bytes:
    """Return the reference colored by the deviation, its legend beside it, as GLB."""
    svg, notes = draw_deviation_legend(cast)
    png = rasterize_svg(svg)
    width, height = struct.unpack(">II", png[16:24])  # PNG (ISO/IEC 15948), 11.2.2: IHDR comes first
    plate = LegendPlate(place_legend_mm(cast, height / width), png, notes)
    surface = cast.reference
    return encode_glb(surface.vertices_mm, surface.faces, color_deviation(cast), plate)
