"""Fourteen crowns as open patches along an arch, with known movements and scan error: light enough for thousands of units.

Each crown is a superellipsoid dome with cusps of its own; its two scans have their own tessellations. Crowns are rigid,
their lattice scales. Scan error lies along the surface normal: independent from vertex to vertex, plus a field with a
Gaussian correlation, or one with a long tail, which is none of those that the check fits. Sizes are invented, roughly those of a jaw.
"""

from dataclasses import dataclass

import numpy as np
from generated_arch import N_WAVES, smooth_field
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from seatwright.arch import UnitRegion
from seatwright.mesh import Surface, measure_centroid_mm, measure_face_areas_mm2, measure_vertex_normals

Array = NDArray[np.float64]
TEETH = ("47", "46", "45", "44", "43", "42", "41", "31", "32", "33", "34", "35", "36", "37")
_EDGE_RAD = 1.75
TURN_OVER_MM = 8.0  # judgement: an error of a scan that leaves no residual within a crown bends over a crown's width
GRID = 54


@dataclass(frozen=True)
class PatchScene:
    """Two scans in nearly the same place, the regions, and the true motion of each crown about its region's centroid."""

    reference: Surface
    poured: Surface
    regions: tuple[UnitRegion, ...]
    shifts: Array
    """(n, 3) mm: lattice scale and movement together, in the frame in which the lattice's middle rests."""
    turns: Array
    """(n, 3) rad."""
    own_shifts: Array
    """(n, 3) mm: the movement alone."""


@dataclass(frozen=True)
class Error:
    """Scan error of each scan, micrometers and millimeters."""

    independent_um: float = 10.0
    correlated_um: float = 0.0
    length_mm: float = 1.0
    has_tail: bool = False
    """Correlation 1/(1 + d²/2l²), a mixture of all lengths, instead of exp(-d²/2l²)."""

    def draw(self, points: Array, rng: np.random.Generator) -> Array:
        """Draw the error (n,) of some points, mm."""
        off = rng.normal(0, self.independent_um * 1e-3, len(points))
        if self.correlated_um:
            # Rasmussen, Williams, Gaussian Processes for Machine Learning (2006), equation (4.20), with alpha 1
            stretch = np.sqrt(rng.gamma(1.0, 1.0, (N_WAVES, 1))) if self.has_tail else np.ones((N_WAVES, 1))
            off += smooth_field(points, self.correlated_um * 1e-3, self.length_mm / stretch, rng)
        return off


def arch_places(n: int = 14) -> tuple[Array, Array]:
    """Places (n, 3) along a parabola, mm, and headings (n,), rad."""
    x = np.linspace(-27, 27, n)
    y = x * x / 19.0
    return np.column_stack([x, y, 0.6 * np.sin(0.7 * np.arange(n))]), np.arctan2(2 * x / 19.0, 1.0)


def crown(tooth: int, n_grid: int, spin: float, wide: float) -> tuple[Array, NDArray[np.int32]]:
    """Vertices and faces of one crown about its own origin; `spin` turns the grid, `wide` is the edge's angle."""
    rng = np.random.default_rng(4000 + tooth)
    molar = abs(tooth - 6.5) / 6.5
    half = np.array([2.6 + 2.2 * molar, 2.9 + 1.8 * molar]) * rng.uniform(0.93, 1.07, 2)
    height, cusp, phase = rng.uniform(5.2, 7.0), 0.35 + 0.5 * molar, rng.uniform(0, 2 * np.pi)
    lean = rng.uniform(-0.12, 0.12, 2)
    p, q = np.meshgrid(np.linspace(-1, 1, n_grid), np.linspace(-1, 1, n_grid), indexing="ij")
    r = np.maximum(np.abs(p), np.abs(q))
    bend = np.where(np.abs(p) >= np.abs(q), np.pi / 4 * q / np.where(r > 0, np.where(p == 0, 1, p), 1), 0)
    other = np.where(np.abs(q) > np.abs(p), np.pi / 2 - np.pi / 4 * p / np.where(r > 0, np.where(q == 0, 1, q), 1), 0)
    around = np.where(np.abs(p) >= np.abs(q), bend + np.pi * (p < 0), other + np.pi * (q < 0)) + spin
    down = r * wide
    out = np.sin(down)
    bumps = 1 + 0.06 * out**2 * np.cos(2 * around + phase) + 0.04 * out**3 * np.cos(3 * around - phase)
    x, y = half[0] * out * np.cos(around) * bumps, half[1] * out * np.sin(around) * bumps
    z = height * np.cos(down) + cusp * np.sin(down) ** 4 * np.cos(down) * 2 * np.cos(4 * around + phase)
    points = np.stack([x + lean[0] * z, y + lean[1] * z, z], -1).reshape(-1, 3)
    at = np.arange(n_grid * n_grid, dtype=np.int32).reshape(n_grid, n_grid)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    return points, np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


def draw_patches(
    seed: int,
    error: Error,
    *,
    scale: float = 0.0,
    moved: dict[int, tuple[Array, Array]] | None = None,
    grid: int = GRID,
    repeatability_um: float = 0.0,
) -> PatchScene:
    """Draw two scans of the same crowns; `moved` holds (shift mm about the region's centroid, turn rad) of some.

    `grid` vertices across a crown: 27, 54, 90 lie about 0.65, 0.33, 0.2 mm apart. `repeatability_um` misplaces every
    crown in each scan as a rigid body, so that both scans together err by so much along every axis (`draw_misplaced`).
    """
    n_units = len(TEETH)
    rng = np.random.default_rng(seed)
    places, headings = arch_places(n_units)
    sheets = [
        [crown(t, grid, 0.0, _EDGE_RAD) for t in range(n_units)],
        [crown(t, grid + 1, rng.uniform(0.2, 0.6), _EDGE_RAD + 0.1) for t in range(n_units)],
    ]
    poses = [Rotation.from_euler("z", h) for h in headings]
    placed = [[(pose.apply(v) + c, f) for (v, f), pose, c in zip(s, poses, places, strict=True)] for s in sheets]
    clean, sizes = _join(placed[0])
    areas = measure_face_areas_mm2(clean)
    regions = []
    for k in range(n_units):
        ids = np.flatnonzero(sizes == k)
        regions.append(UnitRegion(TEETH[k], ids, measure_centroid_mm(clean, ids), float(areas[ids].sum())))
    middle = np.mean([r.centroid_mm for r in regions], axis=0)
    misplaced = [draw_misplaced(repeatability_um / np.sqrt(2), n_units, rng) for _ in range(2)]
    shifts, turns, own, moved_sheets, held_sheets = [], [], [], [], []
    for k, region in enumerate(regions):
        shift, turn = (moved or {}).get(k, (np.zeros(3), np.zeros(3)))
        total = shift + scale * (region.centroid_mm - middle)
        held_sheets.append(_misplace(placed[0][k], region.centroid_mm, misplaced[0][k]))
        v, f = _misplace(placed[1][k], region.centroid_mm, misplaced[1][k])
        moved_sheets.append((Rotation.from_rotvec(turn).apply(v - region.centroid_mm) + region.centroid_mm + total, f))
        shifts.append(total)
        turns.append(turn)
        own.append(shift)
    reference, poured = _scan(_join(held_sheets)[0], error, rng), _scan(_join(moved_sheets)[0], error, rng)
    return PatchScene(reference, poured, tuple(regions), np.array(shifts), np.array(turns), np.array(own))


def draw_misplaced(repeatability_um: float, n_units: int, rng: np.random.Generator) -> Array:
    """Draw how far a scan errs in the place (mm) and turn (rad) of each crown; (n, 6), none where it errs by nothing."""
    if not repeatability_um:
        return np.zeros((n_units, 6))
    s_mm = repeatability_um * 1e-3
    return rng.normal(0.0, [s_mm] * 3 + [s_mm / TURN_OVER_MM] * 3, (n_units, 6))


def _misplace(
    sheet: tuple[Array, NDArray[np.int32]], about_mm: Array, motion: Array
) -> tuple[Array, NDArray[np.int32]]:
    vertices, faces = sheet
    if not motion.any():
        return sheet
    return Rotation.from_rotvec(motion[3:]).apply(vertices - about_mm) + about_mm + motion[:3], faces


def _join(parts: list[tuple[Array, NDArray[np.int32]]]) -> tuple[Surface, NDArray[np.int64]]:
    starts = np.cumsum([0, *(len(v) for v, _ in parts)])[:-1]
    faces = np.vstack([f + s for (_, f), s in zip(parts, starts, strict=True)]).astype(np.int32)
    owner = np.repeat(np.arange(len(parts)), [len(f) for _, f in parts])
    return Surface(np.vstack([v for v, _ in parts]), faces), owner


def _scan(surface: Surface, error: Error, rng: np.random.Generator) -> Surface:
    off = error.draw(surface.vertices_mm, rng)
    return Surface(surface.vertices_mm + measure_vertex_normals(surface) * off[:, None], surface.faces)
