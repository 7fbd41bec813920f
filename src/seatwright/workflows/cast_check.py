"""The cast check: scans of a case, or loose files, to movements of each unit."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from seatwright.arch import MeshRegion, RegionSpec, SeedRegion, UnitRegion, assign_regions
from seatwright.case import Case, ImpressionRole, Region, Scan, ScanRole, arch_of
from seatwright.cast import (
    MARGIN_CENTER,
    CastQuestion,
    CastResult,
    Deviation,
    Mark,
    PointKind,
    ScaleExpectation,
    check_repeats,
    expect_reseat_um,
    measure_deviation,
    summarize_deviation,
)
from seatwright.errors import CaseError, Fault
from seatwright.forecast import Choices, expect_scale
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import Measured
from seatwright.workflows.ports import CaseBundle, CaseSource, InputFile
from seatwright.workflows.results import CastStep, ScanName

__all__ = ["check_case_casts", "check_surfaces", "name_cast_step", "region_specs", "require_casts"]


def check_surfaces(
    reference: Surface,
    poured: Sequence[Surface],
    specs: Sequence[RegionSpec],
    *,
    tolerance_um: float,
    repeatability_um: float,
    reference_um: float | None = None,
    question: CastQuestion | None = None,
    progress: Progress = SILENT,
) -> CastResult:
    """Find each unit's region on the reference and check the poured cast against it, by one scan or by several.

    `repeatability_um` is declared for both scans together, `reference_um` the reference's part of it (see
    `check_repeats`).
    """
    regions: tuple[UnitRegion, ...] = assign_regions(reference, specs)
    return check_repeats(
        reference,
        poured,
        regions,
        tolerance_um=tolerance_um,
        repeatability_um=repeatability_um,
        reference_um=reference_um,
        question=question,
        progress=progress,
    )


def rigid_bodies(case: Case) -> tuple[tuple[str, ...], ...]:
    """Return the units that joins and bars make one, by tooth; those that stand alone are left out."""
    bodies = {tuple(sorted(case.body_of(unit.tooth))) for unit in case.unit}
    return tuple(tuple(str(tooth) for tooth in body) for body in sorted(bodies) if len(body) > 1)


def functional_marks(case: Case) -> tuple[Mark, ...]:
    """Return the points at which the case lets its units be judged, as far as it places them.

    Attachments first (one on a bar on both of its ends), then rests, then the middles of the margins: a distance
    between two units is taken between the first of each.
    """
    bars = {bar.id: (bar.from_tooth, bar.to_tooth) for bar in case.bar}
    marks: list[Mark] = []
    for attachment in case.attachment:
        teeth = bars.get(attachment.bar or "", ()) if attachment.tooth is None else (attachment.tooth,)
        if attachment.at_mm is None:
            continue
        way = attachment.withdraw_direction
        direction = None if way is None else np.asarray(way, dtype=float)
        marks.extend(Mark(str(t), attachment.id, np.asarray(attachment.at_mm, dtype=float), direction) for t in teeth)
    marks += [
        Mark(str(rest.tooth), rest.id, np.asarray(rest.at_mm, dtype=float), kind=PointKind.REST)
        for rest in case.rest
        if rest.at_mm is not None
    ]
    marks += [
        Mark(str(u.tooth), MARGIN_CENTER, np.asarray(u.margin_center_mm, dtype=float), kind=PointKind.MARGIN)
        for u in case.unit
        if u.margin_center_mm is not None
    ]
    return tuple(marks)


def require_casts(case: Case) -> tuple[Scan, tuple[Scan, ...]]:
    """Return the reference scan and the poured scans; CaseError when one of them is not there."""
    references = [scan for scan in case.scan if scan.role is ScanRole.REFERENCE and scan.arch is case.arch]
    poured = tuple(scan for scan in case.scan if scan.role is ScanRole.POURED and scan.arch is case.arch)
    faults = []
    if len(references) != 1:
        faults.append(Fault("case.toml: scan", f"{len(references)} reference scans of the arch", "state exactly one"))
    if not poured:
        faults.append(Fault("case.toml: scan", "no scan of a poured cast", "scan the cast, then add it as a scan"))
    if not case.region:
        faults.append(Fault("case.toml: region", "no unit regions", "give each unit a seed and radius, or a mesh"))
    if faults:
        raise CaseError("the cast check needs scans and regions", hint=faults[0].hint, faults=faults)
    return references[0], poured


def check_case_casts(
    source: CaseSource,
    bundle: CaseBundle,
    *,
    stable: tuple[str, ...] = (),
    repeats: Sequence[Surface] = (),
    choices: Choices | None = None,
    progress: Progress = SILENT,
) -> tuple[tuple[CastStep, ...], tuple[InputFile, ...]]:
    """Check every poured cast of the case against its reference; also return what was read.

    Scans that repeat another (`repeat_of`) count with it as one check. `stable` names units that hold the frame by the
    user's word instead of by their agreement; `repeats` are further scans of the last poured cast, in mm. `choices` are
    what the plan says of the pick-up's pour, for the scale to expect.
    """
    case = bundle.case
    reference_scan, poured_scans = require_casts(case)
    progress.report(0.0, "reading the reference scan")
    reference, reference_file = source.surface(reference_scan)
    specs, region_files = region_specs(source, case.region, reference_scan)
    question = CastQuestion(bodies=rigid_bodies(case), stable=stable, marks=functional_marks(case))
    files = [reference_file, *region_files]
    steps = []
    groups = group_repeats(poured_scans)
    for index, scans in enumerate(groups):
        part = progress.part(index / len(groups), (index + 1) / len(groups))
        part.report(0.02, f"reading {', '.join(scan.file for scan in scans)}")
        read = [source.surface(scan) for scan in scans]
        files += [file for _, file in read]
        surfaces = [surface for surface, _ in read] + list(repeats if index == len(groups) - 1 else ())
        result = check_surfaces(
            reference,
            surfaces,
            specs,
            tolerance_um=case.tolerance.unit_shift_um,
            repeatability_um=math.hypot(reference_scan.repeatability_um, scans[0].repeatability_um),
            reference_um=reference_scan.repeatability_um,
            question=replace(
                question,
                reseats_um=_reseats(scans[0]),
                expected_scale=expected_scale(case, scans[0], choices),
                length_error_um_per_mm=_length_error_um_per_mm(reference_scan, scans[0]),
            ),
            progress=part.part(0.1, 0.85),
        )
        part.report(0.9, "measuring the deviation everywhere")
        step = _add_deviation((reference_scan, scans[0]), result, reference, surfaces[0])
        steps.append(_add_figures(step, specs))
    return tuple(steps), tuple(files)


def group_repeats(scans: Sequence[Scan]) -> list[list[Scan]]:
    """Return the scans cast by cast: each with those that repeat it."""
    firsts = [scan for scan in scans if scan.repeat_of is None]
    return [[first, *(s for s in scans if s.repeat_of == first.id)] for first in firsts]


def expected_scale(case: Case, scan: Scan, choices: Choices | None = None) -> ScaleExpectation | None:
    """Return the scale that the scanned cast's impression and stone let expect; None when no impression is named.

    `choices` hold for the pick-up impression alone: when it was poured, and the maker's own figures.
    """
    if scan.impression is None:
        return None
    impression = case.impression_by_id(scan.impression)
    causes = expect_scale(impression, choices if impression.role is ImpressionRole.PICK_UP else None)
    u = math.hypot(*(c.percent.u for c in causes))
    return ScaleExpectation(Measured(sum(c.percent.value for c in causes) / 100, u / 100, "1"), causes)


def _length_error_um_per_mm(one: Scan, other: Scan) -> float:
    return math.hypot(one.length_error_um_per_mm or 0.0, other.length_error_um_per_mm or 0.0)


def _reseats(scan: Scan) -> dict[str, float]:
    u_um = expect_reseat_um() if scan.reseat_um is None else scan.reseat_um
    return {str(tooth): u_um for tooth in scan.reseated}


def name_cast_step(
    result: CastResult, reference: Surface, poured: Surface, specs: Sequence[RegionSpec] = ()
) -> CastStep:
    """Return what the pictures of a check of loose files are drawn from; the arch is that of the first unit."""
    arch = arch_of(int(result.units[0].tooth))
    names = (ScanName("reference", arch), ScanName("poured cast", arch))
    return _add_figures(_add_deviation(names, result, reference, poured), specs)


def _add_figures(step: CastStep, specs: Sequence[RegionSpec]) -> CastStep:
    deviation = Deviation(step.deviation_um / 1000.0, step.deviation_known, 0.0)
    regions = assign_regions(step.reference, specs) if specs else ()
    return replace(step, figures=summarize_deviation(step.reference, deviation, regions))


def _add_deviation(
    scans: tuple[Scan | ScanName, Scan | ScanName], result: CastResult, reference: Surface, poured: Surface
) -> CastStep:
    deviation = measure_deviation(reference, poured, result.T_reference_poured)
    return CastStep(*scans, result, reference, deviation.distance_mm * 1000.0, deviation.is_defined)


def region_specs(
    source: CaseSource, regions: Sequence[Region], reference: Scan
) -> tuple[list[RegionSpec], list[InputFile]]:
    """Return where each unit is on the reference, as the case says it, and the files that were read for it."""
    specs: list[RegionSpec] = []
    files: list[InputFile] = []
    for region in regions:
        tooth = str(region.tooth)
        if region.mesh is not None:
            surface, file = source.region_surface(region.mesh, reference)
            files.append(file)
            specs.append(MeshRegion(tooth, surface))
        elif region.seed_mm is not None and region.radius_mm is not None:
            specs.append(SeedRegion(tooth, np.asarray(region.seed_mm, dtype=float), region.radius_mm))
    return specs, files
