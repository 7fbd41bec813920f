"""The seating program: one rigid placement must satisfy every wall, stop and path condition at once.

Owns the rows. Unknowns: the partial's shift and turn (6), the tilt of its path (2), shift and turn of each fixed body
within its play (6 each), and the slack. Turns are counted as mm at an arm of 20 mm. Refuses to know how likely
anything is.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.forecast._bodies import Body
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Feature, allowed_gap_mm
from seatwright.forecast._levels import take_level
from seatwright.forecast._simplex import BasisPool
from seatwright.forecast._vectors import across, cross
from seatwright.quantities import FloatArray

__all__ = ["SeatingAnswer", "SeatingProgram", "build_program"]

_ARM_MM = 20.0  # judgement: only scales turns to the size of shifts
_N_SIDES = 8  # judgement: an inscribed octagon takes a round clearance 7.6 % too narrow at worst, never too wide
_MAX_SLACK_MM = 1.0  # judgement: bounds the slack; every real gap is smaller
_OPEN_MM = 10.0  # judgement: right-hand side of a row that does not count in a stage
_CROWN_HALF_MM = 3.0  # judgement: half height of a crown's walls, where its cement space is used up
_CROWN_RADIUS_MM = 3.0  # judgement: radius at which a crown's turn about its axis is stopped


@dataclass(frozen=True, slots=True)
class SeatingAnswer:
    """Slack and what binds, per trial.

    Attributes
    ----------
    slack_mm : ndarray of shape (n,)
        Room left at the tightest place of the best placement; negative: no placement seats it.
    weights : ndarray of shape (n, n_features)
        How much each feature decides that; each row sums to one, or to zero where nothing was close.
    """

    slack_mm: FloatArray
    weights: FloatArray


@dataclass(frozen=True, slots=True)
class _Row:
    feature: int
    point_mm: FloatArray
    normal: FloatArray
    gap_mm: float
    travel_mm: float = 0.0


@dataclass(frozen=True)
class _Frame:
    """What the columns stand for: which bodies float, where turns are counted from, which way the path leads."""

    features: tuple[Feature, ...]
    bodies: tuple[Body, ...]
    path: FloatArray

    @cached_property
    def carrying(self) -> list[int]:
        return sorted({f.body for f in self.features if f.has_to_seat})

    @cached_property
    def origin_mm(self) -> FloatArray:
        return find_center(self.bodies)

    @cached_property
    def sideways(self) -> FloatArray:
        return across(self.path, self.bodies[0].center_mm - self.origin_mm)

    @property
    def n_columns(self) -> int:
        return 8 + 6 * len(self.carrying) + 1

    def first_column(self, body: int) -> int:
        return 8 + 6 * self.carrying.index(body)


class SeatingProgram:
    """Constraint rows of one case with one pool of solved bases per stage; see `build_program`."""

    def __init__(
        self, rows: list[_Row], frame: _Frame, choices: Choices, *, like: "SeatingProgram | None" = None
    ) -> None:
        walls = [_wall_line(row, frame) for row in rows]
        play = _play_of_bodies(frame, choices)
        bound = np.eye(frame.n_columns)[-1]
        self.rows: FloatArray = np.array([*(line for line, _ in walls), *(line for line, _ in play), bound])
        self.gaps_mm: FloatArray = np.array([*(gap for _, gap in walls), *(room for _, room in play), _MAX_SLACK_MM])
        self.projection: FloatArray = _project(rows, frame.features)
        self._is_mouth = np.array([frame.features[row.feature].is_picked_up for row in rows])
        groups = np.full(self.rows.shape[0], -1)
        groups[: len(rows)] = [row.feature for row in rows]
        self.pools: tuple[BasisPool, BasisPool]
        if like is not None and like.pools[0].solves(self.rows):
            self.pools = like.pools
        else:
            self.pools = (BasisPool(self.rows, groups), BasisPool(self.rows, groups))

    def limits(self, errors: FloatArray) -> FloatArray:
        """Return right-hand sides (n, m) for error vectors (n, 6 * n_features)."""
        limits = np.tile(self.gaps_mm, (errors.shape[0], 1))
        limits[:, : self.projection.shape[0]] -= errors @ self.projection.T
        return limits

    def solve(self, errors: FloatArray, *, sign_only: bool = False) -> SeatingAnswer:
        """Decide each trial exactly.

        Where males are picked up in the mouth there are two stages and both must succeed: the partial with the parts
        that were joined before must find a place; then, from there, the picked-up males must enter together, with the
        others taken as centered in their room.

        Parameters
        ----------
        errors : ndarray of shape (n, 6 * n_features)
            Shift (mm) and turn (rad) of each male against its female.
        sign_only : bool
            Enough to know whether the slack is negative.
        """
        limits = self.limits(errors)
        if not self._is_mouth.any():
            return SeatingAnswer(*self.pools[0].solve(limits, sign_only=sign_only))
        n_walls = self._is_mouth.size
        first = limits.copy()
        first[:, :n_walls][:, self._is_mouth] = _OPEN_MM
        second = limits
        second[:, :n_walls][:, ~self._is_mouth] = self.gaps_mm[:n_walls][~self._is_mouth]
        before = SeatingAnswer(*self.pools[0].solve(first, sign_only=sign_only))
        after = SeatingAnswer(*self.pools[1].solve(second, sign_only=sign_only))
        worse = after.slack_mm < before.slack_mm
        return SeatingAnswer(
            np.minimum(before.slack_mm, after.slack_mm),
            np.where(worse[:, None], after.weights, before.weights),
        )


def build_program(
    features: tuple[Feature, ...],
    bodies: tuple[Body, ...],
    path: FloatArray,
    choices: Choices,
    *,
    like: SeatingProgram | None = None,
) -> SeatingProgram:
    """Write the rows of a case.

    Every guided male: its walls at both ends in the seated place, and again where it first enters, drawn back along one
    common path. Every stop: a gap between zero and what is allowed. Every body: its crowns stay in their play. What a
    program with the same rows has learned about its bases is used on.
    """
    if not any(feature.has_to_seat for feature in features):
        raise ValueOutOfRange("a seating program needs at least one feature")
    rows: list[_Row] = []
    center = find_center(bodies)
    for index, feature in enumerate(features):
        if feature.is_guided:
            rows += _wall_rows(index, feature, center)
        if feature.has_stop:
            rows += _stop_rows(index, feature, allowed_gap_mm(feature, choices))
    return SeatingProgram(rows, _Frame(features, bodies, path), choices, like=like)


def _wall_line(row: _Row, frame: _Frame) -> tuple[FloatArray, float]:
    """Return a wall's coefficients and its right-hand side without errors."""
    feature = frame.features[row.feature]
    line = np.zeros(frame.n_columns)
    line[:3], line[3:6] = row.normal, cross(row.point_mm - frame.origin_mm, row.normal) / _ARM_MM
    line[6:8] = row.travel_mm * (frame.sideways @ row.normal) / _ARM_MM
    start = frame.first_column(feature.body)
    line[start : start + 6] = -_body_line(row.normal, row.point_mm - frame.bodies[feature.body].center_mm)
    line[-1] = 1.0
    return line, row.gap_mm - row.travel_mm * float(frame.path @ row.normal)


def _project(rows: list[_Row], features: tuple[Feature, ...]) -> FloatArray:
    """Return what each unit of error takes from each wall's room, shape (n_rows, 6 * n_features)."""
    projection = np.zeros((len(rows), 6 * len(features)))
    for k, row in enumerate(rows):
        start = 6 * row.feature
        projection[k, start : start + 3] = row.normal
        projection[k, start + 3 : start + 6] = cross(row.point_mm - features[row.feature].at_mm, row.normal)
    return projection


def _play_of_bodies(frame: _Frame, choices: Choices) -> list[tuple[FloatArray, float]]:
    rows = []
    for index in frame.carrying:
        start = frame.first_column(index)
        for own, room in _play_rows(frame.bodies[index], frame.path, frame.origin_mm, choices):
            line = np.zeros(frame.n_columns)
            line[start : start + 6] = own
            rows.append((line, room))
    return rows


def find_center(bodies: tuple[Body, ...]) -> FloatArray:
    """Return the mean place of all bodies: turns are counted about it, walls face towards and away from it."""
    center: FloatArray = np.mean([body.center_mm for body in bodies], axis=0)
    return center


def _stop_rows(index: int, feature: Feature, allowed_mm: float) -> list[_Row]:
    return [
        _Row(index, feature.at_mm, -feature.axis, 0.0),
        _Row(index, feature.at_mm, feature.axis, allowed_mm),
    ]


def _wall_rows(index: int, feature: Feature, origin: FloatArray) -> list[_Row]:
    first, second = across(feature.axis, feature.at_mm - origin)
    low = feature.at_mm - feature.axis * feature.length_mm / 2
    high = feature.at_mm + feature.axis * feature.length_mm / 2
    if feature.kind in ("conus", "telescope"):
        return _cap_rows(index, feature, (low, high), (first, second))
    rows = []
    for normal, side in _wall_normals(feature, first, second):
        point_offset = side * feature.radius_mm
        ends = (low, high) if feature.is_rigid else (feature.at_mm,)
        rows += [_Row(index, end + point_offset, normal, feature.gap_mm) for end in ends]
        if feature.is_rigid:
            rows.append(_Row(index, low + point_offset, normal, feature.gap_mm, feature.length_mm))
    return rows


def _wall_normals(feature: Feature, first: FloatArray, second: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    """Outward normals with the sideways place of their contact, in half widths."""
    if feature.kind == "slide":
        box = []
        for normal, along in ((first, second), (-first, second), (second, first), (-second, first)):
            box += [(normal, along), (normal, -along)]
        return box
    angles = 2 * math.pi * np.arange(_N_SIDES) / _N_SIDES
    # The octagon is inscribed in the round clearance: its sides stand at gap * cos(pi / 8) from the center.
    shrink = math.cos(math.pi / _N_SIDES)
    return [((math.cos(a) * first + math.sin(a) * second) / shrink, np.zeros(3)) for a in angles]


def _cap_rows(
    index: int, feature: Feature, ends: tuple[FloatArray, FloatArray], sideways: tuple[FloatArray, FloatArray]
) -> list[_Row]:
    first, second = sideways
    rows = []
    for k in range(_N_SIDES):
        angle = 2 * math.pi * k / _N_SIDES
        radial = math.cos(angle) * first + math.sin(angle) * second
        # The cap's inner wall meets the primary crown's wall, whose outward normal leans towards the way out.
        wall = math.cos(feature.taper_rad) * radial + math.sin(feature.taper_rad) * feature.axis
        rows += [_Row(index, end + radial * feature.radius_mm, -wall, feature.gap_mm) for end in ends]
    return rows


def _play_rows(body: Body, path: FloatArray, origin: FloatArray, choices: Choices) -> list[tuple[FloatArray, float]]:
    """Rows on a body's own shift and turn: at each abutment its crown stays within cement space and mobility."""
    cement = take_level("fc_play_cement", choices, more_is_better=True) / 1000
    mobility = take_level("fc_play_mobility", choices, more_is_better=True) / 1000
    axial = take_level("fc_play_axial", choices, more_is_better=True) / 1000
    implant = take_level("fc_play_implant", choices, more_is_better=True) / 1000
    rows: list[tuple[FloatArray, float]] = []
    for abutment in body.abutments:
        first, second = across(path, abutment.at_mm - origin)
        gives = implant if abutment.is_implant else mobility / len(body.abutments)
        room = gives + (cement if abutment.has_cement_space else 0.0)
        along = implant if abutment.is_implant else axial / len(body.abutments)
        arm = abutment.at_mm - body.center_mm
        for normal in (first, -first, second, -second):
            rows += [(_body_line(normal, arm + h * path), room) for h in (-_CROWN_HALF_MM, _CROWN_HALF_MM)]
        rows += [(_body_line(sign * path, arm), along) for sign in (1.0, -1.0)]
        for sign in (1.0, -1.0):
            line = np.zeros(6)
            line[3:] = sign * path * _CROWN_RADIUS_MM / _ARM_MM
            rows.append((line, room))
    return rows


def _body_line(normal: FloatArray, arm: FloatArray) -> FloatArray:
    return np.concatenate([normal, cross(arm, normal) / _ARM_MM])
