"""Sweeping paths and the window of a rigid part, against their bars and against general-purpose ray casters.

Run: ``python benchmarks/bench_window.py [PEERS_PYTHON [grid_mm [FOLDER_OF_SCANS]]]``. The peers live in an environment of their own, made by
``python -m venv peers && peers/bin/pip install open3d==0.20.0 trimesh==5.2.0 embreex rtree scipy``; then PEERS_PYTHON is
``peers/bin/python``. Without it only this project is measured. What is compared is the volume under overhangs (a depth, not mere
occlusion): this project sweeps 1000 paths on a coarse copy and measures the best 30 on the full mesh; the peers cast rays on the full
mesh, at the cell width where their volumes are as good, for some of the 1000 paths, and are scaled up. Data is generated; with a folder of scans its PLY
files in mm are swept too, and nothing else is done.
"""

import json
import math
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.demo import make_demo_case
from seatwright.files import read_surface
from seatwright.mesh import Surface, coarsen_surface, find_block, join_vertices, prepare_withdrawal, sweep_voids
from seatwright.survey import find_part_window
from seatwright.survey._admitted import even_directions
from seatwright.survey._window import search_cone

HERE = Path(__file__).resolve()
X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)


def best_of(n: int, work: object) -> tuple[float, object]:
    times, result = [], None
    for _ in range(n):
        start = time.perf_counter()
        result = work()  # type: ignore[operator]
        times.append(time.perf_counter() - start)
    return min(times), result


def bench_sweep(surface: Surface, peers: str | None, jaw: float = 1.0) -> None:
    ways, _ = even_directions([search_cone(OcclusalFrame(jaw * Z, Y, X), 20.0)])
    about = surface.vertices_mm.mean(axis=0)[None]
    size = {"centers_mm": about, "radius_mm": 60.0}
    sweep_voids(coarsen_surface(surface, 2.0), ways[:2], pitch_mm=0.5, **size)
    whole, coarse = best_of(3, lambda: sweep_voids(coarsen_surface(surface, 0.6), ways, pitch_mm=0.2, **size))
    kept = ways[np.argsort(coarse.near_mm3[:, 0])[:30]]
    fine, full = best_of(3, lambda: sweep_voids(surface, kept, pitch_mm=0.05, **size))
    truth = sweep_voids(surface, kept[:5], pitch_mm=0.02, **size).near_mm3[:, 0]
    print(f"{len(ways)} paths, coarse: {whole:.2f} s (bar 4 s)")
    print(f"best 30, full mesh of {surface.n_faces} faces: {fine:.2f} s (bar 4 s)")
    error = np.abs(full.near_mm3[:5, 0] / truth - 1).max()
    print(f"block-out volume against cells of 0.02 mm: {100 * error:.2f} % at 0.05 mm (bar 2 %)")
    same = sweep_voids(surface, ways[::20], pitch_mm=0.1, **size).near_mm3[:, 0]
    ranks = [np.argsort(np.argsort(v)) for v in (coarse.near_mm3[::20, 0], same)]
    print(f"coarse against full over {len(same)} paths: rank correlation {np.corrcoef(*ranks)[0, 1]:.4f}")
    if peers is None:
        return
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "surface.npz"
        np.savez(file, vertices=surface.vertices_mm, faces=surface.faces, directions=ways[::200], pitch=0.2)
        ran = subprocess.run(
            [peers, str(HERE.with_name("peers_window.py")), str(file)], capture_output=True, text=True, check=True
        )
    found = json.loads(ran.stdout.strip().splitlines()[-1])
    own = sweep_voids(surface, ways[::200], pitch_mm=0.02, **size)
    reference = own.near_mm3[:, 0] + own.elsewhere_mm3
    for name, told in found.items():
        seconds = told["seconds_a_direction"] * len(ways)
        volumes = np.array(told["volumes_mm3"])
        off = (
            f", volume off by {100 * np.abs(volumes / reference[: len(volumes)] - 1).max():.2f} %"
            if len(volumes)
            else ""
        )
        scaled = f"{told['n_measured']} paths measured, {100 * told['share']:.0f} % of the rays"
        print(
            f"{name}: {seconds:.0f} s for {len(ways)} paths, {seconds / (whole + fine):.0f} times as long{off} ({scaled})"
        )


def taper(gap_mm: float, n: int, rows: int) -> Surface:
    """A die of 6 degrees, 6 mm high, or a cap that stands a gap off it: wall and top."""
    angle = math.radians(6.0)
    shares = np.linspace(0.0, 1.0, rows)
    radii = 4.0 - 6.0 * math.tan(angle) * shares + gap_mm * math.cos(angle)
    heights = 6.0 * shares + gap_mm * math.sin(angle)
    inner = np.linspace(radii[-1], 0.01, rows // 2)[1:]
    radii, heights = np.concatenate([radii, inner]), np.concatenate([heights, np.full(len(inner), heights[-1])])
    turns = np.linspace(0, 2 * math.pi, n, endpoint=False)
    rings = [
        np.column_stack([r * np.cos(turns), r * np.sin(turns), np.full(n, z)])
        for r, z in zip(radii, heights, strict=True)
    ]
    k, faces = np.arange(n), []
    for ring in range(len(radii) - 1):
        one, other = ring * n + k, ring * n + (k + 1) % n
        faces += [np.column_stack([one, other, one + n]), np.column_stack([other, other + n, one + n])]
    return Surface(np.vstack(rings), np.vstack(faces))


def bench_window() -> None:
    die, cap = taper(0.0, 480, 220), taper(0.03, 430, 226)
    prepared, pair = best_of(1, lambda: prepare_withdrawal(die, cap))
    find_block(pair, Z)
    free, _ = best_of(5, lambda: find_block(pair, Z))
    near, _ = best_of(5, lambda: find_block(pair, np.array([math.tan(math.radians(6.2)), 0.0, 1.0])))
    print(
        f"cap of {cap.n_faces} on a die of {die.n_faces} faces: prepared in {prepared:.2f} s, one free path {free:.3f} s, near its limit {near:.3f} s"
    )
    seconds, window = best_of(1, lambda: find_part_window(pair, FRAME, 20.0))
    reach = np.degrees(np.arccos(window.regions[0].outline @ Z))  # type: ignore[attr-defined]
    print(
        f"its window: {seconds:.1f} s; edge {min(reach):.3f} to {max(reach):.3f} degrees, closed form 6.285 (bar 0.3)"
    )


def main() -> None:
    peers = sys.argv[1] if len(sys.argv) > 1 and sys.argv[1] != "-" else None
    grid = float(sys.argv[2]) if len(sys.argv) > 2 else 0.295
    if len(sys.argv) > 3:
        for name in ("lower_cast.ply", "upper_cast.ply"):
            print(f"\n{name}")
            cast = join_vertices(read_surface(Path(sys.argv[3]) / name, length_unit="mm"))[0]
            bench_sweep(cast, peers, jaw=-1.0 if name.startswith("upper") else 1.0)
        return
    scan = make_demo_case(grid_mm=grid).scans["scans/reference.ply"]
    bench_sweep(scan.surface(), peers)
    bench_window()


if __name__ == "__main__":
    main()
