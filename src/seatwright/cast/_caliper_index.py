"""The index test: fix a rigid index at one seat, read the gap at the others by foil, and find the abutment that is off.

Readings are one-sided and come in steps: a foil enters or it does not, and an index that is pressed too deep reads 0.
Owns the inequalities; says which abutment can explain them, and when that cannot be told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy import optimize

from seatwright.cast._caliper_sketch import nominal_places
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["FoilReading", "GapModel", "IndexCandidate", "find_candidates", "make_gap_model", "next_reading"]

_K = 2.0  # common practice: coverage factor 2 for about 95 % (JCGM 100:2008, 6.3.3)
_HIGHEST_UM = 1_000.0  # judgement: a die that stands off by more is seen by eye
_STEEPEST = 100.0  # judgement: µm a mm; a die tilted by more (6 degrees) is seen by eye
_MOST_SEATS = 14  # judgement: no arch has more abutments; keeps pairs of them few
_DIFFER = 1e-3  # judgement: ranges that merely differ count little beside ranges that lie apart
_IN_LINE = 0.05  # judgement: seats whose spread across is below this share of their spread along stand in one line


@dataclass(frozen=True, slots=True)
class FoilReading:
    """One gap, bracketed by foils.

    Attributes
    ----------
    fixed, at : str
        Seat at which the index was fixed, and seat at which the gap was read. The same: whether it sat there at all.
    passes_um : float
        Thickest foil that entered; 0 when none did.
    stops_um : float or None
        Thinnest foil that did not enter; None when every foil tried did.
    line : int
        Line of the file; 0 when there is none.
    """

    fixed: str
    at: str
    passes_um: float
    stops_um: float | None
    line: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class GapModel:
    """Gaps as linear functions of each abutment's height and tilts.

    Attributes
    ----------
    seats : tuple of str
    places_mm : ndarray of shape (n, 2)
    is_in_line : bool
        Then only the tilt along the line shows.
    rows : ndarray of shape (m, n * p)
        Signed gap in µm per unit of (height in µm, tilt along in µm a mm, tilt across); p is 3, or 2 in one line.
    low_um, high_um : ndarray of shape (m,)
        Between these the signed gap lies; infinite where a foil says nothing.
    rank, n_unknowns : int
        Rank of the readings, and unknowns left after the index's own pose: 3 n - 3, in one line 2 n - 2.
    """

    seats: tuple[str, ...]
    places_mm: FloatArray
    is_in_line: bool
    rows: FloatArray
    low_um: FloatArray
    high_um: FloatArray
    rank: int
    n_unknowns: int

    @property
    def n_each(self) -> int:
        """Unknowns of one abutment."""
        return 2 if self.is_in_line else 3

    def columns(self, seats: Sequence[str]) -> list[int]:
        """Return the columns of some abutments' unknowns."""
        p = self.n_each
        return [self.seats.index(name) * p + k for name in seats for k in range(p)]


def make_gap_model(readings: Sequence[FoilReading], places_mm: dict[str, tuple[float, float]]) -> GapModel:
    """Write each reading as bounds on a linear function of heights and tilts.

    An abutment's height z and tilts a, b lift the index, fixed there, at plan distance (x, y) by z + a x + b y; the gap
    is that minus the other abutment's height.

    Raises
    ------
    ValueOutOfRange
        If a seat has no place, neither given nor known from its tooth number.
    CannotCompute
        With fewer than two seats, more than are taken, or two seats on one place.
    """
    seats = tuple(dict.fromkeys(name for r in readings for name in (r.fixed, r.at)))
    if len(seats) < 2:
        raise CannotCompute(
            "an index test needs at least two seats", hint="fix the index at one, read the gap at another"
        )
    if len(seats) > _MOST_SEATS:
        raise CannotCompute(f"{len(seats)} seats are more than the {_MOST_SEATS} that are taken")
    known = {**nominal_places(seats), **places_mm}
    missing = [name for name in seats if name not in known]
    if missing:
        raise ValueOutOfRange(
            f"seat '{missing[0]}' has no place",
            hint="give x_mm and y_mm of every seat (plan, to a millimeter), or name seats by tooth numbers of one arch",
        )
    places = np.array([known[name] for name in seats])
    _require_apart(places, seats)
    along, is_in_line = _axes(places)
    local = (places - places.mean(axis=0)) @ along.T
    counted = [r for r in readings if r.fixed != r.at]
    rows = np.array([_row(r, seats, local, is_in_line) for r in counted]).reshape(len(counted), -1)
    low = np.array([r.passes_um if r.passes_um > 0 else -np.inf for r in counted])
    high = np.array([np.inf if r.stops_um is None else r.stops_um for r in counted])
    n_unknowns = (2 if is_in_line else 3) * (len(seats) - 1)
    rank = int(np.linalg.matrix_rank(rows)) if counted else 0
    return GapModel(seats, places, is_in_line, rows, low, high, rank, n_unknowns)


def _require_apart(places: FloatArray, seats: tuple[str, ...]) -> None:
    for i, j in combinations(range(len(seats)), 2):
        if float(np.linalg.norm(places[i] - places[j])) < 1.0:
            raise CannotCompute(
                f"seats {seats[i]} and {seats[j]} stand on one place", hint="give their places in plan, x_mm and y_mm"
            )


def _axes(places: FloatArray) -> tuple[FloatArray, bool]:
    _, strengths, along = np.linalg.svd(places - places.mean(axis=0), full_matrices=True)
    return along, len(places) == 2 or bool(strengths[1] < _IN_LINE * strengths[0])


def _row(reading: FoilReading, seats: tuple[str, ...], local: FloatArray, is_in_line: bool) -> FloatArray:
    p = 2 if is_in_line else 3
    row = np.zeros(len(seats) * p)
    k, j = seats.index(reading.fixed), seats.index(reading.at)
    row[k * p] = 1.0
    row[k * p + 1 : k * p + p] = (local[j] - local[k])[: p - 1]
    row[j * p] -= 1.0
    return row


@dataclass(frozen=True, slots=True)
class IndexCandidate:
    """Abutments that can explain all readings, if nothing else is off.

    Attributes
    ----------
    seats : tuple of str
    misfit_um : float
        Largest distance of a reading from what they can explain.
    height_um : tuple of tuple of (float or None)
        Range of each one's height; below 0 it stands low. None: unbounded.
    tilt_um_per_mm : tuple of tuple of (float or None)
        Range of each one's tilt along the longest extent (µm a mm, that is milliradians).
    """

    seats: tuple[str, ...]
    misfit_um: float
    height_um: tuple[tuple[float | None, float | None], ...]
    tilt_um_per_mm: tuple[tuple[float | None, float | None], ...]


def find_candidates(model: GapModel, *, u_foil_um: float, n_off: int) -> tuple[float, tuple[IndexCandidate, ...]]:
    """Return the best misfit and every set of `n_off` abutments that explains the readings within 2 u.

    Each set is a linear program: the smallest largest violation of the foils' bounds.
    """
    best, found = np.inf, []
    for chosen in combinations(model.seats, n_off):
        misfit = _misfit(model, chosen)
        best = min(best, misfit)
        if misfit <= _K * u_foil_um + 1e-6:
            found.append(_describe(model, chosen, misfit, _K * u_foil_um))
    return best, tuple(found)


def _misfit(model: GapModel, chosen: tuple[str, ...]) -> float:
    """Smallest largest violation, µm, when only these abutments are off (none: the readings against 0)."""
    matrix, bound = _inequalities(model, chosen)
    if not len(bound):
        return 0.0
    n = matrix.shape[1]
    cost = np.append(np.zeros(n), 1.0)
    with_slack = np.column_stack([matrix, -np.ones(len(bound))])
    limits = [*_limits(model, len(chosen)), (0.0, None)]
    done = optimize.linprog(cost, A_ub=with_slack, b_ub=bound, bounds=limits, method="highs")
    if done.status != 0 or done.x is None:
        raise CannotCompute(f"the foil readings could not be solved ({done.message})")
    return float(done.x[-1])


def _limits(model: GapModel, n_chosen: int) -> list[tuple[float, float | None]]:
    """Return bounds of the unknowns of some abutments: heights, then tilts, of each."""
    each = [_HIGHEST_UM, *[_STEEPEST] * (model.n_each - 1)]
    return [(-most, most) for most in each * n_chosen]


def _inequalities(model: GapModel, chosen: tuple[str, ...]) -> tuple[FloatArray, FloatArray]:
    """Return A, b with A x <= b for the chosen abutments' unknowns."""
    part = model.rows[:, model.columns(chosen)]
    has_low, has_high = np.isfinite(model.low_um), np.isfinite(model.high_um)
    matrix = np.vstack([part[has_high], -part[has_low]])
    return matrix, np.concatenate([model.high_um[has_high], -model.low_um[has_low]])


def _describe(model: GapModel, chosen: tuple[str, ...], misfit: float, slack: float) -> IndexCandidate:
    matrix, bound = _inequalities(model, chosen)
    allowed = bound + max(slack, misfit * (1 + 1e-9) + 1e-9)
    heights, tilts = [], []
    for place in range(len(chosen)):
        start = place * model.n_each
        limits = _limits(model, len(chosen))
        heights.append(_range(matrix, allowed, _unit(matrix.shape[1], start), limits))
        tilts.append(_range(matrix, allowed, _unit(matrix.shape[1], start + 1), limits))
    return IndexCandidate(chosen, misfit, tuple(heights), tuple(tilts))


def _unit(n: int, place: int) -> FloatArray:
    return np.asarray(np.eye(n)[place])


def _range(
    matrix: FloatArray, bound: FloatArray, cost: FloatArray, limits: list[tuple[float, float | None]]
) -> tuple[float | None, float | None]:
    """Return the smallest and largest value of a linear function under A x <= b; None where only the limits hold it."""
    widest = sum(abs(c) * (most or 0.0) for c, (_, most) in zip(cost, limits, strict=True))
    ends: list[float | None] = []
    for sign in (1.0, -1.0):
        done = optimize.linprog(sign * cost, A_ub=matrix, b_ub=bound, bounds=limits, method="highs")
        value = float(cost @ done.x) if done.status == 0 and done.x is not None else None
        ends.append(value if value is not None and abs(value) < 0.99 * widest else None)
    return ends[0], ends[1]


def next_reading(
    model: GapModel, candidates: Sequence[IndexCandidate], readings: Sequence[FoilReading], *, u_foil_um: float
) -> tuple[str, str] | None:
    """Return the unread gap (fixed, at) that parts the candidates best; None when none would.

    It is the one whose predicted gaps, each candidate's own range, lie farthest apart; where all overlap, the one whose
    ranges differ most.
    """
    done = {(r.fixed, r.at) for r in readings}
    best, chosen = 0.0, None
    for fixed in model.seats:
        for at in model.seats:
            if fixed == at or (fixed, at) in done:
                continue
            apart = _apart(model, candidates, (fixed, at), _K * u_foil_um)
            if apart > best:
                best, chosen = apart, (fixed, at)
    return chosen


def _apart(model: GapModel, candidates: Sequence[IndexCandidate], gap: tuple[str, str], slack: float) -> float:
    """Score, over pairs of candidates, how far the gaps that they predict lie apart, or at least differ."""
    along, _ = _axes(model.places_mm)
    local = (model.places_mm - model.places_mm.mean(axis=0)) @ along.T
    row = _row(FoilReading(gap[0], gap[1], 0.0, None), model.seats, local, model.is_in_line)
    ranges = []
    for candidate in candidates:
        matrix, bound = _inequalities(model, candidate.seats)
        allowed = bound + max(slack, candidate.misfit_um + 1e-6)
        limits = _limits(model, len(candidate.seats))
        low, high = _range(matrix, allowed, row[model.columns(candidate.seats)], limits)
        # an index that is pressed too deep reads 0, however deep
        ranges.append(
            (
                max(0.0, low if low is not None else 0.0),
                min(_HIGHEST_UM, max(0.0, high if high is not None else _HIGHEST_UM)),
            )
        )
    apart = sum(max(0.0, a[0] - b[1], b[0] - a[1]) for a, b in combinations(ranges, 2))
    differ = sum(abs(a[0] - b[0]) + abs(a[1] - b[1]) for a, b in combinations(ranges, 2))
    return float(apart + _DIFFER * differ)
