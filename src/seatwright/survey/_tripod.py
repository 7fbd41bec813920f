"""Tripod marks: three marks in one plane square to the path bring the cast back to its tilt; and the way back."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.mesh import Surface, find_rim_faces, measure_face_normals, trace_level
from seatwright.quantities import FloatArray
from seatwright.survey._path import InsertionPath, make_path
from seatwright.survey._undercut import UndercutFlag, UndercutMap

__all__ = ["MARK_U_MM", "ReadPath", "TripodMarks", "choose_tripod", "measure_retilt", "read_tripod"]

MARK_U_MM = (
    0.1  # judgement: standard uncertainty of one mark's height, half a sharp pencil line; nothing published found
)
_LEVELS = 24  # judgement: half a millimeter apart on a cast
_POINTS_A_LEVEL = 48  # judgement: every 4 mm round an arch
_FLATTEST = 0.94  # judgement: cosine of 20 degrees; on flatter places a blade leaves no clear line
_RIM_MM = 2.0  # judgement: where a scan ends it is thin and ragged, and nobody can mark it
_LEAST_HEIGHT_MM = 1.0  # judgement: a triangle less high than ten mark widths is a line
_TELLS_SIDES = 0.2  # judgement: a hint within 78 degrees of the normal tells which side is up


@dataclass(frozen=True, slots=True, eq=False)
class TripodMarks:
    """Three marks on a surface at one height along the path.

    Attributes
    ----------
    points_mm : ndarray of shape (3, 3)
        In the surface's frame.
    sides_mm : (float, float, float)
        Distances 1 to 2, 2 to 3, 3 to 1.
    u_mark_mm : float
        Standard uncertainty of the height of one mark, as assumed.
    u_retilt_deg : (float, float)
        Standard uncertainty of the tilt that the marks bring back, about the worst and the best axis in their plane:
        once marked, once touched again.
    """

    points_mm: FloatArray
    sides_mm: tuple[float, float, float]
    u_mark_mm: float
    u_retilt_deg: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class ReadPath:
    """A path read from three marks.

    Attributes
    ----------
    path : InsertionPath
    cov_rad2 : ndarray of shape (3, 3)
        Covariance of the unit direction, rad²; zero along the direction itself.
    u_tilt_deg : (float, float)
        Standard uncertainty about the worst and the best axis.
    """

    path: InsertionPath
    cov_rad2: FloatArray
    u_tilt_deg: tuple[float, float]


def choose_tripod(
    field: UndercutMap, *, allowed: NDArray[np.bool_] | None = None, u_mark_mm: float = MARK_U_MM
) -> TripodMarks | None:
    """Choose three marks that a blade at one height can reach, so wide apart that the tilt comes back best.

    Parameters
    ----------
    field : UndercutMap
        Says what is free along the path.
    allowed : ndarray of shape (n_faces,), bool, optional
        Where marks may stand, such as tissue that the framework leaves bare; default everywhere.
    u_mark_mm : float
        Standard uncertainty of one mark's height, > 0.

    Returns
    -------
    TripodMarks or None
        None when no height offers three marks in a triangle at least 1 mm high.

    Notes
    -----
    Over some heights, the triple of points of that height's lines whose second moment has the largest least
    eigenvalue; deterministic. Places within 20 degrees of level, all that is undercut, and what lies
    within 2 mm of the edge of an open surface, are left out.
    """
    _check_u(u_mark_mm)
    surface = field.surface
    up = np.array(field.path.withdraw_direction)
    heights = surface.vertices_mm @ up
    free = field.flags == UndercutFlag.FREE
    on_faces = free[surface.faces].all(axis=1) & (measure_face_normals(surface) @ up < _FLATTEST)
    on_faces &= ~_near_rim(surface)
    if allowed is not None:
        on_faces &= allowed
    if not on_faces.any():
        return None
    reached = heights[surface.faces[on_faces]]
    best, chosen = 0.0, None
    for level in np.linspace(reached.min(), reached.max(), _LEVELS + 2)[1:-1]:
        lines = trace_level(surface, heights, float(level), on_faces=on_faces)
        if not lines:
            continue
        points = _spread(np.vstack([line.points_mm for line in lines]))
        spread, triple = _widest_triple(points, field.path)
        if spread > best:
            best, chosen = spread, points[triple]
    if chosen is None or np.sqrt(best) < _LEAST_HEIGHT_MM:
        return None
    a, b, c = chosen
    sides = (float(np.linalg.norm(b - a)), float(np.linalg.norm(c - b)), float(np.linalg.norm(a - c)))
    return TripodMarks(chosen, sides, u_mark_mm, measure_retilt(chosen, field.path, u_mark_mm, u_mark_mm))


def measure_retilt(
    marks_mm: FloatArray, path: InsertionPath, u_mark_mm: float, u_touch_mm: float
) -> tuple[float, float]:
    """Measure how well three marks bring a tilt back: standard uncertainty about the worst and the best axis, deg.

    Parameters
    ----------
    marks_mm : ndarray of shape (3, 3)
        In the path's frame, mm.
    path : InsertionPath
    u_mark_mm, u_touch_mm : float
        Standard uncertainty of one mark's height when it is drawn, and when it is touched again; 0 or more.

    Notes
    -----
    The plane's slope is S^-1 sum x_i e_i, with x_i the marks about their middle in the plane, S = sum x_i x_i' and e_i
    the height errors; so its covariance is u² S^-1. Marking and touching again each add their own errors. An
    equilateral triangle of side a has S = a²/2: each axis gets u sqrt(2)/a from either.

    Examples
    --------
    >>> import numpy as np
    >>> marks = 40.0 * np.array([[0.0, 0, 0], [1, 0, 0], [0.5, np.sqrt(0.75), 0]])
    >>> worst, best = measure_retilt(marks, make_path((0.0, 0.0, -1.0)), 0.1, 0.0)
    >>> round(worst, 4), round(float(np.degrees(0.1 * np.sqrt(2) / 40)), 4)
    (0.2026, 0.2026)
    """
    for u in (u_mark_mm, u_touch_mm):
        _check_u(u, may_be_zero=True)
    plan = (marks_mm - marks_mm.mean(axis=0)) @ path.frame()[:2, :3].T
    low, high = np.linalg.eigvalsh(plan.T @ plan)
    if low <= 0:
        raise CannotCompute("the marks lie on one line, so they hold no tilt", hint="choose marks in a wide triangle")
    u = float(np.hypot(u_mark_mm, u_touch_mm))
    return float(np.degrees(u / np.sqrt(low))), float(np.degrees(u / np.sqrt(high)))


def read_tripod(
    marks_mm: FloatArray, *, withdraw_hint: FloatArray | tuple[float, float, float], u_mark_mm: float = MARK_U_MM
) -> ReadPath:
    """Read the path from three marks that lie in a plane square to it.

    Parameters
    ----------
    marks_mm : ndarray of shape (3, 3)
        In the surface's frame, mm, in any order.
    withdraw_hint : array of shape (3,)
        Roughly the way out, such as the occlusal normal: three marks alone fit the path and its mirror image alike.
    u_mark_mm : float
        Standard uncertainty of one mark's height, > 0.

    Raises
    ------
    ValueOutOfRange
        If the marks are not three finite points, or the uncertainty is no length.
    CannotCompute
        If they lie on one line (a triangle less than 1 mm high), or the hint lies in their plane.
    """
    marks = np.asarray(marks_mm, dtype=np.float64)
    if marks.shape != (3, 3) or not np.isfinite(marks).all():
        raise ValueOutOfRange("a tripod needs three marks of three finite coordinates")
    _check_u(u_mark_mm)
    middle = marks.mean(axis=0)
    _, spread, axes = np.linalg.svd(marks - middle)
    if spread[1] < _LEAST_HEIGHT_MM:
        raise CannotCompute(
            f"the three marks lie on one line (within {spread[1]:.2f} mm), so they hold no tilt",
            hint="choose marks in a wide triangle",
        )
    up = np.cross(axes[0], axes[1])
    side = float(up @ np.array(make_path(withdraw_hint).seat_direction))
    if abs(side) < _TELLS_SIDES:
        raise CannotCompute(
            "the hint lies in the plane of the marks, so it does not tell the path from its mirror image",
            hint="give roughly the way out, such as the occlusal normal",
        )
    up = up if side > 0 else -up
    cov = sum((u_mark_mm / spread[k]) ** 2 * np.outer(axes[k], axes[k]) for k in (0, 1))
    tilts = tuple(float(np.degrees(u_mark_mm / spread[k])) for k in (1, 0))
    return ReadPath(make_path(-up), np.asarray(cov), (tilts[0], tilts[1]))


def _near_rim(surface: Surface) -> NDArray[np.bool_]:
    """Mark faces near the edge of an open surface: a scan's edge is no place on the cast."""
    rim = surface.vertices_mm[np.unique(surface.faces[find_rim_faces(surface)])]
    if not len(rim):
        return np.zeros(surface.n_faces, dtype=np.bool_)
    away, _ = cKDTree(rim).query(surface.vertices_mm, distance_upper_bound=_RIM_MM)
    return np.asarray(np.isfinite(away)[surface.faces].any(axis=1))


def _check_u(u_mm: float, *, may_be_zero: bool = False) -> None:
    if not np.isfinite(u_mm) or u_mm < 0 or (u_mm == 0 and not may_be_zero):
        raise ValueOutOfRange(f"the uncertainty of a mark must be a length, got {u_mm}", hint="0.1 mm is usual")


def _spread(points: FloatArray) -> FloatArray:
    """Pick points one after the other, each the farthest from those picked."""
    picked = [int(np.argmax(np.linalg.norm(points - points.mean(axis=0), axis=1)))]
    away = np.linalg.norm(points - points[picked[0]], axis=1)
    while len(picked) < min(_POINTS_A_LEVEL, len(points)):
        picked.append(int(np.argmax(away)))
        away = np.minimum(away, np.linalg.norm(points - points[picked[-1]], axis=1))
    return points[picked]


def _widest_triple(points: FloatArray, path: InsertionPath) -> tuple[float, NDArray[np.int64]]:
    """Triple whose second moment in the plane has the largest least eigenvalue, and that eigenvalue, mm²."""
    if len(points) < 3:
        return 0.0, np.arange(len(points))
    plan = points @ path.frame()[:2, :3].T
    triples = np.array(list(combinations(range(len(points)), 3)))
    x = plan[triples]
    x = x - x.mean(axis=1, keepdims=True)
    xx, yy, xy = (x[..., 0] ** 2).sum(1), (x[..., 1] ** 2).sum(1), (x[..., 0] * x[..., 1]).sum(1)
    least = (xx + yy) / 2 - np.hypot((xx - yy) / 2, xy)
    best = int(np.argmax(least))
    return float(least[best]), triples[best]
