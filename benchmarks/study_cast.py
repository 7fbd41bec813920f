"""Do the cast check's intervals cover, how wide are they, how often does it cry wolf: thousands of units with known truth.

Run again and again (it adds to its file and then tells what is in it)::

    python benchmarks/study_cast.py cells results.jsonl --limit-s 600
    python benchmarks/study_cast.py scans results.jsonl --limit-s 600

``cells``: scan error drawn on the points of fourteen crowns (``unit_patches.py``) and fitted by linear least squares;
then noise model, stable set, frame and covariances are the check's own. ``scans``: two meshes of the same crowns with
their own tessellations, and the whole check but for the search for the pose. ``--scale`` of the lattice 0.1 % unless told;
every other scan has three moved units (0.02 to 0.3 mm, up to 0.6 degree). ``--repeatability-um`` declares so much, and every
crown in each scan is then truly misplaced by that (normal, independent from crown to crown, its turn the shift's over 8 mm);
``--strong`` takes the errors of 15 to 20 µm. Seeds from 70000, and with ``--first-seed`` from 90000, were not used while the method was made. Bars: coverage .93 to .97 of 1825 units or more, width at most 1.3 times the oracle's
(1.96 times the true standard deviation of each estimate, found over the scans), false alarms in at most 5 % of unmoved casts.
"""

import argparse
import json
import time
from itertools import product
from pathlib import Path

import numpy as np
from scipy.stats import binomtest
from unit_patches import GRID, TEETH, Array, Error, draw_misplaced, draw_patches

from seatwright.cast._check import judge_units, measure_units
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import settle_units
from seatwright.cast._lattice import Pose
from seatwright.cast._misfit import Freedom
from seatwright.cast._noise import covariance_of_unit, fit_noise
from seatwright.cast._pose import GlobalPose
from seatwright.cast._question import CastQuestion
from seatwright.cast._result import Overlap
from seatwright.cast._unit_cells import UnitCells, gather_points
from seatwright.mesh import index_surface, measure_vertex_normals

FIRST_SEED = 70000
KINDS = (
    Error(10.0, 0.0, 1.0),
    Error(7.0, 5.0, 0.5),
    Error(7.0, 5.0, 1.0),
    Error(7.0, 5.0, 2.0),
    Error(7.0, 5.0, 4.0),
    Error(10.0, 1.5, 2.0),
    Error(7.0, 5.0, 1.0, has_tail=True),
    Error(15.0, 0.0, 1.0),
    Error(20.0, 0.0, 1.0),
    Error(11.0, 10.0, 1.0),
    Error(14.0, 14.0, 2.0),
)
USUAL, STRONG = range(7), range(7, 11)
Moves = dict[int, tuple[Array, Array]]


def draw_moves(seed: int) -> Moves:
    rng = np.random.default_rng(seed)
    moves: Moves = {}
    for k in rng.choice(len(TEETH), 3 if seed % 2 else 0, replace=False):
        shift, turn = rng.normal(size=(2, 3))
        moves[int(k)] = (
            shift / np.linalg.norm(shift) * rng.uniform(0.02, 0.3),
            turn / np.linalg.norm(turn) * rng.uniform(0, 0.01),
        )
    return moves


class Cells:
    """Crowns as points with normals; every draw is a linear fit of their scan error."""

    def __init__(self, scale: float, repeatability_um: float) -> None:
        self.scale, self.repeatability_um = scale, repeatability_um
        scene = draw_patches(1, Error(0.0), grid=27)
        normals = measure_vertex_normals(scene.reference)
        n = scene.reference.n_vertices // len(TEETH)
        self.regions = scene.regions
        self.points = [scene.reference.vertices_mm[k * n : (k + 1) * n] for k in range(len(TEETH))]
        self.rows = [
            np.hstack([normals[k * n : (k + 1) * n], np.cross(p - r.centroid_mm, normals[k * n : (k + 1) * n])])
            for k, (p, r) in enumerate(zip(self.points, self.regions, strict=True))
        ]

    def unit(self, k: int, error: Error, rng: np.random.Generator) -> tuple[UnitCells, Array]:
        """Cells of one unit's residuals, and the error of its fitted pose. Both scans err: root two times one."""
        points, rows = self.points[k], self.rows[k]
        off = np.sqrt(2) * error.draw(points, rng)
        hessian = rows.T @ rows
        found = -np.linalg.solve(hessian, rows.T @ off)
        left = off + rows @ found
        return gather_points(points, rows, (left, np.ones(len(points))), self.regions[k].area_mm2, 1.0), found

    def check(self, seed: int, error: Error, moves: Moves) -> dict[str, object]:
        rng = np.random.default_rng(seed)
        units = [self.unit(k, error, rng) for k in range(len(TEETH))]
        misplaced = draw_misplaced(self.repeatability_um, len(TEETH), rng)
        start = time.process_time()
        noise = fit_noise(tuple(cells for cells, _ in units))
        found = [covariance_of_unit(cells, noise, self.repeatability_um * 1e-3) for cells, _ in units]
        middle = np.mean([r.centroid_mm for r in self.regions], axis=0)
        truth = []
        for k, region in enumerate(self.regions):
            shift, turn = moves.get(k, (np.zeros(3), np.zeros(3)))
            truth.append(np.concatenate([shift + self.scale * (region.centroid_mm - middle), turn]))
        poses = [
            Pose(r.centroid_mm, t + e + m, c, r.centroid_mm)
            for r, t, (_, e), m, (c, _) in zip(self.regions, truth, units, misplaced, found, strict=True)
        ]
        freedom = Freedom(*np.mean([[f.common, f.least] for _, f in found], axis=0))
        settled = settle_units(poses, (), (), SCALE_PRIOR, freedom)
        seconds = time.process_time() - start
        off = settled.lattice.middle_mm - middle
        errors = [
            u.raw - t + np.concatenate([self.scale * off, np.zeros(3)])
            for u, t in zip(settled.units, truth, strict=True)
        ]
        told = [k for k, u in enumerate(settled.units)
                if u.own @ np.linalg.solve(u.own_covariance, u.own) > settled.stable.gate]  # fmt: skip
        u = [np.sqrt(np.diag(unit.raw_covariance)) for unit in settled.units]
        return _record(
            errors, u, told, moves, (settled.lattice.scale.value - self.scale) / settled.lattice.scale.u, seconds
        )


def check_scans(seed: int, error: Error, moves: Moves, asked: argparse.Namespace) -> dict[str, object]:
    """Two meshes, near their place: patches show no arch to search for."""
    scale, declared = asked.scale, asked.repeatability_um
    scene = draw_patches(seed, error, scale=scale, moved=moves, grid=asked.grid, repeatability_um=declared)
    indexed = index_surface(scene.reference), index_surface(scene.poured)
    start = time.process_time()
    pose = GlobalPose(np.eye(4), *indexed, Overlap(1.0, 1.0, 1, 1, 0.3, 0.0, 1.0, 0.05))
    measured = measure_units(pose, scene.regions, repeatability_um=declared)
    assert measured is not None
    result = judge_units(measured, scene.regions, CastQuestion(), tolerance_um=50.0, repeatability_um=declared)
    seconds = time.process_time() - start
    middle = np.mean([r.centroid_mm for r in scene.regions], axis=0)
    # the raw frame is told about the mean place of the stable units, the truth about that of all
    raw = scene.shifts + scale * (middle - result.frame_center_mm)
    errors = [
        np.concatenate([u.shift_mm - raw[k], np.radians(u.turn_deg) - scene.turns[k]])
        for k, u in enumerate(result.units)
    ]
    told = [k for k, u in enumerate(result.units) if u.is_moved]
    u = [np.sqrt(np.diag(unit.covariance)) for unit in result.units]
    return _record(errors, u, told, moves, (result.scale.value - scale) / result.scale.u, seconds)


def _record(  # noqa: PLR0917
    errors: list[Array], u: list[Array], told: list[int], moves: Moves, scale_z: float, seconds: float
) -> dict[str, object]:
    return {
        "errors": [[round(float(v), 8) for v in e] for e in errors],
        "u": [[round(float(v), 8) for v in e] for e in u],
        "told": told,
        "moved": sorted(moves),
        "scale_z": scale_z,
        "seconds": seconds,
    }


HEAD = (
    "| how | scan error of each scan | scans / units | coverage, ± 2 s.e. by scan | shift / turn "
    "| width over oracle, shift / turn | true s.d., shift / turn | false alarms, unmoved casts (95 % interval) "
    "| moved units missed | rms of scale error over u | processor |"
)


def tell(how: str, error: Error, found: list[dict[str, object]]) -> str:
    errors, u = np.array([f["errors"] for f in found]), np.array([f["u"] for f in found])
    inside = np.abs(errors) < 1.96 * u
    by_scan = inside.mean(axis=(1, 2))
    oracle = np.sqrt((errors**2).mean(axis=0))
    width = np.median(np.sqrt((u**2).mean(axis=0)) / oracle, axis=0)
    kind = f"{error.independent_um:g} µm"
    if error.correlated_um:
        kind += f" + {error.correlated_um:g} µm over {error.length_mm:g} mm{', long tail' if error.has_tail else ''}"
    still = [f for f in found if not f["moved"]]
    moved = sum(len(f["moved"]) for f in found)  # type: ignore[arg-type]
    missed = sum(len(set(f["moved"]) - set(f["told"])) for f in found)  # type: ignore[call-overload]
    cells = [
        how,
        kind,
        f"{errors.shape[0]} / {errors.shape[0] * errors.shape[1]}",
        f"{inside.mean():.3f} ± {2 * by_scan.std(ddof=1) / np.sqrt(len(by_scan)):.3f}",
        f"{inside[..., :3].mean():.3f} / {inside[..., 3:].mean():.3f}",
        f"{width[:3].mean():.2f} / {width[3:].mean():.2f}",
        f"{1e3 * np.median(oracle[:, :3]):.1f} µm / {np.degrees(np.median(oracle[:, 3:])):.3f}°",
        count_alarms(still),
        f"{missed} of {moved}",
        f"{np.sqrt(np.mean([f['scale_z'] ** 2 for f in found])):.2f}",  # type: ignore[operator]
        f"{np.median([f['seconds'] for f in found]):.2f} s",  # type: ignore[arg-type]
    ]
    return "| " + " | ".join(cells) + " |"


def count_alarms(still: list[dict[str, object]]) -> str:
    """Unmoved casts with an alarm, of how many, with the exact binomial interval."""
    alarms = sum(bool(f["told"]) for f in still)
    if not still:
        return "-"
    bounds = binomtest(alarms, len(still)).proportion_ci(0.95)
    return f"{alarms} of {len(still)} ({bounds.low:.3f} to {bounds.high:.3f})"


def tell_all(found: list[dict[str, object]]) -> None:
    print(HEAD)
    print("| --- " * 11 + "|")
    ways = sorted({_way(f) for f in found})
    for way in ways:
        every = [f for f in found if _way(f) == way]
        name = _name(way)
        for kind, error in enumerate(KINDS):
            mine = [f for f in every if f["kind"] == kind]
            if len(mine) > 1:
                print(tell(name, error, mine))
    for way in ways:
        print(f"\n{_name(way)}, all kinds: {pool([f for f in found if _way(f) == way])}")


def _way(found: dict[str, object]) -> tuple[str, float, int, float, bool]:
    how, scale, grid = str(found["how"]), float(found["scale"]), int(found["grid"])  # type: ignore[arg-type, call-overload]
    return how, scale, grid, float(found.get("repeatability_um", 0.0)), found["kind"] in STRONG  # type: ignore[arg-type]


def _name(way: tuple[str, float, int, float, bool]) -> str:
    how, scale, grid, declared, _ = way
    name = f"{how}, scale {100 * scale:g} %" + (f", grid {grid}" if how == "scans" else "")
    return name + (f", repeatability {declared:g} µm" if declared else "")


def pool(found: list[dict[str, object]]) -> str:
    """Coverage and width over all kinds of error: one over the rms of error over u is the width over the oracle's."""
    errors, u = np.array([f["errors"] for f in found]), np.array([f["u"] for f in found])
    told = []
    for name, axes in (("shift", slice(0, 3)), ("turn", slice(3, 6))):
        z = errors[..., axes] / u[..., axes]
        by_scan = (np.abs(z) < 1.96).mean(axis=(1, 2))
        covered = f"{by_scan.mean():.3f} ± {2 * by_scan.std() / np.sqrt(len(by_scan)):.3f}"
        told.append(f"{name} covered {covered}, width {1 / np.sqrt((z**2).mean()):.2f}")
    alarms = count_alarms([f for f in found if not f["moved"]])
    return f"{len(found)} scans, {', '.join(told)}; false alarms {alarms} of the unmoved."


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("how", choices=("cells", "scans", "tell"))
    parser.add_argument("file", type=Path)
    parser.add_argument("--limit-s", type=float, default=600.0, help="processor seconds after which to stop")
    parser.add_argument("--scans", type=int, default=132, help="for each kind of error")
    parser.add_argument("--kinds", type=int, nargs="*", default=USUAL, help="numbers of the kinds of error")
    parser.add_argument("--strong", action="store_const", dest="kinds", const=STRONG, help="errors of 15 to 20 µm")
    parser.add_argument("--repeatability-um", type=float, default=0.0, help="declared, and true of every scan")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--scale", type=float, default=0.001, help="of the lattice, as a fraction")
    parser.add_argument("--grid", type=int, default=GRID, help="of the meshes: vertices across a crown")
    asked = parser.parse_args()
    lines = asked.file.read_text(encoding="utf-8").splitlines() if asked.file.exists() else []
    found = [json.loads(line) for line in lines]
    if asked.how != "tell":
        found += run(asked, {_key(f) for f in found})
    tell_all(found)


def run(asked: argparse.Namespace, done: set[tuple[object, ...]]) -> list[dict[str, object]]:
    """Check what the file does not hold yet, until the time is up."""
    cells = Cells(asked.scale, asked.repeatability_um) if asked.how == "cells" else None
    grid = 27 if cells else asked.grid
    found: list[dict[str, object]] = []
    with asked.file.open("a", encoding="utf-8") as out:
        for n, kind in product(range(asked.scans), asked.kinds):
            seed, error = asked.first_seed + 1000 * kind + n, KINDS[kind]
            head = {"how": asked.how, "seed": seed, "kind": kind, "scale": asked.scale, "grid": grid}
            head["repeatability_um"] = asked.repeatability_um
            if _key(head) in done:
                continue
            if time.process_time() > asked.limit_s:
                break
            moves = draw_moves(seed)
            row = cells.check(seed, error, moves) if cells else check_scans(seed, error, moves, asked)
            out.write(json.dumps(head | row) + "\n")
            out.flush()
            found.append(head | row)
    return found


def _key(row: dict[str, object]) -> tuple[object, ...]:
    return (*(row[k] for k in ("how", "seed", "scale", "grid")), row.get("repeatability_um", 0.0))


if __name__ == "__main__":
    main()
