"""A small run through everything that is compiled, so that the first real job does not wait for the compiler."""

import numpy as np

from seatwright.arch import SeedRegion, assign_regions
from seatwright.case import Arch
from seatwright.cast import check_cast, measure_deviation
from seatwright.demo._scan import draw_pose, generate_arch
from seatwright.demo._spec import make_spec
from seatwright.mesh import crop_surface, find_block, prepare_withdrawal, sweep_gaps, sweep_voids
from seatwright.survey import Quality, make_path, measure_undercut

__all__ = ["rehearse"]

_GRID_MM = 0.6  # judgement: coarse enough to be quick, fine enough for every unit to be found


def rehearse() -> None:
    """Generate two coarse scans, check one against the other, survey one; the answers are thrown away."""
    spec = make_spec(Arch.MANDIBLE)
    rng = np.random.default_rng(0)
    first = generate_arch(spec, grid_mm=_GRID_MM, rng=rng)
    second = generate_arch(spec, grid_mm=_GRID_MM, rng=rng, T_scan_patient=draw_pose(rng))
    reference, poured = (scan.surface() for scan in (first, second))
    field = first.truth.field
    seeds = [SeedRegion(str(part.tooth), field.middle_mm(part.tooth), 4.5) for part in spec.teeth]
    result = check_cast(reference, poured, assign_regions(reference, seeds), tolerance_um=50.0, repeatability_um=8.0)
    measure_deviation(reference, poured, result.T_reference_poured)
    pair = prepare_withdrawal(reference, reference)
    find_block(pair, np.array([0.0, 0.1, 1.0]))
    find_block(pair, np.array([0.0, 0.2, 1.0]))
    small = crop_surface(reference, reference.vertices_mm[0], 2.0)
    find_block(prepare_withdrawal(reference, small), np.array([0.0, 0.0, 1.0]))
    up = np.array([[0.0, 0.0, 1.0]])
    sweep_voids(reference, up, centers_mm=up, radius_mm=5.0, pitch_mm=0.5)
    sweep_gaps(small, up, point_mm=up[0], reach_mm=1.0, pitch_mm=0.5, slack_mm=0.02)
    for quality in Quality:
        measure_undercut(reference, make_path((0.0, 0.0, -1.0)), quality=quality)
