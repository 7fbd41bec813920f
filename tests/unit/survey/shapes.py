"""Plain shapes with known answers, shared by the tests of withdrawal and windows."""

import math

import numpy as np

from seatwright.mesh import Surface

_QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Surface:
    """An upright box of twelve triangles, outwards."""
    ends = np.array([low, high], dtype=float)
    vertices = [[ends[i, 0], ends[j, 1], ends[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    faces = [f for a, b, c, d in _QUADS for f in ((a, b, c), (a, c, d))]
    return Surface(np.array(vertices), np.array(faces))


def join(*surfaces: Surface) -> Surface:
    """Several bodies in one surface."""
    starts = np.cumsum([0, *(s.n_vertices for s in surfaces[:-1])])
    faces = np.vstack([s.faces + start for s, start in zip(surfaces, starts, strict=True)])
    return Surface(np.vstack([s.vertices_mm for s in surfaces]), faces)


def slot(*, width_mm: float, depth_mm: float, at: tuple[float, float] = (0.0, 0.0)) -> Surface:
    """A square female of four blocks around a hole that is open at both ends."""
    h, w = width_mm / 2, width_mm / 2 + 2.0
    (x, y), d = at, depth_mm
    return join(
        box((x + h, y - w, 0), (x + w, y + w, d)),
        box((x - w, y - w, 0), (x - h, y + w, d)),
        box((x - h, y + h, 0), (x + h, y + w, d)),
        box((x - h, y - w, 0), (x + h, y - h, d)),
    )


def frustum(*, taper_deg: float, height_mm: float, n: int, gap_mm: float = 0.0, radius_mm: float = 4.0) -> Surface:
    """Wall and top of a tapered die, open below, three rings in the wall; or a cap that stands a gap off it."""
    taper = math.radians(taper_deg)
    shares = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    radii = radius_mm - height_mm * math.tan(taper) * shares + gap_mm * math.cos(taper)
    heights = height_mm * shares + gap_mm * math.sin(taper)
    turns = np.linspace(0.0, 2 * math.pi, n, endpoint=False)
    rings = [
        np.column_stack([r * np.cos(turns), r * np.sin(turns), np.full(n, z)])
        for r, z in zip(radii, heights, strict=True)
    ]
    vertices = np.vstack([*rings, [[0.0, 0.0, heights[-1]]]])
    k, faces = np.arange(n), []
    for ring in range(len(shares) - 1):
        one, other = ring * n + k, ring * n + (k + 1) % n
        faces += [np.column_stack([one, other, one + n]), np.column_stack([other, other + n, one + n])]
    last = (len(shares) - 1) * n
    faces.append(np.column_stack([last + k, last + (k + 1) % n, np.full(n, len(vertices) - 1)]))
    return Surface(vertices, np.vstack(faces))


def soup(rng: np.random.Generator, n: int) -> Surface:
    """Small triangles anywhere in a box."""
    middles = rng.uniform(-3, 3, (n, 1, 3))
    return Surface((middles + rng.normal(0, 0.7, (n, 3, 3))).reshape(-1, 3), np.arange(3 * n).reshape(n, 3))


def lean(tilt_deg: float, towards_deg: float) -> np.ndarray:
    """A direction that leans from z."""
    tilt, towards = math.radians(tilt_deg), math.radians(towards_deg)
    return np.array([math.sin(tilt) * math.cos(towards), math.sin(tilt) * math.sin(towards), math.cos(tilt)])


def revolve(profile: list[tuple[float, float]], n: int) -> Surface:
    """A skin of revolution about z through (radius, height), its outside to the left of the way along the profile."""
    turns = np.linspace(0.0, 2 * math.pi, n, endpoint=False)
    rings = [np.column_stack([r * np.cos(turns), r * np.sin(turns), np.full(n, z)]) for r, z in profile]
    k, faces = np.arange(n), []
    for ring in range(len(profile) - 1):
        one, other = ring * n + k, ring * n + (k + 1) % n
        faces += [np.column_stack([one, other, one + n]), np.column_stack([other, other + n, one + n])]
    return Surface(np.vstack(rings), np.vstack(faces))
