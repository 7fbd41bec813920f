"""The cast check beside general-purpose pipelines, its parts against their bars, and how it grows with the scans.

Run: ``python benchmarks/bench_cast_peers.py [PEERS_PYTHON] [--scans n] [--parts poses distance growth]``. The peers live in an environment of their own, made by
``python -m venv peers && peers/bin/pip install open3d==0.20.0 small_gicp==1.0.1 trimesh==5.2.0 rtree scipy``;
then PEERS_PYTHON is ``peers/bin/python``. Without it only this project is measured. Peers register the whole scan and
tell no single unit; all start from arrays in memory. TRE: root mean square registration error over the reference's
vertices. Seeds start at 201 (not used in tuning).
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from bench_cast import TEETH
from generated_arch import Scene, draw_scene

from seatwright.arch import SeedRegion, assign_regions
from seatwright.cast import check_cast
from seatwright.cast._pose import MOST_SCALE_MM, find_global_pose
from seatwright.cast._pose_by_units import agree_on_pose
from seatwright.cast._units import fit_units
from seatwright.mesh import (
    CoarsePlan,
    Surface,
    index_surface,
    measure_signed_distance,
    measure_vertex_normals,
    search_poses,
)

HERE = Path(__file__).resolve()
SIZES = ((250, 50), (354, 71), (500, 100), (707, 141), (1000, 200), (1414, 283), (1600, 320))


def check_scene(scene: Scene) -> dict[str, float]:
    """Seconds of the whole check, of the pose alone and of the units alone, and the registration error."""
    start = time.perf_counter()
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    regions = assign_regions(reference, [SeedRegion(t, s, 3.5) for t, s in zip(TEETH, scene.seeds, strict=True)])
    made, busy = time.perf_counter(), time.process_time()
    result = check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=0)
    done, busy = time.perf_counter(), time.process_time() - busy
    coarse = search_poses(reference, poured, plan=CoarsePlan(), wide=False)
    agreed = agree_on_pose((reference, poured), regions, coarse[0].T_fixed_moving, most_scale_mm=MOST_SCALE_MM)
    refined = time.perf_counter()
    pose = find_global_pose(reference, poured, regions)
    posed = time.perf_counter()
    fit_units(pose, regions)
    fitted = time.perf_counter()
    return {
        "load_s": made - start, "check_s": done - made, "processor_s": busy, "pose_s": refined - done,
        "tested_pose_s": posed - refined, "units_s": fitted - posed, "rest_s": (done - made) - (fitted - refined),
        "tre_um": scene.target_error_um(result.T_reference_poured),
        "pose_tre_um": scene.target_error_um(agreed.T_reference_poured) if agreed else np.nan,
        "tested_tre_um": scene.target_error_um(pose.T_reference_poured),
    }  # fmt: skip


def ask_peers(python: str, what: str, scene: Scene, queries: np.ndarray) -> dict[str, dict[str, object]]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scans.npz"
        (rv, rf), (pv, pf) = scene.reference, scene.poured
        np.savez(file, reference_v=rv, reference_f=rf, poured_v=pv, poured_f=pf, queries=queries)
        order = [python, HERE.parent / "peers_cast.py", file, what]
        ran = subprocess.run(order, capture_output=True, text=True, check=True)
    return json.loads(ran.stdout.splitlines()[-1])


def bench_poses(python: str | None, n_scans: int) -> None:
    conditions = {
        "swollen gum, 4 of 14 units moved": {"swelling": 0.05},
        "gum as before, 4 of 14 moved": {"swelling": 0.0},
        "nothing changed": {"swelling": 0.0, "n_moved": 0},
    }
    print(
        f"\npose of a 200k-vertex scan on another, 10 µm independent noise, {n_scans} scans each; TRE in µm (rms over the scans), then s (median)"
    )
    print(f"{'':46s}" + "".join(f"{name:>34s}" for name in conditions))
    rows: dict[str, list[list[tuple[float, float]]]] = {}
    parts: list[dict[str, float]] = []
    for column, condition in enumerate(conditions.values()):
        for seed in range(201, 201 + n_scans):
            scene = draw_scene(seed, **condition)
            own = check_scene(scene)
            parts.append(own)
            found = {"this: whole check with units": (own["tre_um"], own["check_s"])}
            found["this: pose by the units that agree"] = (own["pose_tre_um"], own["pose_s"])
            found["this: the same with trees and what refuses"] = (own["tested_tre_um"], own["tested_pose_s"])
            if python:
                for name, peer in ask_peers(python, "poses", scene, scene.reference[0]).items():
                    found[name] = (scene.target_error_um(np.array(peer["T"])), float(str(peer["seconds"])))
            for name, pair in found.items():
                rows.setdefault(name, [[] for _ in conditions])[column].append(pair)
    for name, columns in rows.items():
        cells = [(np.sqrt(np.mean(t**2)), np.median(s)) for t, s in (np.array(c).T for c in columns)]
        print(f"{name:46s}" + "".join(f"{c[0]:24.2f}{c[1]:10.2f}" for c in cells))
    print("\nparts, medians, s: " + ", ".join(f"{k} {np.median([p[k] for p in parts]):.2f}" for k in parts[0]))


def bench_distance(python: str | None) -> None:
    """Signed distance of 200k points 150 µm or less off the surface, against 400k triangles, tree included."""
    scene = draw_scene(201)
    surface = Surface(*scene.reference)
    rng = np.random.default_rng(1)
    offset = rng.uniform(-0.15, 0.15, (surface.n_vertices, 1))
    queries = (surface.vertices_mm + offset * measure_vertex_normals(surface))[rng.permutation(surface.n_vertices)]
    start = time.perf_counter()
    signed, is_defined = measure_signed_distance(index_surface(surface), queries, limit_mm=1.0)
    print(f"\nsigned distance, {len(queries)} points, {surface.n_faces} triangles, tree included")
    print(f"{'this':34s}{time.perf_counter() - start:12.2f} s")
    for name, peer in (ask_peers(python, "distance", scene, queries) if python else {}).items():
        theirs = np.array(peer["first"], dtype=float)
        every = 1 if name == "open3d" else 10
        known = is_defined[::every][: len(theirs)]
        mine = signed[::every][: len(theirs)] if name == "open3d" else np.abs(signed[::every][: len(theirs)])
        apart = 1e3 * float(np.quantile(np.abs(mine - theirs)[known], 0.99))
        print(f"{name:34s}{float(str(peer['seconds'])):12.2f} s   99 % within {apart:.2f} µm of this")


def bench_growth() -> None:
    print(
        "\ngrowth, one process each\n"
        f"{'vertices':>10s}{'triangles':>11s}{'s':>8s}{'cpu s':>8s}{'MB':>7s}{'cpu ns / (n log2 n)':>22s}{'TRE µm':>9s}"
    )
    for n_u, n_v in SIZES:
        ran = subprocess.run(
            [sys.executable, HERE, "--one", str(n_u), str(n_v)], capture_output=True, text=True, check=True
        )
        print(ran.stdout, end="", flush=True)


def run_one(n_u: int, n_v: int) -> None:
    check_scene(draw_scene(1, n_u=300, n_v=80))
    scene = draw_scene(201, n_u=n_u, n_v=n_v)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    own = check_scene(scene)
    n, m = len(scene.reference[0]), len(scene.reference[1])
    memory = max(before, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3)
    rate = 1e9 * own["processor_s"] / (n * np.log2(n))
    print(f"{n:10d}{m:11d}{own['check_s']:8.2f}{own['processor_s']:8.2f}{memory:7.0f}{rate:22.0f}{own['tre_um']:9.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("python", nargs="?", help="interpreter with the peers")
    parser.add_argument("--scans", type=int, default=3)
    parser.add_argument("--parts", nargs="*", default=["poses", "distance", "growth"])
    parser.add_argument("--one", type=int, nargs=2, help="a single size, in a process of its own")
    asked = parser.parse_args()
    if asked.one:
        run_one(*asked.one)
        return
    check_scene(draw_scene(1, n_u=300, n_v=80))
    if "poses" in asked.parts:
        bench_poses(asked.python, asked.scans)
    if "distance" in asked.parts:
        bench_distance(asked.python)
    if "growth" in asked.parts:
        bench_growth()


if __name__ == "__main__":
    main()
