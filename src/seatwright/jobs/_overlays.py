"""A poured scan over its reference as bytes that the browser draws: words first, then arrays."""

import json
import struct
from typing import Any

import numpy as np

from seatwright.arch import assign_regions
from seatwright.figures import VERDICT_WORDS, diverging_color, scale_of_deviation, view_of_cast
from seatwright.jobs._surfaces import encode_surface
from seatwright.quantities import FloatArray
from seatwright.workflows.cast_check import region_specs
from seatwright.workflows.overlay import lay_over
from seatwright.workflows.ports import CaseSource
from seatwright.workflows.results import CastStep, Dossier

__all__ = ["encode_overlays"]

_N_COLORS = 41  # judgement: the steps of the printed scale


def encode_overlays(source: CaseSource, dossier: Dossier) -> dict[str, bytes]:
    """Return each poured scan over its reference, by the scan's name.

    Length of the words and the words (JSON, filled up to four bytes), reference and poured scan as `encode_surface`
    gives them, then float32: movement of each poured point (mm), deviation at each reference point (µm; NaN where
    it is not known).
    """
    scans = {scan.id: scan for scan in dossier.case.scan}
    found = {}
    for step in dossier.casts:
        poured, _ = source.surface(scans[step.poured_scan.id])
        specs, _ = region_specs(source, dossier.case.region, scans[step.reference_scan.id])
        laid = lay_over(step, poured, assign_regions(step.reference, specs))
        words = json.dumps(_describe(step), ensure_ascii=False).encode()
        words += b" " * (-len(words) % 4)
        deviation = np.where(step.deviation_known, step.deviation_um, np.nan)
        parts = [
            struct.pack("<I", len(words)),
            words,
            encode_surface(step.reference),
            encode_surface(laid.poured),
            laid.moved_mm.astype("<f4").tobytes(),
            deviation.astype("<f4").tobytes(),
        ]
        found[step.poured_scan.id] = b"".join(parts)
    return found


def _describe(step: CastStep) -> dict[str, Any]:
    axes = view_of_cast(step).axes()
    colors = diverging_color(np.linspace(-1, 1, _N_COLORS))
    return {
        "reference": step.reference_scan.id,
        "poured": step.poured_scan.id,
        "limit_um": scale_of_deviation(step),
        "tolerance_um": step.result.tolerance_um,
        "colors": [_hex(color) for color in colors],
        "top": axes[1].tolist(),
        "up": axes[2].tolist(),
        "units": [
            {
                "tooth": unit.tooth,
                "at": np.asarray(unit.about_mm).tolist(),
                "shift": None if unit.shift_mm is None else np.asarray(unit.shift_mm).tolist(),
                "told": unit.shown_shift(),
                "word": VERDICT_WORDS[unit.verdict],
                "moved": unit.is_moved,
            }
            for unit in step.result.units
        ],
    }


def _hex(color: FloatArray) -> str:
    return "#" + "".join(f"{round(float(part) * 255):02x}" for part in color)
