"""General-purpose pipelines on the scans that `bench_cast_peers.py` wrote; run by it, in an environment of its own.

Reads ``FILE.npz`` (reference and poured vertices and faces, queries) and ``poses`` or ``distance``; prints one JSON object:
seconds and pose, or seconds and first distances, of each pipeline. Imports nothing of this project.
"""

import json
import sys
import time
from collections.abc import Callable

import numpy as np
import open3d as o3d
import small_gicp
import trimesh

REG = o3d.pipelines.registration


def as_mesh(vertices: np.ndarray, faces: np.ndarray) -> o3d.geometry.TriangleMesh:
    mesh = o3d.geometry.TriangleMesh(o3d.utility.Vector3dVector(vertices), o3d.utility.Vector3iVector(faces))
    mesh.compute_vertex_normals()
    return mesh


def as_cloud(mesh: o3d.geometry.TriangleMesh) -> o3d.geometry.PointCloud:
    cloud = o3d.geometry.PointCloud(mesh.vertices)
    cloud.normals = mesh.vertex_normals
    return cloud


def find_coarse(reference: o3d.geometry.PointCloud, poured: o3d.geometry.PointCloud) -> np.ndarray:
    """Features of the surroundings (FPFH), then RANSAC, on points 1 mm apart."""
    thin, features = [], []
    for cloud in (poured, reference):
        few = cloud.voxel_down_sample(1.0)
        thin.append(few)
        features.append(REG.compute_fpfh_feature(few, o3d.geometry.KDTreeSearchParamHybrid(5.0, 100)))
    return REG.registration_ransac_based_on_feature_matching(
        thin[0], thin[1], features[0], features[1], True, 1.5, REG.TransformationEstimationPointToPoint(False), 3,
        [REG.CorrespondenceCheckerBasedOnEdgeLength(0.9), REG.CorrespondenceCheckerBasedOnDistance(1.5)],
        REG.RANSACConvergenceCriteria(100000, 0.999),
    ).transformation  # fmt: skip


def refine_tukey(
    reference: o3d.geometry.PointCloud, poured: o3d.geometry.PointCloud, T: np.ndarray, every: int
) -> np.ndarray:
    """Point to plane with Tukey's weight, wide cuts on few points, then on every so many-th down to 30 µm.

    The library's tensor version gave the same pose to 0.01 µm in more time; wider last cuts gave larger errors, and so
    did points averaged in cells.
    """
    for stride, cut, reach, steps in (
        (max(every, 40), 1.0, 2.0, 30),
        (max(every, 10), 0.3, 0.8, 20),
        (every, 0.1, 0.3, 10),
        (every, 0.06, 0.2, 10),
        (every, 0.03, 0.1, 30),
    ):
        some = poured.uniform_down_sample(stride)
        how = REG.TransformationEstimationPointToPlane(REG.TukeyLoss(cut))
        stop = REG.ICPConvergenceCriteria(1e-9, 1e-9, steps)
        T = REG.registration_icp(some, reference, reach, T, how, stop).transformation
    return T


def refine_gicp(reference: np.ndarray, poured: np.ndarray, T: np.ndarray) -> np.ndarray:
    """Plane to plane on points 0.15 mm apart; the library has no robust weight in Python."""
    for voxel, reach in ((0.5, 2.0), (0.15, 0.5)):
        T = small_gicp.align(
            reference, poured, init_T_target_source=T, registration_type="GICP",
            downsampling_resolution=voxel, max_correspondence_distance=reach, num_threads=2,
        ).T_target_source  # fmt: skip
    return T


def refine_icp(reference: np.ndarray, poured: np.ndarray, T: np.ndarray) -> np.ndarray:
    """Point to point on 20,000 points."""
    some = np.random.default_rng(0).choice(len(poured), min(20000, len(poured)), replace=False)
    return trimesh.registration.icp(poured[some], reference, initial=T, threshold=1e-7, max_iterations=50, scale=False)[
        0
    ]


def timed(run: Callable[[], np.ndarray]) -> tuple[np.ndarray, float]:
    start = time.perf_counter()
    answer = run()
    return answer, time.perf_counter() - start


def register(data: dict[str, np.ndarray]) -> dict[str, object]:
    """Every pipeline from the loaded arrays on; all share one coarse pose, whose seconds each of them bears."""

    def prepare_and_search() -> np.ndarray:
        clouds.extend(as_cloud(as_mesh(data[f"{k}_v"], data[f"{k}_f"])) for k in ("reference", "poured"))
        return find_coarse(*clouds)

    clouds: list[o3d.geometry.PointCloud] = []
    coarse, coarse_s = timed(prepare_and_search)
    points = data["reference_v"], data["poured_v"]
    pipelines = {
        "open3d FPFH, RANSAC, Tukey, all points": lambda: refine_tukey(*clouds, coarse, 1),
        "open3d FPFH, RANSAC, Tukey, every 8th point": lambda: refine_tukey(*clouds, coarse, 8),
        "open3d FPFH, RANSAC, Tukey, every 16th point": lambda: refine_tukey(*clouds, coarse, 16),
        "open3d coarse, small_gicp GICP": lambda: refine_gicp(*points, coarse),
        "open3d coarse, trimesh icp": lambda: refine_icp(*points, coarse),
    }
    found: dict[str, object] = {}
    for name, run in pipelines.items():
        T, seconds = timed(run)
        found[name] = {"T": np.asarray(T).tolist(), "seconds": coarse_s + seconds, "coarse_s": coarse_s}
    return found


def measure_distance(data: dict[str, np.ndarray]) -> dict[str, object]:
    """Signed distance of the queries from the reference, tree included."""

    def with_open3d() -> np.ndarray:
        scene = o3d.t.geometry.RaycastingScene()
        mesh = o3d.t.geometry.TriangleMesh(
            o3d.core.Tensor(data["reference_v"].astype(np.float32)),
            o3d.core.Tensor(data["reference_f"].astype(np.int32)),
        )
        scene.add_triangles(mesh)
        asked = data["queries"].astype(np.float32)
        hit = scene.compute_closest_points(o3d.core.Tensor(asked))
        offset = asked - hit["points"].numpy()
        return np.sign((offset * hit["primitive_normals"].numpy()).sum(axis=1)) * np.linalg.norm(offset, axis=1)

    def with_trimesh() -> np.ndarray:
        mesh = trimesh.Trimesh(data["reference_v"], data["reference_f"], process=False)
        return trimesh.proximity.closest_point(mesh, data["queries"][::10])[1]

    signed, seconds = timed(with_open3d)
    unsigned, slow = timed(with_trimesh)
    return {
        "open3d": {"seconds": seconds, "first": signed[:2000].tolist()},
        "trimesh, a tenth of the points": {"seconds": slow, "first": unsigned[:200].tolist()},
    }


if __name__ == "__main__":
    with np.load(sys.argv[1]) as loaded:
        arrays = dict(loaded)
    # a first small run, so that no pipeline pays for loading the libraries
    ball = trimesh.creation.icosphere(4, 20.0)
    find_coarse(*[as_cloud(as_mesh(ball.vertices, ball.faces)) for _ in range(2)])
    asked = {"poses": register, "distance": measure_distance}
    print(json.dumps(asked[sys.argv[2]](arrays)))
