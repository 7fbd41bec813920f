"""What the demo's tests ask of a triangle surface."""

import numpy as np


def edge_uses(faces: np.ndarray) -> np.ndarray:
    """How many faces share each edge."""
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    return np.unique(ends[:, 0].astype(np.int64) * (int(faces.max()) + 1) + ends[:, 1], return_counts=True)[1]


def n_equally_directed_edges(faces: np.ndarray) -> int:
    """Directed edges that two faces run the same way: zero when all faces agree on outside."""
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    keys = ends[:, 0] * (int(faces.max()) + 1) + ends[:, 1]
    return len(keys) - len(np.unique(keys))


def face_normals(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Normals (m, 3) as long as twice the faces' areas."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def volume_mm3(vertices: np.ndarray, faces: np.ndarray) -> float:
    """Enclosed volume, positive when normals point outwards."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def area_mm2(vertices: np.ndarray, faces: np.ndarray) -> float:
    """Area of all faces."""
    return float(np.linalg.norm(face_normals(vertices, faces), axis=1).sum() / 2)
