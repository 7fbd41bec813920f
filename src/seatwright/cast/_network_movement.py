"""Two epochs of one network: are the figures congruent, which marks hold the frame, how far did each other one move.

Owns congruency tests, S-transforms and detectable movements. All on differences of coordinates with their covariance.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import stats

from seatwright.cast._network import inner_constraints
from seatwright.cast._network_tests import noncentrality
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray

__all__ = [
    "ALPHA_FIGURE",
    "Congruency",
    "StableMarks",
    "detectable_along_mm",
    "detectable_axes_mm",
    "find_stable_marks",
    "fit_scale",
    "judge_congruency",
    "localize",
]

ALPHA_FIGURE = 0.05  # common practice: 5 % for figures, 0.1 % for single readings
_ALPHA_GROUP = 0.01  # judgement: once the whole figure failed, a group that did not move is given up in 1 % of cases


@dataclass(frozen=True, slots=True)
class Congruency:
    """Test of 'the two figures are congruent' (or similar, with a scale).

    Attributes
    ----------
    f : float
        Mean squared deviation over its expectation.
    limit : float or None
        None when there is nothing to test.
    rank : int
        Independent shape differences: 2 n - 3 in a plane, 3 n - 6 in space, one less with a scale.
    dof : float or None
        Of the uncertainty; None when it is known.
    p : float
    passes : bool
    """

    f: float
    limit: float | None
    rank: int
    dof: float | None
    p: float
    passes: bool


def localize(
    points_mm: FloatArray, moved_mm: FloatArray, covariance: FloatArray, *, stable: tuple[int, ...], scale: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Refer movements to some marks: the rigid motion (and scale) that fits those marks best is taken out.

    Parameters
    ----------
    points_mm : ndarray of shape (n, d)
    moved_mm : ndarray of shape (n d,)
        Differences of coordinates of two epochs, in one datum.
    covariance : ndarray of shape (n d, n d)
    stable : tuple of int
        Marks that hold the frame: d at least (2 in a plane, 3 in space), one more with `scale`.
    scale : bool
        Take a uniform scale out too.

    Returns
    -------
    moved_mm : ndarray of shape (n d,)
    covariance : ndarray of shape (n d, n d)

    Raises
    ------
    CannotCompute
        If the stable marks do not fix the frame (too few, or all in one line in space).

    References
    ----------
    .. [1] Baarda W. S-transformations and criterion matrices. Netherlands Geodetic Commission 1973;5(1).
    """
    n, d = points_mm.shape
    motions = inner_constraints(points_mm, with_scale=scale)
    chosen = np.repeat(np.isin(np.arange(n), stable), d)
    held = motions * chosen[:, None]
    fixing = held.T @ motions
    values = np.linalg.eigvalsh(fixing)
    if values[0] < 1e-6:
        raise CannotCompute(
            "the marks that should hold the frame do not fix it",
            hint="name more stable marks, not all in one line",
        )
    away = np.eye(n * d) - motions @ np.linalg.solve(fixing, held.T)
    return away @ moved_mm, away @ covariance @ away.T


def fit_scale(
    points_mm: FloatArray, moved_mm: FloatArray, covariance: FloatArray, stable: tuple[int, ...]
) -> tuple[float, float] | None:
    """Return the scale of the second figure over the first, minus one, with u; None with too few stable marks.

    Generalized least squares over the stable marks alone. Three are needed in a plane, four in space, two on a line.
    """
    n, d = points_mm.shape
    if len(stable) < d + 1:
        return None
    rows = np.repeat(np.isin(np.arange(n), stable), d)
    part = points_mm[list(stable)]
    motions = inner_constraints(part)
    dilation = (part - part.mean(axis=0)).ravel()
    dilation = dilation - motions @ (motions.T @ dilation)
    basis = _complement(motions)
    seen = basis.T @ moved_mm[rows]
    weight = np.linalg.pinv(basis.T @ covariance[np.ix_(rows, rows)] @ basis, rcond=1e-10, hermitian=True)
    pull = basis.T @ dilation
    strength = float(pull @ weight @ pull)
    if strength <= 0:
        return None
    return float(pull @ weight @ seen) / strength, 1 / math.sqrt(strength)


def _complement(columns: FloatArray) -> FloatArray:
    """Return an orthonormal basis of what is orthogonal to orthonormal columns."""
    left, _, _ = np.linalg.svd(columns, full_matrices=True)
    return np.asarray(left[:, columns.shape[1] :])


def judge_congruency(
    points_mm: FloatArray,
    moved_mm: FloatArray,
    covariance: FloatArray,
    *,
    marks: tuple[int, ...],
    dof: float = math.inf,
    scale: bool = False,
    alpha: float = ALPHA_FIGURE,
) -> Congruency:
    """Test whether some marks kept their figure between two epochs.

    Parameters
    ----------
    points_mm, moved_mm, covariance
        As in `localize`.
    marks : tuple of int
        Those whose figure is tested.
    dof : float
        Degrees of freedom of the readings' uncertainty.
    scale : bool
        Allow a uniform change of scale.
    alpha : float
        Share of figures that did not change and fail all the same.

    References
    ----------
    .. [1] Pelzer H. Zur Analyse geodätischer Deformationsmessungen. Deutsche Geodätische Kommission C 164, 1971.
    """
    n, d = points_mm.shape
    rows = np.repeat(np.isin(np.arange(n), marks), d)
    part = points_mm[list(marks)]
    basis = _complement(inner_constraints(part, with_scale=scale))
    rank = basis.shape[1]
    if rank == 0:
        return Congruency(0.0, None, 0, _known(dof), 1.0, True)
    seen = basis.T @ moved_mm[rows]
    inner = basis.T @ covariance[np.ix_(rows, rows)] @ basis
    f = float(seen @ np.linalg.solve(inner, seen)) / rank
    if math.isinf(dof):
        limit, p = float(stats.chi2.ppf(1 - alpha, rank)) / rank, float(stats.chi2.sf(f * rank, rank))
    else:
        limit, p = float(stats.f.ppf(1 - alpha, rank, dof)), float(stats.f.sf(f, rank, dof))
    return Congruency(f, limit, rank, _known(dof), p, f <= limit)


def _known(dof: float) -> float | None:
    return None if math.isinf(dof) else dof


@dataclass(frozen=True, slots=True)
class StableMarks:
    """Largest set of marks whose figure did not change, and its nearest rival.

    Attributes
    ----------
    members : tuple of int
    rival : tuple of int
        Another set, nearly as large, that kept its figure too and holds marks outside `members`; empty if none.
    overall : Congruency
        Of all marks together.
    own : Congruency
        Of the members.
    is_unique : bool
        More than half of the marks, and no rival.
    """

    members: tuple[int, ...]
    rival: tuple[int, ...]
    overall: Congruency
    own: Congruency
    is_unique: bool


def find_stable_marks(
    points_mm: FloatArray, moved_mm: FloatArray, covariance: FloatArray, *, dof: float = math.inf, scale: bool = False
) -> StableMarks:
    """Find the largest set of marks that kept its figure; all of them when the whole figure is congruent.

    Sets are tried from the largest down; of equal ones the most probable is taken. The whole figure is tested first,
    so that an unmoved cast raises an alarm in 5 % of cases; groups of it are tested at 1 %. A set of d marks in d
    dimensions is the smallest that fixes the frame; with a scale d + 2 are asked, so that its shape is tested at all.
    """
    n, d = points_mm.shape

    def judge(marks: tuple[int, ...]) -> Congruency:
        return judge_congruency(points_mm, moved_mm, covariance, marks=marks, dof=dof, scale=scale, alpha=_ALPHA_GROUP)

    everyone = tuple(range(n))
    overall = judge_congruency(points_mm, moved_mm, covariance, marks=everyone, dof=dof, scale=scale)
    least = max(2, d + 2 if scale else d)
    if n < least:
        return StableMarks((), (), overall, overall, False)
    if overall.passes:
        return StableMarks(everyone, (), overall, overall, True)
    found, rival = _search(judge, n, least, d)
    if found is None:
        return StableMarks((), (), overall, overall, False)
    members, own = found
    return StableMarks(members, rival, overall, own, 2 * len(members) > n and not rival)


_Found = tuple[tuple[int, ...], Congruency]


def _search(
    judge: Callable[[tuple[int, ...]], Congruency], n: int, least: int, n_axes: int
) -> tuple[_Found | None, tuple[int, ...]]:
    """Return the largest set that passes, the most probable of its size, and the nearest rival outside it."""
    found: _Found | None = None
    rivals: list[tuple[int, ...]] = []
    for marks in _descending(n, least):
        if found is not None and len(marks) < max(len(found[0]) - 1, min(n_axes + 1, len(found[0]))):
            break
        test = judge(marks)
        if not test.passes:
            continue
        if found is None or (len(marks) == len(found[0]) and test.p > found[1].p):
            rivals += [found[0]] if found is not None else []
            found = (marks, test)
        else:
            rivals.append(marks)
    if found is None:
        return None, ()
    outside = [marks for marks in rivals if not set(marks) <= set(found[0])]
    return found, max(outside, key=len, default=())


def _descending(n: int, least: int) -> Iterator[tuple[int, ...]]:
    for size in range(n - 1, least - 1, -1):
        yield from combinations(range(n), size)


def detectable_along_mm(covariance: FloatArray, direction: FloatArray, *, dof: float = math.inf) -> float:
    """Smallest movement of a mark along a direction that is found with 80 % power by a 5 % test of its position.

    Parameters
    ----------
    covariance : ndarray of shape (d, d)
        Of the mark's localized movement, mm squared.
    direction : ndarray of shape (d,)
        Unit vector.

    Examples
    --------
    >>> round(detectable_along_mm(np.eye(2), np.array([1.0, 0.0])) ** 2, 3)
    9.635
    """
    strength = noncentrality(covariance.shape[0], ALPHA_FIGURE, dof)
    return math.sqrt(strength / float(direction @ np.linalg.solve(covariance, direction)))


def detectable_axes_mm(covariance: FloatArray, *, dof: float = math.inf) -> tuple[FloatArray, FloatArray]:
    """Half-axes (d,), smallest first, and directions (d, d, columns) of the ellipse of detectable movements."""
    values, directions = np.linalg.eigh(covariance)
    strength = noncentrality(covariance.shape[0], ALPHA_FIGURE, dof)
    return np.sqrt(strength * np.clip(values, 0, None)), directions
