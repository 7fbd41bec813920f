"""A generated dental arch with known truth, for tests and benchmarks: one analytic sheet, any tessellation.

Cross-sections along a parabola-like arch curve: gum flank, crown with cusps, gum flank. Every tooth has its own width,
height, cusps and inclination, so that the arch is not its own mirror image. Movements are exact rigid motions of the
crown. Sizes are invented; they are only roughly those of a jaw.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]
N_WAVES = 400


@dataclass(frozen=True)
class Arch:
    """Parameters of one arch; lengths in mm."""

    n_teeth: int = 14
    width: float = 52.0
    depth: float = 42.0
    seed: int = 3
    symmetric: bool = False
    missing: tuple[int, ...] = ()
    swelling: float = 0.0
    """How far the gum stands out more than in the plain arch."""
    motions: dict[int, tuple[Array, Array]] = field(default_factory=dict)
    """Tooth index -> (rotation vector rad, shift mm) about the crown's center."""

    def tooth_at(self, u: Array) -> tuple[NDArray[np.int64], Array]:
        """Tooth index and place within the tooth (-1 to 1) along the arch parameter (0 to 1)."""
        place = np.clip(u, 0, 1 - 1e-12) * self.n_teeth
        index = np.floor(place).astype(np.int64)
        return index, 2 * (place - index) - 1

    def shapes(self) -> dict[str, Array]:
        rng = np.random.default_rng(self.seed)
        n = self.n_teeth
        from_middle = np.abs(np.arange(n) - (n - 1) / 2) / ((n - 1) / 2)
        draw = {k: rng.uniform(-1, 1, n) for k in ("height", "half", "lean", "cusp", "phase", "in")}
        if self.symmetric:
            draw = {k: (v + v[::-1]) / 2 for k, v in draw.items()}
            draw["phase"] = np.zeros(n)
        return {
            "height": 8.5 - 1.5 * from_middle + 0.7 * draw["height"],
            "half": 2.6 + 2.2 * from_middle**1.5 + 0.3 * draw["half"],
            "lean": 0.6 * draw["lean"],
            "cusp": 0.4 + 1.0 * from_middle + 0.2 * draw["cusp"],
            "phase": 0.8 * draw["phase"],
            "in": 0.7 * draw["in"],
        }

    def curve(self, u: Array) -> tuple[Array, Array]:
        """Point (n, 2) of the arch curve and its outward normal."""
        table = np.linspace(-1, 1, 4001)
        steps = np.linalg.norm(np.diff(self._plane(table), axis=0), axis=1)
        length = np.concatenate([[0], np.cumsum(steps)])
        s = np.interp(u * length[-1], length, table)
        h = 1e-5
        point = self._plane(s)
        ahead = self._plane(s + h) - self._plane(s - h)
        ahead /= np.linalg.norm(ahead, axis=-1, keepdims=True)
        return point, np.stack([ahead[..., 1], -ahead[..., 0]], -1)

    def _plane(self, s: Array) -> Array:
        return np.stack([self.width / 2 * s, -self.depth * np.abs(s) ** 2.4 + 0.0 * s], -1)

    def still(self, u: Array, v: Array) -> Array:
        """Points of the unmoved arch for parameters u along and v across (-1 lingual to 1 facial)."""
        shape = self.shapes()
        index, x = self.tooth_at(u)
        get = {k: a[index] for k, a in shape.items()}
        gone = np.isin(index, self.missing)
        round_ = np.sqrt(np.clip(1 - (0.97 * np.abs(x)) ** 2.2, 0, 1))
        crown = np.clip((0.62 - np.abs(v)) / 0.62, 0, 1)
        is_crown = crown > 0
        angle = v / 0.62 * np.pi / 2
        half = get["half"] * (0.55 + 0.45 * round_)
        height = get["height"] * (0.35 + 0.65 * round_)
        across = np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** 0.7 * half
        cusps = get["cusp"] * np.cos(3 * angle) * np.cos(2 * np.pi * x + get["phase"]) * 0.55
        up = np.abs(np.cos(angle)) ** 0.55 * (height - get["cusp"] * np.cos(3 * angle) ** 2 * 0.5 + cusps)
        across = across + get["lean"] * up / 4 + get["in"] * np.cos(angle) ** 2
        gum = (np.abs(v) - 0.62) / 0.38
        gum_out = np.sign(v) * (half + 0.6 + 2.2 * gum + self.swelling * np.sin(np.pi * np.clip(gum, 0, 1)))
        gum_up = -9.0 * gum + 0.5 * round_ * (1 - gum) + 0.3 * np.sin(40 * u + 2 * self.seed) * gum
        ridge_out = np.sign(v) * np.abs(v) ** 0.9 * 5.5
        ridge_up = 1.2 * np.cos(np.pi * np.clip(np.abs(v), 0, 1) / 2) - 9.0 * np.clip(gum, 0, 1) + self.swelling
        out = np.where(is_crown, across, gum_out)
        rise = np.where(is_crown, up, gum_up)
        out, rise = np.where(gone, ridge_out, out), np.where(gone, ridge_up, rise)
        point, normal = self.curve(u)
        return np.concatenate([point + normal * out[..., None], rise[..., None]], -1)

    def center(self, tooth: int) -> Array:
        """A point amid the crown's top, the seed of its region."""
        return self.still(np.array([(tooth + 0.5) / self.n_teeth]), np.array([0.0]))[0]

    def points(self, u: Array, v: Array) -> Array:
        """Points of the arch with its movements."""
        points = self.still(u, v)
        index, _ = self.tooth_at(u)
        for tooth, (turn, shift) in self.motions.items():
            on = (index == tooth) & (np.abs(v) < 0.62)
            c = self.center(tooth)
            points[on] = Rotation.from_rotvec(turn).apply(points[on] - c) + c + shift
        return points

    def mesh(
        self, n_u: int, n_v: int, *, offset: float = 0.0, keep_u: tuple[float, float] = (0.0, 1.0), flip: bool = False
    ) -> tuple[Array, NDArray[np.int32]]:
        """Vertices and faces of an n_u x n_v tessellation; `offset` (0 to 1) shifts the grid by part of a cell."""
        du = (keep_u[1] - keep_u[0]) / n_u
        u = keep_u[0] + (np.arange(n_u) + offset) * du
        v = -1 + (np.arange(n_v) + offset) * 2 / n_v
        uu, vv = np.meshgrid(u, v, indexing="ij")
        vertices = self.points(uu.ravel(), vv.ravel())
        return vertices, grid_faces(n_u, n_v, flip=flip)


def grid_faces(n_u: int, n_v: int, *, flip: bool = False) -> NDArray[np.int32]:
    at = np.arange(n_u * n_v, dtype=np.int32).reshape(n_u, n_v)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    pairs = [(a, d, b), (b, d, c)] if flip else [(a, c, b), (a, d, c)]
    return np.vstack([np.stack(p, 1) for p in pairs])


def add_noise(vertices: Array, normals: Array, sigma: float, rng: np.random.Generator) -> Array:
    """Independent noise along the normal."""
    return vertices + normals * rng.normal(0, sigma, (len(vertices), 1))


def close_with_base(
    vertices: Array, faces: NDArray[np.int32], n_u: int, n_v: int, depth: float
) -> tuple[Array, NDArray[np.int32]]:
    """Close a grid sheet to a watertight solid with a flat base at `depth` below the lowest point."""
    at = np.arange(n_u * n_v, dtype=np.int32).reshape(n_u, n_v)
    rim = np.concatenate([at[:, 0], at[-1, 1:], at[-2::-1, -1], at[0, -2:0:-1]])
    floor = vertices[rim].copy()
    floor[:, 2] = vertices[:, 2].min() - depth
    n = len(rim)
    low = np.arange(len(vertices), len(vertices) + n, dtype=np.int32)
    nxt = np.roll(np.arange(n), -1)
    wall = np.vstack([np.stack([rim, rim[nxt], low], 1), np.stack([rim[nxt], low[nxt], low], 1)])
    strip = []
    left = low[:n_u]
    right = low[n_u + n_v - 2 : 2 * n_u + n_v - 2][::-1]
    strip.append(np.stack([left[:-1], left[1:], right[:-1]], 1))
    strip.append(np.stack([left[1:], right[1:], right[:-1]], 1))
    ends = [low[n_u - 1 : n_u + n_v - 1], np.concatenate([low[2 * n_u + n_v - 3 :], low[:1]])]
    strip.extend(np.stack([np.full(len(end) - 2, end[0]), end[2:], end[1:-1]], 1) for end in ends)
    return np.vstack([vertices, floor]), np.vstack([faces, wall, *strip]).astype(np.int32)


@dataclass(frozen=True)
class Scene:
    """Two scans of one arch with the truth between them; the poured scan lies in its own frame."""

    reference: tuple[Array, NDArray[np.int32]]
    poured: tuple[Array, NDArray[np.int32]]
    T_poured_arch: Array
    seeds: Array
    """(n_teeth, 3): a point on each crown."""
    arch: Arch

    def truth(self, tooth: int, about: Array) -> tuple[Array, Array]:
        """Shift about a point, mm, and turn vector, degrees, of one tooth."""
        turn, shift = self.arch.motions.get(tooth, (np.zeros(3), np.zeros(3)))
        center = self.arch.center(tooth)
        moved = Rotation.from_rotvec(turn).apply(about - center) + center + shift
        return moved - about, np.degrees(turn)

    def target_error_um(self, T_reference_poured: Array) -> float:
        """Root mean square registration error over the reference's vertices."""
        both = T_reference_poured @ self.T_poured_arch
        points = self.reference[0]
        return float(1e3 * np.sqrt(((points @ both[:3, :3].T + both[:3, 3] - points) ** 2).sum(axis=1).mean()))


def draw_motions(rng: np.random.Generator, teeth: list[int], low: float, high: float) -> dict[int, tuple[Array, Array]]:
    """Random shifts between two lengths (mm), with turns up to a degree."""
    motions = {}
    for tooth in teeth:
        shift, turn = rng.normal(size=(2, 3))
        motions[tooth] = (
            turn / np.linalg.norm(turn) * np.radians(rng.uniform(0, 1)),
            shift / np.linalg.norm(shift) * rng.uniform(low, high),
        )
    return motions


def smooth_field(points: Array, sigma: float, length: float | Array, rng: np.random.Generator) -> Array:
    """A random field (n,) with a Gaussian correlation of the given length, or one (400, 1) a wave, from random waves."""
    waves = rng.normal(size=(N_WAVES, 3)) / length
    phases = rng.uniform(0, 2 * np.pi, N_WAVES)
    return sigma * np.sqrt(2 / N_WAVES) * np.cos(points @ waves.T + phases).sum(axis=1)


def draw_scene(
    seed: int,
    *,
    shape: Arch | None = None,
    n_u: int = 1000,
    n_v: int = 200,
    n_moved: int = 4,
    noise: float = 0.01,
    correlated: tuple[float, float] | None = None,
    swelling: float = 0.05,
    keep_u: tuple[float, float] = (0.0, 1.0),
    base: float = 0.0,
) -> Scene:
    """Draw an arch, move some crowns, scan it twice with different tessellations and noise, put the second anywhere."""
    from seatwright.mesh import Surface, measure_vertex_normals

    rng = np.random.default_rng(seed)
    still = shape or Arch(seed=100 + seed)
    teeth = sorted(int(t) for t in rng.choice(still.n_teeth, n_moved, replace=False))
    moved = replace(still, swelling=still.swelling + swelling, motions=draw_motions(rng, teeth, 0.1, 0.3))

    def scan(
        arch: Arch, rows: int, columns: int, *, flip: bool, keep: tuple[float, float]
    ) -> tuple[Array, NDArray[np.int32]]:
        vertices, faces = arch.mesh(rows, columns, offset=rng.uniform(), keep_u=keep, flip=flip)
        normals = np.array(measure_vertex_normals(Surface(vertices, faces)))
        noisy = add_noise(vertices, normals, noise, rng)
        if correlated:
            noisy += normals * smooth_field(vertices, *correlated, rng)[:, None]
        return noisy, faces

    reference = scan(still, n_u, n_v, flip=False, keep=(0.0, 1.0))
    rows, columns = int(0.98 * n_u * (keep_u[1] - keep_u[0])), int(1.02 * n_v)
    poured = scan(moved, rows, columns, flip=True, keep=keep_u)
    if base:
        poured = close_with_base(*poured, rows, columns, base)
    T = np.eye(4)
    T[:3, :3] = Rotation.random(random_state=rng).as_matrix()
    T[:3, 3] = rng.uniform(-40, 40, 3)
    placed = poured[0] @ T[:3, :3].T + T[:3, 3]
    seeds = np.array([still.center(t) for t in range(still.n_teeth)])
    return Scene(reference, (placed, poured[1]), T, seeds, moved)
