"""Plain solids with known undercuts, as (vertices, faces): made here, each vertex exactly on its shape."""

import numpy as np
import trimesh
from numpy.typing import NDArray

from seatwright.mesh import Surface

Array = NDArray[np.float64]


def _surface(made: trimesh.Trimesh) -> Surface:
    return Surface(np.array(made.vertices), np.array(made.faces))


def ball(radius: float, *, subdivisions: int = 5, center: tuple[float, float, float] = (0, 0, 0)) -> Surface:
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    made.apply_translation(center)
    return _surface(made)


def box(
    size: tuple[float, float, float], *, edge: float = 1.0, center: tuple[float, float, float] = (0, 0, 0)
) -> Surface:
    made = trimesh.creation.box(extents=size).subdivide_to_size(edge)
    made.merge_vertices()
    made.apply_translation(center)
    return _surface(made)


def rod(
    radius: float, height: float, *, sections: int = 720, center: tuple[float, float, float] = (0, 0, 0)
) -> Surface:
    made = trimesh.creation.cylinder(radius=radius, height=height, sections=sections)
    made.apply_translation(center)
    return _surface(made)


def _wrap(n_around: int, n_along: int, *, ring: bool) -> NDArray[np.int64]:
    at = np.arange(n_around * n_along).reshape(n_around, n_along)
    ahead = np.roll(at, -1, axis=0)
    if ring:
        up, ahead_up = np.roll(at, -1, axis=1), np.roll(ahead, -1, axis=1)
    else:
        at, ahead, up, ahead_up = at[:, :-1], ahead[:, :-1], at[:, 1:], ahead[:, 1:]
    a, b, c, d = (k.ravel() for k in (at, ahead, ahead_up, up))
    return np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def torus(big: float, small: float, *, n_around: int = 480, n_across: int = 120) -> Surface:
    u = np.repeat(np.arange(n_around) / n_around * 2 * np.pi, n_across)
    v = np.tile(np.arange(n_across) / n_across * 2 * np.pi, n_around)
    out = big + small * np.cos(v)
    return Surface(
        np.stack([out * np.cos(u), out * np.sin(u), small * np.sin(v)], 1), _wrap(n_around, n_across, ring=True)
    )


def turned(outline: Array, *, n_around: int = 720) -> Surface:
    """A body of revolution about z from an outline (radius, height), bottom to top, closed by two flat ends."""
    n = len(outline)
    u = np.repeat(np.arange(n_around) / n_around * 2 * np.pi, n)
    radius, height = np.tile(outline[:, 0], n_around), np.tile(outline[:, 1], n_around)
    wall = np.stack([radius * np.cos(u), radius * np.sin(u), height], 1)
    at = np.arange(n_around * n).reshape(n_around, n)
    ends = np.array([[0, 0, outline[0, 1]], [0, 0, outline[-1, 1]]])
    low, top = n_around * n, n_around * n + 1
    floor = np.stack([np.roll(at[:, 0], -1), at[:, 0], np.full(n_around, low)], 1)
    roof = np.stack([at[:, -1], np.roll(at[:, -1], -1), np.full(n_around, top)], 1)
    return Surface(np.vstack([wall, ends]), np.vstack([_wrap(n_around, n, ring=False), floor, roof]))


def joined(*parts: Surface) -> Surface:
    """Several bodies in one surface, in this order."""
    starts = np.cumsum([0, *(part.n_vertices for part in parts)])
    faces = [part.faces + start for part, start in zip(parts, starts, strict=False)]
    return Surface(np.vstack([part.vertices_mm for part in parts]), np.vstack(faces))
