"""The matched points of one unit, gathered in small cells of its surface, and how its pose answers to them."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seatwright.cast._correlation import Places
from seatwright.cast._units import UnitFits
from seatwright.mesh import SurfaceIndex
from seatwright.quantities import FloatArray

__all__ = ["UnitCells", "gather_cells", "gather_points", "measure_sag_mm"]

_CELLS_A_UNIT = 56  # judgement: enough for six parameters and three of the noise, and several facets wide
# judgement: four times as many left the turns 1 % short at a length of 4 mm, 56 left them 6 % short
_FINE_CELLS_A_UNIT = 300
_LEAST_KEPT = 0.05  # judgement: a turn of which normals show a twentieth is as good as not seen, and told so


@dataclass(frozen=True, slots=True, eq=False)
class UnitCells:
    """Residuals of one unit, gathered in small cells of the surface."""

    places: Places
    residual_mm: FloatArray
    """(c,): weighted mean residual of each cell."""
    weight: FloatArray
    """(c,): sum of weights."""
    n_effective: FloatArray
    """(c,): effective number of points."""
    fine: Places
    """Smaller cells of the same points: the noise is read on the larger ones, the pose answers to it on these."""
    meat: FloatArray
    """(6, 6): sum of squared weight times row' row over the points."""
    hessian: FloatArray
    """(6, 6): how fast the weighted residuals answer to a motion: sum of weight times row' row without the noise of the
    normals, times the mean slope of the robust influence over the mean weight (for a cut at 4.685 sigma about 0.83)."""
    spread_mm: float
    """Root mean square distance of the points from their middle: lever of a turn."""
    sag_mm: float
    """How far the facets of both scans lie, on average, off the curved surface for which they stand."""


def gather_cells(fits: UnitFits, number: int, area_mm2: float, sag_mm: float = 0.0) -> UnitCells:
    """Gather the matched points of one unit, both ways, in small cells; `sag_mm` is that of its facets."""
    poses = fits.fit.poses
    rotation, shift, center = poses.rotations[number], poses.shifts[number], poses.centers[number]
    parts: list[tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]] = []
    sets = [(fits.fit.forward, fits.fit.forward_weights, fits.points, rotation)]
    if fits.fit.backward is not None:
        sets.append((fits.fit.backward, fits.fit.backward_weights, fits.returning, np.eye(3)))
    for equations, weights, body, turned in sets:
        mine = (body.body == number) & (weights > 0)
        points, normals = body.points[mine], body.normals[mine] @ turned.T
        arms = (points - center) @ turned.T if body is fits.points else points - center - shift
        own = np.hstack([normals, np.cross(arms, normals)])
        parts.append((points, equations.rows[mine], own, equations.residual_mm[mine], weights[mine]))
    points, rows, own, residual, weights = (np.concatenate(part) for part in zip(*parts, strict=True))
    slope = _slope(residual, weights, fits.fit.cut_mm)
    cells = gather_points(points, rows, (residual, weights), area_mm2, slope)
    return replace(cells, hessian=slope * _stiffness(rows, own, weights), sag_mm=sag_mm)


def gather_points(
    points_mm: FloatArray, rows: FloatArray, fitted: tuple[FloatArray, FloatArray], area_mm2: float, slope: float
) -> UnitCells:
    """Gather points with their equations, and their (residual, weight), in some 56 cells and in some 300.

    `slope` is the mean derivative of the robust influence over the mean weight, 1 for least squares.
    """
    residual, weights = fitted
    cell, counts = _number_cells(points_mm, area_mm2 / _CELLS_A_UNIT)
    fine, fine_counts = _number_cells(points_mm, area_mm2 / _FINE_CELLS_A_UNIT)
    weight = np.asarray(np.bincount(cell, weights=weights, minlength=len(counts)), dtype=np.float64)
    normal = np.einsum("i,ia,ib->ab", weights, rows, rows)
    return UnitCells(
        places=_sum_in_cells(points_mm, rows, weights, cell, len(counts)),
        residual_mm=np.bincount(cell, weights=weights * residual, minlength=len(counts)) / weight,
        weight=weight,
        n_effective=weight**2 / np.bincount(cell, weights=weights**2, minlength=len(counts)),
        fine=_sum_in_cells(points_mm, rows, weights, fine, len(fine_counts)),
        meat=np.einsum("i,ia,ib->ab", weights**2, rows, rows),
        hessian=normal * slope,
        spread_mm=float(np.sqrt(((points_mm - points_mm.mean(axis=0)) ** 2).sum(axis=1).mean())),
        sag_mm=0.0,
    )


def _stiffness(rows: FloatArray, own: FloatArray, weights: FloatArray) -> FloatArray:
    """How fast the weighted residuals answer to a motion, free of what the normals' own noise adds.

    `rows` bear the noise of the surface that a point meets, `own` that of the surface which it comes from: the two are
    independent, so that their product has the mean of the true rows'. The square of either would be too stiff by the
    square of the noise in the normals, which is a third of all there is for the turn of a round crown.

    References
    ----------
    .. [1] Fuller, Measurement Error Models (1987), section 1.4 (instrumental variables).
    """
    plain = np.einsum("i,ia,ib->ab", weights, rows, rows)
    crossed = np.einsum("i,ia,ib->ab", weights, rows, own)
    root = np.linalg.cholesky(plain)
    back = np.linalg.inv(root)
    values, vectors = np.linalg.eigh(back @ (crossed + crossed.T) / 2 @ back.T)
    kept = np.clip(values, _LEAST_KEPT, None)
    half = root @ vectors
    return np.asarray((half * kept) @ half.T, dtype=np.float64)


def _number_cells(points_mm: FloatArray, area_mm2: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Cell of each point and points in each cell; cubes that cut about this area out of a surface."""
    keys = np.floor((points_mm - points_mm.min(axis=0)) / np.sqrt(area_mm2)).astype(np.int64)
    spans = keys.max(axis=0) + 1
    _, cell, counts = np.unique(
        (keys[:, 0] * spans[1] + keys[:, 1]) * spans[2] + keys[:, 2], return_inverse=True, return_counts=True
    )
    return cell.ravel(), counts


def _sum_in_cells(
    points_mm: FloatArray, rows: FloatArray, weights: FloatArray, cell: NDArray[np.int64], n: int
) -> Places:
    def add(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(cell, weights=weights * values, minlength=n), dtype=np.float64)

    weight = add(np.ones(len(cell)))
    centers = np.column_stack([add(points_mm[:, k]) for k in range(3)]) / weight[:, None]
    extent2 = add(((points_mm - centers[cell]) ** 2).sum(axis=1)) / weight
    return Places(centers, np.column_stack([add(rows[:, k]) for k in range(6)]), extent2)


def measure_sag_mm(index: SurfaceIndex, face_ids: NDArray[np.int64]) -> float:
    """Mean distance between some faces and the curved surface that bends with their corners' normals.

    References
    ----------
    .. [1] Boubekeur, Alexa, Phong tessellation, ACM Transactions on Graphics 27(5) (2008): off the facet by sums of
       u_i u_j (n_i - n_j).(p_i - p_j); half of them for a quadric, whose u_i u_j is a twelfth on average.
    """
    corners = index.surface.faces[face_ids]
    points, normals = index.surface.vertices_mm[corners], index.vertex_normals[corners]
    sag = np.zeros(len(corners))
    for i, j in ((0, 1), (1, 2), (2, 0)):
        sag += np.einsum("ka,ka->k", normals[:, i] - normals[:, j], points[:, i] - points[:, j]) / 24
    return float(np.abs(sag).mean()) if len(sag) else 0.0


def _slope(residual: FloatArray, weights: FloatArray, cut_mm: float) -> float:
    """Mean derivative of Tukey's influence over the mean weight; the weights alone would promise too small a u.

    References
    ----------
    .. [1] Huber, Ronchetti, Robust Statistics, 2nd ed. (2009), section 7.6: the bread is built from psi', not psi/r.
    """
    squared = (residual / cut_mm) ** 2
    slope = float(((1 - squared) * (1 - 5 * squared)).sum() / weights.sum())
    # judgement: below a third the residuals are no core with a few outliers any more
    return max(slope, 1 / 3)
