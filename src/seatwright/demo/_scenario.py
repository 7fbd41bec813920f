"""The invented scenario whole: case, bench, log, scans, and the truth that only tests may know.

A lower arch, Kennedy class II modification 2. The mistake that is caught: the die returned for 43 is engraved 33.
The one that the cast check must find: while vibrating, the die in 44 lifted out of its place in the impression, so
that on the cast the crown stands 0.18 mm too low and leans 1.2 degrees. On the third day a new opposing alginate lies
unwrapped.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from seatwright.case import Arch, Bench, Case, Event
from seatwright.demo._happenings import AS_OF, make_bench, make_log
from seatwright.demo._holds import find_holds_mm, find_margin_centers_mm
from seatwright.demo._plan import CONUS_LEAN_DEG, POURED_FILE, REFERENCE_FILE, UNITS, make_plan
from seatwright.demo._scan import GeneratedScan, draw_pose, generate_arch
from seatwright.demo._spec import ArchSpec, BarPart, Form, Link, Movement, SlidePart, StudPart, ToothPart
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, Transform

__all__ = ["DemoCase", "DemoTruth", "make_demo_case", "make_demo_spec"]

_FLOATED = 44
_LOWERED_MM = 0.18
_LEANED_DEG = 1.2
_REFERENCE_SEED, _POURED_SEED, _POSE_SEED = 2026, 304, 7
_TAPER_DEG = 6.0
_FITTINGS = {"bar-33-42": "sleeve-front"}


@dataclass(frozen=True, slots=True)
class DemoTruth:
    """What was built into the scans; it never enters the case folder.

    Attributes
    ----------
    floated : tuple of int
        Units that moved.
    T_poured_reference : ndarray of shape (4, 4)
        Maps the reference's frame to the poured scan's.
    shift_mm, turn_rad : mapping of tooth to ndarray of shape (3,)
        Shift at the unit's seed and turn, in the reference's frame, for every unit.
    about_mm : mapping of tooth to ndarray of shape (3,)
        The seeds.
    """

    floated: tuple[int, ...]
    T_poured_reference: Transform
    shift_mm: Mapping[int, FloatArray]
    turn_rad: Mapping[int, FloatArray]
    about_mm: Mapping[int, FloatArray]


@dataclass(frozen=True, slots=True)
class DemoCase:
    """Everything that the demo writes, as values; `scans` are keyed by their path in the case folder."""

    case: Case
    bench: Bench
    events: tuple[Event, ...]
    scans: Mapping[str, GeneratedScan]
    truth: DemoTruth


def make_demo_spec() -> ArchSpec:
    """Return the scenario's lower arch: eight units, three saddles, a bar, a slide, a stud and a conus."""
    lean = math.radians(CONUS_LEAN_DEG)
    return ArchSpec(
        arch=Arch.MANDIBLE,
        teeth=(
            ToothPart(
                37,
                Form.CONUS,
                below_gum_facial_mm=-0.8,
                below_gum_lingual_mm=-0.8,
                taper_rad=math.radians(_TAPER_DEG),
                lean_rad=(0.0, lean),
            ),
            ToothPart(35, Form.CROWN, collar_mm=0.8),
            ToothPart(34, Form.PONTIC),
            ToothPart(33, Form.CROWN, below_gum_lingual_mm=1.5),
            ToothPart(42, Form.CROWN),
            ToothPart(43, Form.CROWN),
            ToothPart(44, Form.CROWN),
            ToothPart(45, Form.IMPLANT_CROWN),
        ),
        links=(Link(33, 34), Link(34, 35), Link(42, 43, 1.2)),
        bars=(BarPart(33, 42, length_mm=17.0, ridge_gap_mm=2.0),),
        slides=(SlidePart(35),),
        studs=(StudPart(45),),
    )


def make_demo_case(*, grid_mm: float = 0.32, progress: Progress = SILENT) -> DemoCase:
    """Build the scenario; the same call gives the same values to the last bit on one machine.

    Parameters
    ----------
    grid_mm : float
        Grid spacing of both scans; the default gives about 80 000 vertices each.
    progress : Progress

    Returns
    -------
    DemoCase
    """
    spec = make_demo_spec()
    reference = generate_arch(
        spec, grid_mm=grid_mm, rng=np.random.default_rng(_REFERENCE_SEED), progress=progress.part(0.0, 0.5)
    )
    field = reference.truth.field
    mesial = field.frames[_FLOATED].axes[0]
    poured = generate_arch(
        spec,
        grid_mm=grid_mm,
        rng=np.random.default_rng(_POURED_SEED),
        movements={
            _FLOATED: Movement(
                shift_mm=(0.0, 0.0, -_LOWERED_MM), turn_rad=_as_tuple(math.radians(_LEANED_DEG) * mesial)
            )
        },
        T_scan_patient=draw_pose(np.random.default_rng(_POSE_SEED)),
        progress=progress.part(0.5, 1.0),
    )
    seeds = {tooth: np.round(field.middle_mm(tooth), 2) for tooth in UNITS}
    marks = {_FITTINGS.get(name, name): _as_tuple(np.round(place, 2)) for name, place in field.marks_mm().items()}
    marks |= find_holds_mm(field)
    margins = find_margin_centers_mm(spec, field)
    plan = make_plan(AS_OF, {tooth: _as_tuple(seed) for tooth, seed in seeds.items()}, marks, margins)
    truth = DemoTruth(
        floated=(_FLOATED,),
        T_poured_reference=poured.truth.T_scan_patient,
        shift_mm={t: poured.truth.shift_mm(t, seeds[t]) for t in UNITS},
        turn_rad={t: poured.truth.turn_rad(t) for t in UNITS},
        about_mm=seeds,
    )
    scans = {REFERENCE_FILE: reference, POURED_FILE: poured}
    return DemoCase(plan, make_bench(), make_log(), scans, truth)


def _as_tuple(vector: FloatArray) -> tuple[float, float, float]:
    return (float(vector[0]), float(vector[1]), float(vector[2]))
