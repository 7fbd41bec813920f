"""Scans of generated arches: a tessellation of its own, noise, a pose, and the truth beside it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from seatwright.demo._contour import IntArray, find_rim
from seatwright.demo._field import ArchField, make_arch_field
from seatwright.demo._spec import ArchSpec, Movement
from seatwright.demo._surface import Grid, extract_surface, measure_vertex_normals
from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, Transform, apply_transform, make_transform

__all__ = ["GeneratedScan", "ScanTruth", "draw_pose", "generate_arch"]

_WAVES = 96  # judgement: random waves in the correlated noise
_SIDE_MM = 12.0  # judgement: half-width of the body plus a margin
_OVER_MM = 2.0  # judgement: room over the highest cusp
_TRIM_PASSES = 3  # judgement: triangles with no corner off the rim are gone by then
_SKIRT_MM = 2.0  # judgement: land wall kept on an open scan


@dataclass(frozen=True, slots=True)
class ScanTruth:
    """What is known of a generated scan.

    Attributes
    ----------
    field : ArchField
        The noiseless surface in the patient frame, movements included.
    T_scan_patient : ndarray of shape (4, 4)
    T_moved_planned : mapping of tooth to ndarray of shape (4, 4)
        Movement of each unit in the patient frame, the lattice's scale included; identity where it stayed.
    lattice_scale : float
    noise_um, correlated_um, correlation_mm : float
    """

    field: ArchField
    T_scan_patient: Transform
    T_moved_planned: Mapping[int, Transform]
    lattice_scale: float
    noise_um: float
    correlated_um: float
    correlation_mm: float

    def shift_mm(self, tooth: int, about_mm: FloatArray) -> FloatArray:
        """Return the unit's true shift (3,) at a point of the patient frame."""
        moved: FloatArray = apply_transform(self.T_moved_planned[tooth], np.atleast_2d(about_mm))[0]
        return moved - about_mm

    def turn_rad(self, tooth: int) -> FloatArray:
        """Return the unit's true turn as a rotation vector (3,) in the patient frame."""
        return np.asarray(Rotation.from_matrix(self.T_moved_planned[tooth][:3, :3]).as_rotvec(), dtype=float)


@dataclass(frozen=True, slots=True)
class GeneratedScan:
    """A surface as a scanner would give it, with its truth.

    Attributes
    ----------
    vertices_mm : ndarray of shape (n, 3)
        In the scan's own frame.
    faces : ndarray of shape (m, 3)
        Outward triangles.
    truth : ScanTruth
    """

    vertices_mm: FloatArray
    faces: IntArray
    truth: ScanTruth

    def surface(self) -> Surface:
        """Return the scan as a surface, without its truth."""
        return Surface(self.vertices_mm, np.ascontiguousarray(self.faces, dtype=np.int32))


def generate_arch(  # noqa: PLR0913 - a scan has that many independent properties; all but one are named
    spec: ArchSpec,
    *,
    grid_mm: float,
    rng: np.random.Generator,
    movements: Mapping[int, Movement] | None = None,
    lattice_scale: float = 1.0,
    noise_um: float = 10.0,
    correlated_um: float = 0.0,
    correlation_mm: float = 2.0,
    closed_base: bool = False,
    T_scan_patient: Transform | None = None,
    progress: Progress = SILENT,
) -> GeneratedScan:
    """Scan an arch: every call with another state of `rng` gives another tessellation and other noise.

    Parameters
    ----------
    spec : ArchSpec
    grid_mm : float
        Grid spacing, 0.05 to 0.6; 0.3 gives about 80 000 vertices.
    rng : numpy.random.Generator
    movements : mapping of tooth to Movement, optional
        Units that do not stand where they were planned; the gum stays.
    lattice_scale : float
        Distances between units, and the gum, grow by this; crowns keep their size.
    noise_um, correlated_um : float
        Standard deviations along the surface normal: independent from vertex to vertex, and smooth.
    correlation_mm : float
        Length of the smooth part: its correlation falls as exp(-d^2 / (2 length^2)).
    closed_base : bool
        A flat base and a closed surface; open below, as scanners give it, otherwise.
    T_scan_patient : ndarray of shape (4, 4), optional
        Pose of the scan; identity when None.

    Raises
    ------
    ValueOutOfRange
        If the grid is too fine or too coarse, or a moved tooth does not stand in the spec.
    """
    if not 0.05 <= grid_mm <= 0.6:
        raise ValueOutOfRange(f"grid_mm must lie in 0.05 to 0.6, got {grid_mm}")
    planned = make_arch_field(spec, closed_base=closed_base)
    moves = _moves(spec, planned, movements or {}, lattice_scale)
    field = planned.moved(moves, lattice_scale)
    grid = _place_grid(field, grid_mm, rng)
    vertices, faces = extract_surface(field, grid, progress)
    if not closed_base:
        vertices, faces = _trim(vertices, faces, field.sign, field.ridge.land_mm - _SKIRT_MM)
    vertices = _add_noise(vertices, faces, rng, (noise_um, correlated_um, correlation_mm))
    pose = np.eye(4) if T_scan_patient is None else T_scan_patient
    truth = ScanTruth(field, pose, moves, lattice_scale, noise_um, correlated_um, correlation_mm)
    return GeneratedScan(apply_transform(pose, vertices), faces, truth)


def draw_pose(rng: np.random.Generator, *, reach_mm: float = 40.0) -> Transform:
    """Return a random rigid pose: any turn, shift up to `reach_mm` along each axis."""
    turn = Rotation.random(rng=rng).as_rotvec()
    return make_transform(turn, rng.uniform(-reach_mm, reach_mm, 3))


def _moves(spec: ArchSpec, field: ArchField, movements: Mapping[int, Movement], scale: float) -> dict[int, Transform]:
    standing = {part.tooth for part in spec.teeth}
    strange = sorted(set(movements) - standing)
    if strange:
        raise ValueOutOfRange(f"cannot move teeth that are not there: {strange}")
    fixed = field.fixed_mm
    moves = {}
    for tooth in standing:
        middle = field.middle_mm(tooth)
        movement = movements.get(tooth, Movement())
        about = middle if movement.about_mm is None else np.array(movement.about_mm)
        shift = np.array(movement.shift_mm) + (scale - 1.0) * (middle - fixed)
        turn = make_transform(np.array(movement.turn_rad), np.zeros(3))
        turn[:3, 3] = about - turn[:3, :3] @ about + shift
        moves[tooth] = turn
    return moves


def _place_grid(field: ArchField, grid_mm: float, rng: np.random.Generator) -> Grid:
    """Grid around the arch, turned about z and tipped a little, shifted by a part of its spacing."""
    x = np.array([frame.middle_mm[:2] for frame in field.frames.values()])
    low_up = field.floor_mm - 1.0 if field.floor_mm is not None else field.ridge.land_mm - _SKIRT_MM
    up = np.array(
        [low_up, max(frame.middle_mm[2] + 0.4 * frame.crown_mm for frame in field.frames.values()) + _OVER_MM]
    )
    z = np.sort(field.sign * up)
    low = np.array([*(x.min(axis=0) - _SIDE_MM), z[0]])
    high = np.array([*(x.max(axis=0) + _SIDE_MM), z[1]])
    corners = np.array([[(low, high)[i >> k & 1][k] for k in range(3)] for i in range(8)])
    turn = Rotation.from_euler("zyx", [rng.uniform(-0.3, 0.3), *rng.uniform(-0.05, 0.05, 2)])
    inside = turn.inv().apply(corners)
    start = inside.min(axis=0) - grid_mm * (1.0 + rng.random(3))
    shape = np.ceil((inside.max(axis=0) - start) / grid_mm).astype(int) + 2
    T_world_grid = np.eye(4)
    T_world_grid[:3, :3] = turn.as_matrix()
    T_world_grid[:3, 3] = turn.apply(start)
    return Grid((int(shape[0]), int(shape[1]), int(shape[2])), grid_mm, T_world_grid)


def _trim(vertices: FloatArray, faces: IntArray, sign: float, level_mm: float) -> tuple[FloatArray, IntArray]:
    """Drop what lies under a level and bring the rim, which is on upright walls there, down to it."""
    faces = faces[(sign * vertices[:, 2] > level_mm)[faces].all(axis=1)]
    for _ in range(_TRIM_PASSES):
        rim = np.zeros(len(vertices), dtype=bool)
        rim[find_rim(faces)] = True
        faces = faces[~rim[faces].all(axis=1)]
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    number = np.cumsum(used) - 1
    vertices, faces = vertices[used], number[faces]
    vertices[find_rim(faces), 2] = sign * level_mm
    return vertices, faces


def _add_noise(
    vertices: FloatArray, faces: IntArray, rng: np.random.Generator, size: tuple[float, float, float]
) -> FloatArray:
    noise_um, correlated_um, correlation_mm = size
    along = noise_um * 1e-3 * rng.standard_normal(len(vertices))
    if correlated_um > 0:
        waves = rng.standard_normal((3, _WAVES)) / correlation_mm
        phase = rng.uniform(0, 2 * np.pi, _WAVES)
        smooth = np.cos(vertices @ waves + phase).sum(axis=1) * np.sqrt(2 / _WAVES)
        along = along + correlated_um * 1e-3 * smooth
    return vertices + along[:, None] * measure_vertex_normals(vertices, faces)
