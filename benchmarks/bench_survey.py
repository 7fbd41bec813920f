"""Undercuts along one path: accuracy against closed forms, and speed beside general-purpose ray casters in one run.

Run: ``python benchmarks/bench_survey.py [FOLDER_OF_SCANS]``. Peers are optional; what is not installed is left out:
``python -m venv peers && peers/bin/pip install -e . rtree embreex open3d && peers/bin/python
benchmarks/bench_survey.py``. Bars: 200k triangles <= 0.15 s display, <= 0.35 s gauge; 1M <= 0.6 s; error p99 <= 10 µm.
No peer measures an undercut; each casts upright rays at 24 azimuths, 20 steps and 5 halvings, for the vertices that
an upright ray finds covered. They do not ask whether the gauge's head can reach the point level.
"""

import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh
from generated_arch import Arch
from scipy.spatial.transform import Rotation

from seatwright.files import read_surface
from seatwright.mesh import Surface, join_vertices
from seatwright.survey import Quality, UndercutFlag, block_out, make_path, measure_undercut, trace_survey_lines

LIMIT = 2.0
TILTED = (0.15, 0.1, -1.0)
PLAIN, ONE_IN = "trimesh with rtree, 1 in 400", 400  # too slow for all: some of the vertices, seconds scaled up
Occluded = Callable[[np.ndarray, np.ndarray], np.ndarray]


def least(call: Callable[[], object], n: int = 3) -> tuple[float, float]:
    """Least wall and processor seconds of some runs after one that is not counted."""
    call()
    walls, busy = [], []
    for _ in range(n):
        start, used = time.perf_counter(), time.process_time()
        call()
        walls.append(time.perf_counter() - start)
        busy.append(time.process_time() - used)
    return min(walls), min(busy)


def ball(subdivisions: int) -> tuple[Surface, np.ndarray]:
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=5.0)
    surface = Surface(np.array(made.vertices), np.array(made.faces))
    up = -np.array(TILTED) / np.linalg.norm(TILTED)
    height = surface.vertices_mm @ up
    aside = np.linalg.norm(surface.vertices_mm - height[:, None] * up, axis=1)
    return surface, np.where(height < -1e-9, 5 - aside, 0.0)


def revolved(outline: np.ndarray, n: int) -> Surface:
    made = trimesh.creation.revolve(outline, sections=n)
    made.fix_normals()
    return Surface(np.array(made.vertices), np.array(made.faces))


def torus() -> tuple[Surface, np.ndarray]:
    made = trimesh.creation.torus(8.0, 2.5, major_sections=700, minor_sections=150)
    surface = Surface(np.array(made.vertices), np.array(made.faces))
    aside = np.hypot(*surface.vertices_mm[:, :2].T)
    return surface, np.where(surface.vertices_mm[:, 2] < -1e-9, np.minimum(10.5 - aside, aside - 5.5), 0.0)


def cone() -> tuple[Surface, np.ndarray]:
    wall = np.stack([np.linspace(1, 4, 70), np.linspace(0, 6, 70)], 1)
    surface = revolved(np.vstack([[[0, 0]], wall, [[0, 6]]]), 1440)
    aside = np.hypot(*surface.vertices_mm[:, :2].T)
    return surface, np.where(surface.vertices_mm[:, 2] < 6 - 1e-9, 4 - aside, 0.0)


def leaning_cylinder() -> tuple[Surface, np.ndarray]:
    wall = np.stack([np.full(301, 3.0), np.linspace(-30, 30, 301)], 1)
    upright = revolved(np.vstack([[[0, -30]], wall, [[0, 30]]]), 360)
    lean = Rotation.from_euler("y", 65, degrees=True)
    points = lean.apply(np.array(upright.vertices_mm))
    amid = np.abs(upright.vertices_mm[:, 2]) < 8
    under = (upright.vertices_mm[:, :2] @ lean.inv().apply([0, 0, 1.0])[:2]) < -1e-9
    truth = np.where(amid, np.where(under, 3 - np.abs(points[:, 1]), 0.0), np.inf)
    return Surface(points, upright.faces), truth


def tell_accuracy() -> None:
    print(
        f"{'error, µm':22s}{'faces':>9s}{'undercut':>10s}{'gauge p50':>11s}{'p99':>8s}{'largest':>9s}{'display p99':>13s}"
    )
    down = make_path((0.0, 0.0, -1.0))
    cases = {"ball, tilted path": (*ball(6), make_path(TILTED)), "torus": (*torus(), down), "cone": (*cone(), down)}
    cases["leaning cylinder"] = (*leaning_cylinder(), down)
    for name, (surface, truth, path) in cases.items():
        counted = truth < 0.98 * LIMIT
        row = []
        for quality in (Quality.GAUGE, Quality.DISPLAY):
            field = measure_undercut(surface, path, max_undercut_mm=LIMIT, quality=quality)
            row.append(1e3 * np.abs(field.undercut_mm - truth)[counted])
        gauge, display = row
        n_under = int((counted & (truth > 0)).sum())
        print(
            f"{name:22s}{surface.n_faces:9d}{n_under:10d}{np.percentile(gauge, 50):11.3f}{np.percentile(gauge, 99):8.3f}"
            f"{gauge.max():9.3f}{np.percentile(display, 99):13.2f}"
        )


def peers(surface: Surface) -> dict[str, tuple[Occluded, float]]:
    """Any-hit tests of the peers that are installed, with the seconds that each took to build."""
    found: dict[str, tuple[Occluded, float]] = {}
    mesh = trimesh.Trimesh(surface.vertices_mm, surface.faces, process=False)
    if importlib.util.find_spec("embreex"):
        from trimesh.ray import ray_pyembree

        start = time.perf_counter()
        caster = ray_pyembree.RayMeshIntersector(mesh)
        caster.intersects_any(np.zeros((1, 3)), np.array([[0, 0, 1.0]]))
        found["trimesh with embreex"] = (caster.intersects_any, time.perf_counter() - start)
        scene = caster._scene  # noqa: SLF001 - the library's own door would copy every ray

        def any_hit(origins: np.ndarray, directions: np.ndarray) -> np.ndarray:
            return scene.run(origins.astype(np.float32), directions.astype(np.float32), query="OCCLUDED") >= 0

        found["embreex"] = (any_hit, found["trimesh with embreex"][1])
    if importlib.util.find_spec("rtree"):
        from trimesh.ray import ray_triangle

        start = time.perf_counter()
        plain = ray_triangle.RayMeshIntersector(mesh)
        plain.intersects_any(np.zeros((1, 3)), np.array([[0, 0, 1.0]]))
        found[PLAIN] = (plain.intersects_any, time.perf_counter() - start)
    if importlib.util.find_spec("open3d"):
        import open3d as o3d

        start = time.perf_counter()
        space = o3d.t.geometry.RaycastingScene()
        space.add_triangles(surface.vertices_mm.astype(np.float32), surface.faces.astype(np.uint32))

        def occluded(origins: np.ndarray, directions: np.ndarray) -> np.ndarray:
            rays = np.hstack([origins, directions]).astype(np.float32)
            return space.test_occlusions(o3d.core.Tensor(rays)).numpy()

        occluded(np.zeros((1, 3)), np.array([[0, 0, 1.0]]))
        found["open3d RaycastingScene"] = (occluded, time.perf_counter() - start)
    return found


def depth_by_rays(points: np.ndarray, up: np.ndarray, occluded: Occluded) -> np.ndarray:
    """Undercut of each point from upright rays alone: march outwards, then halve the last step."""
    right = np.cross([0.31, 0.47, 0.83], up)
    right /= np.linalg.norm(right)
    ahead = np.cross(up, right)

    def hidden(at: np.ndarray) -> np.ndarray:
        return occluded(at + 1e-4 * up, np.broadcast_to(up, at.shape).copy())

    depth = np.zeros(len(points))
    under = np.flatnonzero(hidden(points))
    if not len(under):
        return depth
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    aside = np.cos(angles)[:, None] * right + np.sin(angles)[:, None] * ahead
    low, high = np.zeros((len(under), 24)), np.full((len(under), 24), np.inf)
    for r in np.linspace(0, LIMIT, 21)[1:]:
        rows, columns = np.nonzero(np.isinf(high) & (np.isinf(high).all(axis=1))[:, None])
        if not len(rows):
            break
        covered = hidden(points[under[rows]] + r * aside[columns])
        low[rows[covered], columns[covered]] = r
        high[rows[~covered], columns[~covered]] = r
    for _ in range(5):
        rows, columns = np.nonzero(np.isfinite(high))
        middle = (low[rows, columns] + high[rows, columns]) / 2
        covered = hidden(points[under[rows]] + middle[:, None] * aside[columns])
        low[rows[covered], columns[covered]] = middle[covered]
        high[rows[~covered], columns[~covered]] = middle[~covered]
    depth[under] = np.minimum(high.min(axis=1), LIMIT)
    return depth


def tell_speed(name: str, surface: Surface, *, with_peers: bool) -> None:
    path = make_path(TILTED)
    up = np.array(path.withdraw_direction)
    print(f"\n{name}: {surface.n_faces} triangles, {surface.n_vertices} vertices")
    fields = {}
    for quality in Quality:
        wall, busy = least(lambda q=quality: fields.update({q: measure_undercut(surface, path, quality=q)}))
        counts = np.bincount(fields[quality].flags, minlength=len(UndercutFlag))
        print(
            f"  {quality.value + ' quality':34s}{wall:7.3f} s wall {busy:7.3f} s busy   "
            f"undercut {counts[UndercutFlag.MEASURED]}, deeper {counts[UndercutFlag.BEYOND]}"
        )
    exact = fields[Quality.GAUGE]
    wall, busy = least(lambda: trace_survey_lines(exact), 1)
    print(f"  {'survey lines':34s}{wall:7.3f} s wall {busy:7.3f} s busy")
    wall, busy = least(lambda: block_out(exact), 1)
    print(f"  {'block-out, parallel, .1 mm':34s}{wall:7.3f} s wall {busy:7.3f} s busy")
    for peer, (occluded, build) in (peers(surface) if with_peers else {}).items():
        every = ONE_IN if peer == PLAIN else 1
        some = surface.vertices_mm[::every]
        origins, directions = some + 1e-4 * up, np.broadcast_to(up, some.shape).copy()
        seen, _ = least(lambda o=occluded, a=origins, d=directions: o(a, d), 1)
        start = time.perf_counter()
        depth = depth_by_rays(some, up, occluded)
        wall = time.perf_counter() - start
        both = (exact.flags[::every] == UndercutFlag.MEASURED) & (depth > 0) & (depth < LIMIT)
        away = 1e3 * np.abs(depth - exact.undercut_mm[::every])[both]
        print(
            f"  {peer:34s}{build:7.3f} s build, {every * seen:.3f} s which are covered, {every * wall:.3f} s depth; "
            f"from gauge: p50 {np.percentile(away, 50):.1f}, p90 {np.percentile(away, 90):.1f} µm"
        )


def main(scans: Path | None) -> None:
    tell_accuracy()
    tell_speed("generated arch", Surface(*Arch(seed=3).mesh(1000, 101)), with_peers=True)
    tell_speed("ball", ball(7)[0], with_peers=False)
    tell_speed("generated arch", Surface(*Arch(seed=3).mesh(2500, 201)), with_peers=False)
    for name in ("lower_cast.ply", "upper_cast.ply") if scans else ():
        cast = join_vertices(read_surface(scans / name, length_unit="mm"))[0]
        tell_speed(name, cast, with_peers=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
