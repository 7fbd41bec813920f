"""Pairs of scans with a known pose between them, for the study of poses: generated arches and real scanned casts.

What may differ between the two scans: tessellation, noise, base, a half only, holes, swollen gum, moved units. Some pairs
are meant to be refused: mirrored, another arch, hardly any overlap, equal teeth.
"""

import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from generated_arch import Arch, close_with_base
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from seatwright.files import read_surface
from seatwright.mesh import Surface, keep_faces, measure_face_areas_mm2, measure_face_normals, measure_vertex_normals
from seatwright.quantities import make_transform

Array = NDArray[np.float64]
Faces = NDArray[np.int32]
Motions = dict[int, tuple[Array, Array]]
TEETH = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
SCANS = Path(os.environ.get("SEATWRIGHT_SCANS", Path(__file__).resolve().parents[2] / "shared" / "scans"))
NOISE_MM = 0.01


@dataclass(frozen=True)
class Pair:
    """A reference, a poured scan in its own frame, the true pose, and a point on each unit of the reference."""

    reference: Surface
    poured: Surface
    T_reference_poured: Array
    seeds: dict[str, Array]
    n_moved: int

    def error_mm(self, T: Array) -> float:
        """Root mean square distance between the poured scan's vertices at a pose and at the true pose."""
        difference = T - self.T_reference_poured
        off = self.poured.vertices_mm @ difference[:3, :3].T + difference[:3, 3]
        return float(np.sqrt((off**2).sum(axis=1).mean()))


def draw_pose(rng: np.random.Generator) -> Array:
    """Any turn from 0 to 180 degrees about any axis, and 40 mm in any direction."""
    axis, way = rng.normal(size=(2, 3))
    turn = axis / np.linalg.norm(axis) * rng.uniform(0, np.pi)
    return make_transform(turn, 40 * way / np.linalg.norm(way))


def draw_motions(rng: np.random.Generator, units: list[int]) -> Motions:
    """Up to a third of the units, shifted by 20 to 500 µm and turned by up to a degree."""
    chosen = rng.choice(units, rng.integers(0, len(units) // 3 + 1), replace=False)
    motions = {}
    for unit in chosen:
        way, axis = rng.normal(size=(2, 3))
        shift = way / np.linalg.norm(way) * np.exp(rng.uniform(np.log(0.02), np.log(0.5)))
        motions[int(unit)] = (axis / np.linalg.norm(axis) * np.radians(rng.uniform(0, 1)), shift)
    return motions


def roughen(vertices: Array, faces: Faces, rng: np.random.Generator) -> Surface:
    """Independent noise along the normal."""
    normals = measure_vertex_normals(Surface(vertices, faces))
    return Surface(vertices + normals * rng.normal(0, NOISE_MM, (len(vertices), 1)), faces)


def punch(surface: Surface, share: float, rng: np.random.Generator) -> Surface:
    """Take away balls of 3 to 7 mm until a share of the area is gone."""
    middles, areas = surface.vertices_mm[surface.faces].mean(axis=1), measure_face_areas_mm2(surface)
    gone, wanted = np.zeros(surface.n_faces, dtype=bool), share * areas.sum()
    while areas[gone].sum() < wanted:
        gone |= np.linalg.norm(middles - middles[rng.integers(len(middles))], axis=1) < rng.uniform(3, 7)
    return keep_faces(surface, ~gone)


def place(reference: Surface, poured: Surface, seeds: dict[str, Array], n_moved: int, rng: np.random.Generator) -> Pair:
    T = draw_pose(rng)
    middles = reference.vertices_mm[reference.faces].mean(axis=1)
    seeds = {t: s for t, s in seeds.items() if np.linalg.norm(middles - s, axis=1).min() < 2.0}
    turned = Surface(poured.vertices_mm @ T[:3, :3].T + T[:3, 3], poured.faces)
    return Pair(reference, turned, np.linalg.inv(T), seeds, n_moved)


# --- generated arches -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class EqualTeeth(Arch):
    """All teeth alike on an arc of a circle: one tooth farther looks the same."""

    def shapes(self) -> dict[str, Array]:
        alike = {"height": 7.5, "half": 3.2, "lean": 0.0, "cusp": 0.8, "phase": 0.0, "in": 0.0}
        return {k: np.full(self.n_teeth, v) for k, v in alike.items()}

    def _plane(self, s: Array) -> Array:
        return np.stack([self.width / 2 * np.sin(1.4 * s), self.width / 2 * (np.cos(1.4 * s) - 1)], -1)


def draw_generated(kind: str, seed: int, n_u: int) -> Pair:
    """Draw one pair of scans of a generated arch; `n_u` steps along the arch, about a fifth of it across."""
    rng = np.random.default_rng([seed, 1])
    still = _draw_shape(kind, rng)
    units = [t for t in range(still.n_teeth) if t not in still.missing]
    keep, both = _draw_keep(kind, rng), (0.0, 1.0)
    if kind == "crossing":
        half = rng.uniform(0.3, 0.45)
        keep, both = ((0.0, 1 - half), (half, 1.0))
    shown = [t for t in units if keep[0] * still.n_teeth <= t and t + 1 <= keep[1] * still.n_teeth]
    motions = draw_motions(rng, shown if len(shown) >= 3 else units)
    poured_arch = replace(still, swelling=still.swelling + rng.uniform(0, 0.3), motions=motions)
    if kind == "other arch":
        poured_arch = Arch(seed=int(rng.integers(1 << 30)), width=rng.uniform(46, 62), depth=rng.uniform(34, 46))
    based = {"base": [(0, 1), (1, 0), (1, 1)][rng.integers(3)], "base and holes": (1, 1)}.get(kind, (0, 0))
    reference = _scan(still, both, n_u, bool(based[0]), rng)
    poured = _scan(poured_arch, keep, int(0.98 * n_u), bool(based[1]), rng, flip=True)
    if kind in ("holes", "base and holes", "half with holes"):
        reference, poured = punch(reference, 0.15, rng), punch(poured, 0.15, rng)
    if kind.startswith("mirrored"):
        poured = Surface(poured.vertices_mm * np.array([-1.0, 1, 1]), poured.faces[:, ::-1])
    seeds = {TEETH[t]: still.center(t) for t in units}
    return place(reference, poured, seeds, len(motions), rng)


def _draw_shape(kind: str, rng: np.random.Generator) -> Arch:
    if kind.startswith("equal"):
        return EqualTeeth(width=rng.uniform(46, 62))
    missing: tuple[int, ...] = ()
    if kind.startswith("partial"):
        missing = tuple(int(t) for t in rng.choice(14, rng.integers(3, 9), replace=False))
    return Arch(
        seed=int(rng.integers(1 << 30)),
        width=rng.uniform(46, 62),
        depth=rng.uniform(34, 46),
        symmetric=kind.startswith("symmetric"),
        missing=missing,
    )


def _draw_keep(kind: str, rng: np.random.Generator) -> tuple[float, float]:
    share = 1.0
    if "half" in kind:
        share = rng.uniform(0.45, 0.55)
    elif kind == "a few teeth":
        share = rng.uniform(0.08, 0.2)
    elif kind == "third":
        share = rng.uniform(0.3, 0.4)
    start = rng.choice([0.0, 1 - share]) if share > 0.4 else rng.uniform(0, 1 - share)
    return float(start), float(start + share)


def _scan(
    arch: Arch, keep: tuple[float, float], n_u: int, with_base: bool, rng: np.random.Generator, *, flip: bool = False
) -> Surface:
    rows, columns = max(20, round(n_u * (keep[1] - keep[0]))), round(0.21 * n_u)
    vertices, faces = arch.mesh(rows, columns, offset=rng.uniform(), keep_u=keep, flip=flip)
    vertices = np.array(roughen(vertices, faces, rng).vertices_mm)
    if with_base:
        vertices, faces = close_with_base(vertices, faces, rows, columns, rng.uniform(4, 12))
    return Surface(vertices, faces)


# --- real scanned casts -----------------------------------------------------------------------------------------------


def load_cast(name: str) -> Surface:
    """A real scanned cast or modelled teeth, teeth up (+z), the front towards +y, in mm."""
    surface = read_surface(SCANS / f"{name}.ply", length_unit="mm")
    vertices = surface.vertices_mm - surface.vertices_mm.mean(axis=0)
    if name.startswith("modelled"):
        up = -1.0 if name.endswith("_upper") else 1.0  # drawn with the crowns along y, without a unit
        turned = vertices[:, [0, 2, 1]] * np.array([1.0, -up, up]) * (62.0 / np.ptp(vertices, axis=0).max())
    else:
        if name.startswith("upper"):
            vertices = vertices * np.array([1.0, -1.0, -1.0])
        turned = vertices[:, [1, 0, 2]] * np.array([1.0, -1.0, 1.0])
    return Surface(turned, surface.faces)


def draw_real(kind: str, seed: int, name: str, *, fine: bool) -> Pair:
    """Two tessellations of one real surface, one of them altered by computation: no second scan exists."""
    rng = np.random.default_rng([seed, 2])
    surface = load_cast(name)
    seeds = find_high_places(surface)
    if kind.startswith("partial"):
        surface, seeds = _take_teeth_away(surface, seeds, rng)
    if "open" in kind:
        surface = _cut_base_off(surface, seeds)
    poured = surface
    if "half" in kind:
        poured = _cut_half(surface, seeds, rng)
    if kind in ("crossing", "sliver"):
        surface, poured = _cut_crossing(surface, kind, rng)
    if kind == "other arch":
        poured = load_cast("lower_cast" if name.startswith("upper") else "upper_cast")
    middle = poured.vertices_mm[poured.faces].mean(axis=1)
    on = [k for k, s in enumerate(seeds) if np.linalg.norm(middle - s, axis=1).min() < 1.0]
    motions = draw_motions(rng, on if len(on) >= 3 else list(range(len(seeds)))) if kind != "other arch" else {}
    moved = _alter(divide(poured, rng, fine=fine), seeds, motions, rng.uniform(0, 0.3), rng)
    reference = divide(surface, rng, fine=fine)
    reference = roughen(reference.vertices_mm, reference.faces, rng)
    if "holes" in kind:
        reference, moved = punch(reference, 0.15, rng), punch(moved, 0.15, rng)
    if kind.startswith("mirrored"):
        moved = Surface(moved.vertices_mm * np.array([-1.0, 1, 1]), moved.faces[:, ::-1])
    return place(reference, moved, dict(zip(TEETH, seeds, strict=False)), len(motions), rng)


def find_high_places(surface: Surface) -> list[Array]:
    """Ten high places at least 8 mm apart: units are invented there."""
    high = surface.vertices_mm[np.argsort(-surface.vertices_mm[:, 2])]
    chosen = [high[0]]
    for point in high:
        if min(np.linalg.norm(point - c) for c in chosen) > 8.0:
            chosen.append(point)
        if len(chosen) == 10:
            break
    return chosen


def divide(surface: Surface, rng: np.random.Generator, *, fine: bool) -> Surface:
    """Another tessellation of the same facets: a random inner point each, with `fine` a second time."""
    for _ in range(2 if fine else 1):
        corners = surface.vertices_mm[surface.faces]
        inner = np.einsum("fk,fkj->fj", rng.dirichlet((5, 5, 5), surface.n_faces), corners)
        new = surface.n_vertices + np.arange(surface.n_faces, dtype=np.int32)
        a, b, c = surface.faces.T
        faces = np.vstack([np.stack([a, b, new], 1), np.stack([b, c, new], 1), np.stack([c, a, new], 1)])
        surface = Surface(np.vstack([surface.vertices_mm, inner]), faces)
    return surface


def _alter(
    surface: Surface, seeds: list[Array], motions: Motions, swelling: float, rng: np.random.Generator
) -> Surface:
    """Move balls about some seeds, let the rest of the upper side swell unevenly, add noise."""
    vertices = surface.vertices_mm.copy()
    normals = measure_vertex_normals(surface)
    away = np.min([np.linalg.norm(vertices - s, axis=1) for s in seeds], axis=0)
    soft = np.clip((away - 6.0) / 3.0, 0, 1) * (vertices[:, 2] > np.quantile(vertices[:, 2], 0.3))
    vertices += normals * (soft * np.abs(_draw_waves(vertices, swelling, rng)))[:, None]
    for unit, (turn, shift) in motions.items():
        near = np.linalg.norm(surface.vertices_mm - seeds[unit], axis=1) < 5.0
        vertices[near] = Rotation.from_rotvec(turn).apply(vertices[near] - seeds[unit]) + seeds[unit] + shift
    return roughen(vertices, surface.faces, rng)


def _draw_waves(points: Array, sigma: float, rng: np.random.Generator) -> Array:
    """An uneven field from a few random waves, some millimeters long."""
    waves, phases = rng.normal(size=(24, 3)) / 8.0, rng.uniform(0, 2 * np.pi, 24)
    return sigma * np.sqrt(2 / 24) * np.cos(points @ waves.T + phases).sum(axis=1)


def _take_teeth_away(surface: Surface, seeds: list[Array], rng: np.random.Generator) -> tuple[Surface, list[Array]]:
    """Press three to five of the ten units down to a ridge."""
    gone = set(rng.choice(len(seeds), rng.integers(3, 6), replace=False).tolist())
    vertices = surface.vertices_mm.copy()
    for unit in gone:
        ridge = seeds[unit][2] - 6.0
        near = (np.linalg.norm(vertices[:, :2] - seeds[unit][:2], axis=1) < 5.0) & (vertices[:, 2] > ridge)
        vertices[near, 2] = ridge + 0.15 * (vertices[near, 2] - ridge)
    return Surface(vertices, surface.faces), [s for k, s in enumerate(seeds) if k not in gone]


def _cut_base_off(surface: Surface, seeds: list[Array]) -> Surface:
    """Keep what a scanner sees from above, down to 14 mm under the lowest of the units."""
    middles = surface.vertices_mm[surface.faces].mean(axis=1)
    looks_up = measure_face_normals(surface)[:, 2] > -0.5
    return keep_faces(surface, looks_up & (middles[:, 2] > min(s[2] for s in seeds) - 14.0))


def _cut_crossing(surface: Surface, kind: str, rng: np.random.Generator) -> tuple[Surface, Surface]:
    """Two parts that share a strip across the cast, or the whole and a strip of it."""
    along = surface.vertices_mm[surface.faces].mean(axis=1)[:, rng.integers(2)]
    start = rng.uniform(0.1, 0.6)
    low, high = np.quantile(along, (start, start + rng.uniform(0.1, 0.35)))
    if kind == "sliver":
        return surface, keep_faces(surface, (along > low) & (along < high))
    return keep_faces(surface, along < high), keep_faces(surface, along > low)


def _cut_half(surface: Surface, seeds: list[Array], rng: np.random.Generator) -> Surface:
    """Keep one side of a plane across the middle of the arch."""
    middles = surface.vertices_mm[surface.faces].mean(axis=1)
    side = float(rng.choice([-1.0, 1.0]))
    place_x = float(np.mean([s[0] for s in seeds])) + rng.uniform(-4, 4)
    return keep_faces(surface, side * (middles[:, 0] - place_x) > 0)
