"""General-purpose ray casters on the surface that `bench_window.py` wrote; run by it, in an environment of its own.

Reads ``FILE.npz`` (vertices, faces, directions, pitch), casts one ray down each cell of a grid on the full mesh, takes all hits, and
adds up the hollows under overhangs as the project does. Prints one JSON object: seconds a direction and volumes. Imports nothing of
this project.
"""

import json
import sys
import time
from collections.abc import Callable

import numpy as np
import open3d as o3d
import trimesh
from trimesh.ray import ray_pyembree, ray_triangle

Hits = tuple[np.ndarray, np.ndarray, np.ndarray]


def frame_of(up: np.ndarray) -> np.ndarray:
    side = np.array([0.0, 1.0, 0.0]) if abs(up[1]) < 0.9 else np.array([0.0, 0.0, 1.0])
    right = np.cross(side, up)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(up, right), up])


def measure_hollow(
    vertices: np.ndarray, normals: np.ndarray, up: np.ndarray, pitch: float, *, cast: Callable, share: float
) -> float:
    frame = frame_of(up)
    turned = vertices @ frame.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    x, y = (np.arange(low[k] + 0.38 * pitch, high[k], pitch) for k in (0, 1))
    y = y[: max(1, int(len(y) * share))]
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    origins = np.column_stack([grid, np.full(len(grid), high[2] + 1.0)]) @ frame
    ray, face, travel = cast(origins, np.broadcast_to(-up, origins.shape))
    height = high[2] + 1.0 - travel
    sign = np.where(normals[face] @ up > 0, 1, -1)
    top = np.full(len(grid), -np.inf)
    np.maximum.at(top, ray, height)
    total = np.bincount(ray, sign * height, minlength=len(grid))
    facings = np.bincount(ray, sign, minlength=len(grid))
    balance = 1
    if (facings[np.isfinite(top)] == 0).mean() > 0.5:  # a cast on its base: the lowest surface is the base's underside
        low = np.full(len(grid), np.inf)
        np.minimum.at(low, ray, height)
        total, balance = np.where(np.isfinite(top), total + low, 0.0), 0
    closed = np.isfinite(top) & (facings == balance)
    hollow = np.where(closed, top - total, 0.0)
    return float(hollow[hollow > 1e-4].sum() * pitch * pitch)


def main(path: str) -> None:
    data = np.load(path)
    vertices, faces, pitch = data["vertices"], data["faces"], float(data["pitch"])
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    normals = np.cross(vertices[faces[:, 1]] - vertices[faces[:, 0]], vertices[faces[:, 2]] - vertices[faces[:, 0]])
    scene = o3d.t.geometry.RaycastingScene()
    scene.add_triangles(o3d.core.Tensor(vertices.astype(np.float32)), o3d.core.Tensor(faces.astype(np.uint32)))

    def open3d_hits(origins: np.ndarray, ways: np.ndarray) -> Hits:
        rays = o3d.core.Tensor(np.hstack([origins, ways]).astype(np.float32))
        found = scene.list_intersections(rays)
        return found["ray_ids"].numpy().astype(int), found["primitive_ids"].numpy().astype(int), found["t_hit"].numpy()

    def trimesh_hits(caster: object) -> Callable:
        def cast(origins: np.ndarray, ways: np.ndarray) -> Hits:
            face, ray, at = caster.intersects_id(origins, ways, multiple_hits=True, return_locations=True)  # type: ignore[attr-defined]
            return ray, face, np.einsum("ij,ij->i", at - origins[ray], ways[ray])

        return cast

    peers = {
        "open3d RaycastingScene": (open3d_hits, 1.0, len(data["directions"])),
        "trimesh with embreex": (trimesh_hits(ray_pyembree.RayMeshIntersector(mesh)), 1.0, 3),
        "trimesh rays": (trimesh_hits(ray_triangle.RayMeshIntersector(mesh)), 0.02, 1),
    }
    out = {}
    for name, (cast, share, n) in peers.items():
        ways = data["directions"][:n]
        measure_hollow(vertices, normals, ways[0], pitch * 4, cast=cast, share=0.02)
        start = time.perf_counter()
        volumes = [measure_hollow(vertices, normals, w, pitch, cast=cast, share=share) for w in ways]
        seconds = (time.perf_counter() - start) / n / share
        out[name] = {
            "seconds_a_direction": seconds,
            "volumes_mm3": volumes if share == 1.0 else [],
            "n_measured": n,
            "share": share,
        }
    print(json.dumps(out))


if __name__ == "__main__":
    main(sys.argv[1])
