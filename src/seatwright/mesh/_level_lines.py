"""Lines on a surface along which a value, given at the vertices and linear between them, equals a level."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["LevelLine", "measure_area_above_mm2", "trace_level"]


@dataclass(frozen=True, slots=True, eq=False)
class LevelLine:
    """One polyline on a surface.

    Attributes
    ----------
    points_mm : ndarray of shape (k, 3)
        A closed line ends where it began.
    is_closed : bool
    """

    points_mm: FloatArray
    is_closed: bool

    @property
    def length_mm(self) -> float:
        """Length of the polyline, mm."""
        return float(np.linalg.norm(np.diff(self.points_mm, axis=0), axis=1).sum())


def trace_level(
    surface: Surface, values: FloatArray, level: float, *, on_faces: NDArray[np.bool_] | None = None
) -> tuple[LevelLine, ...]:
    """Trace the lines where the value equals a level, longest first.

    Parameters
    ----------
    surface : Surface
    values : ndarray of shape (n,)
        At the vertices, linear on each face.
    level : float
        A vertex that equals the level counts as above it, so that every line is clean.
    on_faces : ndarray of shape (m,), bool, optional
        Only on these faces.
    """
    above = np.asarray(values) >= level
    of_corner = above[surface.faces]
    crossed = of_corner.any(axis=1) & ~of_corner.all(axis=1)
    if on_faces is not None:
        crossed &= on_faces
    faces = surface.faces[crossed].astype(np.int64)
    if not len(faces):
        return ()
    start, end = faces, np.roll(faces, -1, axis=1)
    cut = above[start] != above[end]
    pairs = np.stack([np.minimum(start, end), np.maximum(start, end)], axis=-1)[cut].reshape(-1, 2, 2)
    keys = pairs[..., 0] * surface.n_vertices + pairs[..., 1]
    unique, segments = np.unique(keys, return_inverse=True)
    one, two = unique // surface.n_vertices, unique % surface.n_vertices
    share = np.clip((level - values[one]) / (values[two] - values[one]), 0.0, 1.0)[:, None]
    points = (1 - share) * surface.vertices_mm[one] + share * surface.vertices_mm[two]
    chains = _chain(segments.reshape(-1, 2).tolist(), len(unique))
    lines = [LevelLine(np.asarray(points[chain]), chain[0] == chain[-1]) for chain in chains]
    return tuple(sorted(lines, key=lambda line: -line.length_mm))


def _chain(segments: list[list[int]], n: int) -> list[list[int]]:
    """Join segments that share an end into chains; open ends first, then rings."""
    at: list[list[int]] = [[] for _ in range(n)]
    for number, (a, b) in enumerate(segments):
        at[a].append(number)
        at[b].append(number)
    used = [False] * len(segments)
    ends = [node for node in range(n) if len(at[node]) != 2]
    chains = []
    for node in (*ends, *range(n)):
        for number in at[node]:
            if used[number]:
                continue
            used[number] = True
            chain = [node, sum(segments[number]) - node]
            while len(at[chain[-1]]) == 2:
                following = next((k for k in at[chain[-1]] if not used[k]), None)
                if following is None:
                    break
                used[following] = True
                chain.append(sum(segments[following]) - chain[-1])
            chains.append(chain)
    return chains


def measure_area_above_mm2(surface: Surface, values: FloatArray, level: float, *, areas_mm2: FloatArray) -> float:
    """Area of the surface where a value, linear on each face, is at least a level, mm².

    Parameters
    ----------
    surface : Surface
    values : ndarray of shape (n,)
    level : float
    areas_mm2 : ndarray of shape (m,)
        Area of each face; 0 leaves a face out.

    Examples
    --------
    >>> triangle = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0]]), np.array([[0, 1, 2]]))
    >>> measure_area_above_mm2(triangle, np.array([0.0, 1.0, 0.0]), 0.5, areas_mm2=np.array([2.0]))
    0.5
    """
    low, middle, high = np.sort(np.asarray(values)[surface.faces], axis=1).T
    wide, lower, upper = high - low, middle - low, high - middle
    with np.errstate(divide="ignore", invalid="ignore"):
        top = (high - level) ** 2 / (wide * upper)
        bottom = 1.0 - (level - low) ** 2 / (wide * lower)
    share = np.where(level <= low, 1.0, np.where(level > high, 0.0, np.where(level >= middle, top, bottom)))
    return float((np.nan_to_num(share) * areas_mm2).sum())
