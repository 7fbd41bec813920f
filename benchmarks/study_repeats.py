"""Do intervals hold when the repeatability is found in a few repeat scans, and few crowns show it.

Run::

    python benchmarks/study_repeats.py --casts 150

The crowns and scan errors of ``study_cast.py cells``; all of fourteen crowns, or four of them, which hold the frame. Every scan of the
poured cast has scan errors of its own and misplaces every crown by 8 µm along each axis (normal; its turn the shift's over 8 mm); the
reference misplaces them by 2 µm, as declared. For the poured scans 2 µm are declared too, far too little. Told is the share of 95 %
intervals of the crowns' raw shifts and turns that hold the truth: with what the repeats show, and without the factor nu / (nu - 2).
Seeds from 95000, not used while the method was made.
"""

import argparse
from dataclasses import replace
from itertools import product

import numpy as np
from study_cast import KINDS, Cells
from unit_patches import TEETH, Array, Error, draw_misplaced

from seatwright.cast._budget import declared_covariance
from seatwright.cast._check import Measurement
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import settle_units
from seatwright.cast._lattice import Pose
from seatwright.cast._misfit import Freedom
from seatwright.cast._noise import BEND_MM, covariance_of_unit, fit_noise
from seatwright.cast._pose import GlobalPose
from seatwright.cast._repeats import average_scans
from seatwright.cast._result import Overlap
from seatwright.cast._unit_cells import gather_points

FIRST_SEED = 95000
TRUE_UM, REFERENCE_UM = 8.0, 2.0
FEW = (1, 5, 8, 12)
POSE = GlobalPose(np.eye(4), None, None, Overlap(1.0, 1.0, 1, 1, 0.3, 0.0, 1.0, 0.05))  # type: ignore[arg-type]


def scan(
    cells: Cells, chosen: tuple[int, ...], error: Error, common: list[Array], rng: np.random.Generator
) -> Measurement:
    """One repeat scan against the reference, whose error `common` is the same for all."""
    units, poses = [], []
    misplaced = draw_misplaced(TRUE_UM, len(chosen), rng)
    for k, own in zip(chosen, common, strict=True):
        points, rows = cells.points[k], cells.rows[k]
        off = own + error.draw(points, rng)
        found = -np.linalg.solve(rows.T @ rows, rows.T @ off)
        left = (off + rows @ found, np.ones(len(points)))
        units.append((gather_points(points, rows, left, cells.regions[k].area_mm2, 1.0), found))
    noise = fit_noise(tuple(c for c, _ in units))
    told = [covariance_of_unit(c, noise, REFERENCE_UM * 1e-3) for c, _ in units]
    for k, (_, found), moved, (covariance, _) in zip(chosen, units, misplaced, told, strict=True):
        center = cells.regions[k].centroid_mm
        poses.append(Pose(center, found + moved, covariance, center))
    freedom = Freedom(*np.mean([[f.common, f.least] for _, f in told], axis=0))
    declared = tuple(declared_covariance(REFERENCE_UM * 1e-3, BEND_MM, f.common) for _, f in told)
    places = tuple(range(len(chosen)))
    return Measurement(POSE, None, places, tuple(poses), tuple(c for c, _ in units), noise, freedom, declared)  # type: ignore[arg-type]


def check(cells: Cells, chosen: tuple[int, ...], error: Error, n_scans: int, seed: int) -> tuple[Array, Array, float]:
    """Whether the 95 % intervals hold, with and without the factor; (units, 6) each, and the degrees of freedom."""
    rng = np.random.default_rng(seed)
    common = [error.draw(cells.points[k], rng) for k in chosen]
    before = draw_misplaced(REFERENCE_UM, len(chosen), rng)
    scans = [scan(cells, chosen, error, common, rng) for _ in range(n_scans)]
    mean, repeats = average_scans(scans, tuple(TEETH[k] for k in chosen), poured_um=REFERENCE_UM)
    poses = [replace(p, motion=p.motion - off) for p, off in zip(mean.poses, before, strict=True)]
    held = []
    for factor in (1.0, _factor(repeats)):
        extra = [(factor - 1) * (repeats.covariance() / n_scans if repeats is not None else 0) for _ in poses]
        told = [replace(p, covariance=p.covariance + e) for p, e in zip(poses, extra, strict=True)]
        settled = settle_units(told, (), tuple(range(len(chosen))), SCALE_PRIOR, mean.freedom)
        held.append([np.abs(u.raw) < 1.96 * np.sqrt(np.diag(u.raw_covariance)) for u in settled.units])
    return np.array(held[0]), np.array(held[1]), 0.0 if repeats is None else repeats.shift_um.dof


def _factor(repeats: object) -> float:
    dof = getattr(getattr(repeats, "shift_um", None), "dof", np.inf)
    return 1.0 if np.isinf(dof) else (dof - 2) / dof


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--casts", type=int, default=150, help="for each line")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    asked = parser.parse_args()
    cells = Cells(0.0, 0.0)
    print(
        "| crowns, scans | degrees of freedom of the shift | scan error | shift / turn covered | without the factor |"
    )
    print("| --- " * 5 + "|")
    for chosen, n_scans, kind in product((FEW, tuple(range(len(TEETH)))), (2, 3), (0, 3)):
        error = KINDS[kind]
        found = [check(cells, chosen, error, n_scans, asked.first_seed + 1000 * kind + n) for n in range(asked.casts)]
        with_factor, without = (np.array([f[k] for f in found]) for k in (0, 1))
        se = 2 * with_factor.mean(axis=(1, 2)).std() / np.sqrt(len(found))
        what = f"{error.independent_um:g} µm" + (
            f" + {error.correlated_um:g} µm over {error.length_mm:g} mm" if error.correlated_um else ""
        )
        print(
            f"| {len(chosen)}, {n_scans} | {np.median([f[2] for f in found]):.0f} | {what} "
            f"| {with_factor[..., :3].mean():.3f} / {with_factor[..., 3:].mean():.3f} ± {se:.3f} "
            f"| {without[..., :3].mean():.3f} / {without[..., 3:].mean():.3f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
