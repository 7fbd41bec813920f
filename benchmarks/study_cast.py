"""Do the cast check's intervals cover, how wide are they, how often does it cry wolf: thousands of units with known truth.

Run: ``python benchmarks/study_cast.py [n_scans [first_seed]]``; the default is 132 scans (1848 units) for each kind of
scan error, seeds from 40000, not used while the method was made. Half of the scans hold three moved units of fourteen
(0.02 to 0.3 mm, up to 0.6 degree), all have a lattice scale of 0.1 %. Crowns come as patches near their place, so that
only the search for the pose is left out; ``bench_cast.py`` has that in it. Bars: coverage .93 to .97, width at most 1.3
times that of the oracle (1.96 times the true standard deviation of the estimate, found over the scans), false alarms at
most 5 % of unmoved casts.
"""

import sys
import time
from dataclasses import dataclass, field

import numpy as np
from unit_patches import TEETH, Array, Error, PatchScene, draw_patches

from seatwright.cast import CastResult
from seatwright.cast._check import judge_units, measure_units
from seatwright.cast._pose import GlobalPose
from seatwright.cast._question import CastQuestion
from seatwright.cast._result import Overlap
from seatwright.mesh import index_surface

SCALE = 0.001
ERRORS = (
    Error(10.0, 0.0, 1.0),
    Error(7.0, 5.0, 0.5),
    Error(7.0, 5.0, 1.5),
    Error(7.0, 5.0, 4.0),
)


@dataclass
class Tally:
    """What was found on the scans of one kind of error, in rows of scans."""

    errors: list[Array] = field(default_factory=list)
    """(n_units, 6): shift mm and turn rad, found less true."""
    u: list[Array] = field(default_factory=list)
    alarms: list[bool] = field(default_factory=list)
    missed: int = 0
    moved: int = 0
    scale_z: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)


def check(scene: PatchScene) -> CastResult:
    """The cast check from a pose that is given, since patches show no arch to search for."""
    pose = GlobalPose(
        np.eye(4),
        index_surface(scene.reference),
        index_surface(scene.poured),
        Overlap(1.0, 1.0, 1, 1, 0.3, 0.0, 1.0, 0.05),
    )
    measured = measure_units(pose, scene.regions, repeatability_um=0.0)
    assert measured is not None
    return judge_units(measured, scene.regions, CastQuestion(), tolerance_um=50.0, repeatability_um=0.0)


def draw_moves(rng: np.random.Generator, n: int) -> dict[int, tuple[Array, Array]]:
    moves = {}
    for k in rng.choice(len(TEETH), n, replace=False):
        shift, turn = rng.normal(size=(2, 3))
        moves[int(k)] = (
            shift / np.linalg.norm(shift) * rng.uniform(0.02, 0.3),
            turn / np.linalg.norm(turn) * rng.uniform(0, 0.01),
        )
    return moves


def study(error: Error, n_scans: int, first_seed: int) -> Tally:
    tally = Tally()
    for number in range(n_scans):
        seed = first_seed + number
        moves = draw_moves(np.random.default_rng(seed), 3 if number % 2 else 0)
        scene = draw_patches(seed, error, scale=SCALE, moved=moves)
        start = time.process_time()
        result = check(scene)
        tally.seconds.append(time.process_time() - start)
        middle = np.mean([r.centroid_mm for r in scene.regions], axis=0)
        # the raw frame is told about the mean place of the stable units, the truth about that of all
        raw = scene.shifts + SCALE * (middle - result.frame_center_mm)
        off = [
            np.concatenate([u.shift_mm - raw[k], np.radians(u.turn_deg) - scene.turns[k]])
            for k, u in enumerate(result.units)
        ]
        tally.errors.append(np.array(off))
        tally.u.append(np.array([np.sqrt(np.diag(u.covariance)) for u in result.units]))
        told = {k for k, u in enumerate(result.units) if u.is_moved}
        if moves:
            tally.moved += len(moves)
            tally.missed += len(set(moves) - told)
        else:
            tally.alarms.append(bool(told))
        tally.scale_z.append((result.scale.value - SCALE) / result.scale.u)
    return tally


def tell(error: Error, tally: Tally) -> str:
    errors, u = np.array(tally.errors), np.array(tally.u)
    inside = np.abs(errors) < 1.96 * u
    by_scan = inside.mean(axis=(1, 2))
    oracle = np.sqrt((errors**2).mean(axis=0))
    width = np.median(np.sqrt((u**2).mean(axis=0)) / oracle, axis=0)
    kind = f"{error.independent_um:g} µm"
    if error.correlated_um:
        kind += f" + {error.correlated_um:g} µm over {error.length_mm:g} mm"
    cells = [
        kind,
        f"{errors.shape[0]} / {errors.shape[0] * errors.shape[1]}",
        f"{inside.mean():.3f} ± {2 * by_scan.std(ddof=1) / np.sqrt(len(by_scan)):.3f}",
        f"{inside[..., :3].mean():.3f} / {inside[..., 3:].mean():.3f}",
        f"{width[:3].mean():.2f} / {width[3:].mean():.2f}",
        f"{1e3 * np.median(oracle[:, :3]):.1f} µm / {np.degrees(np.median(oracle[:, 3:])):.3f}°",
        f"{sum(tally.alarms)} of {len(tally.alarms)}",
        f"{tally.missed} of {tally.moved}",
        f"{np.sqrt(np.mean(np.square(tally.scale_z))):.2f}",
        f"{np.median(tally.seconds):.2f} s",
    ]
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| scan error of each scan | scans / units | coverage, ± 2 s.e. by scan | shift / turn | width over oracle, shift / turn "
    "| true s.d., shift / turn | false alarms, unmoved casts | moved units missed | rms of scale error over u | processor |"
)


def main(n_scans: int, first_seed: int) -> None:
    print(HEAD)
    print("| --- " * 10 + "|", flush=True)
    alarms: list[bool] = []
    for kind, error in enumerate(ERRORS):
        tally = study(error, n_scans, first_seed + 1000 * kind)
        alarms += tally.alarms
        print(tell(error, tally), flush=True)
    print(f"\nFalse alarms over all kinds: {sum(alarms)} of {len(alarms)} unmoved casts ({np.mean(alarms):.3f}).")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 132, int(sys.argv[2]) if len(sys.argv) > 2 else 40000)
