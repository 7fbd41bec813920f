"""From two adjusted epochs to each mark's movement: the frame, its scale, what is seen and what is not."""

import math
from dataclasses import dataclass, replace

import numpy as np

from seatwright.cast._caliper_asked import CaliperAsked
from seatwright.cast._caliper_change import EpochChange, expect_change
from seatwright.cast._caliper_epochs import Figure
from seatwright.cast._caliper_result import BlindDirection, MarkMovement, StableReport
from seatwright.cast._caliper_verdict import judge_shift
from seatwright.cast._network_movement import (
    StableMarks,
    detectable_axes_mm,
    find_stable_marks,
    fit_scale,
    judge_congruency,
    localize,
)
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray, Measured

__all__ = ["Movements", "expect_movements", "leave_open", "measure_movements"]

_ALONG = 0.9  # judgement: cosine from which a direction counts as along another
_OUT = 0.8  # judgement: cosine from which a direction counts as out of the plane
_HELD = 1e-6  # definition: a direction whose spread is this small a share is held by the frame itself


@dataclass(frozen=True, slots=True, eq=False)
class Movements:
    """Movements of all marks with the frame that they are told in."""

    marks: tuple[MarkMovement, ...]
    stable: StableReport
    scale_percent: Measured | None
    blind: tuple[BlindDirection, ...]


def measure_movements(figure: Figure, change: EpochChange, asked: CaliperAsked, orient: FloatArray) -> Movements:
    """Turn changes into each mark's movement in the frame of the stable marks.

    Parameters
    ----------
    figure : Figure
    change : EpochChange
    asked : CaliperAsked
    orient : ndarray of shape (d, d)
        Rotation (or reflection) from the network's axes to the sketch's.
    """
    dof = change.dof
    points, moved, covariance = _turn(orient, change.points_mm, change.moved_mm, change.covariance)
    covariance = covariance + np.eye(moved.size) * (asked.reseat_um * 1e-3) ** 2
    found, report = _stable_report(figure, asked, (points, moved, covariance), dof)
    marks, blind = [], []
    for number, name in enumerate(figure.marks):
        mark, hidden = _report_mark(number, name, (points, moved, covariance), (found, report, asked), (figure, dof))
        marks.append(mark)
        blind += hidden
    scale = None
    if found.members and (fitted := fit_scale(points, moved, covariance, found.members)) is not None:
        scale = Measured(100 * fitted[0], 100 * fitted[1], "%", dof)
    return Movements(tuple(marks), report, scale, tuple(blind))


def expect_movements(figure: Figure, asked: CaliperAsked, orient: FloatArray, *, dof: float) -> Movements:
    """Say what could be seen if the missing epoch were read as the present one was: nothing has moved yet."""
    found = measure_movements(figure, expect_change(figure, dof=dof), asked, orient)
    return replace(found, marks=tuple(_unjudged(mark) for mark in found.marks))


def leave_open(movements: Movements) -> Movements:
    """Return the movements without any verdict: something else than marks explains the distances."""
    stable = replace(movements.stable, is_unique=False)
    return replace(movements, marks=tuple(_unjudged(mark) for mark in movements.marks), stable=stable)


def _unjudged(mark: MarkMovement) -> MarkMovement:
    judged = replace(mark.judged, verdict=Verdict.CANNOT_TELL, p_within=None, low_um=None, high_um=None)
    return replace(mark, judged=judged, is_stable=False, is_moved=False)


def _turn(
    orient: FloatArray, points: FloatArray, moved: FloatArray, covariance: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    every = np.kron(np.eye(points.shape[0]), orient)
    return points @ orient.T, every @ moved, every @ covariance @ every.T


def _stable_report(
    figure: Figure, asked: CaliperAsked, epochs: tuple[FloatArray, FloatArray, FloatArray], dof: float
) -> tuple[StableMarks, StableReport]:
    points, moved, covariance = epochs
    everyone = tuple(range(len(figure.marks)))
    if asked.stable:
        found = _declared(figure, asked, epochs, dof)
        with_scale = False
    else:
        found, with_scale = _find_stable(epochs, dof)
    scaled = None
    if len(everyone) > figure.n_axes + 1:
        scaled = judge_congruency(points, moved, covariance, marks=everyone, dof=dof, scale=True)
    names = figure.marks
    return found, StableReport(
        tuple(names[k] for k in found.members),
        tuple(names[k] for k in found.rival),
        found.is_unique,
        bool(asked.stable),
        found.overall,
        found.own,
        scaled,
        with_scale,
    )


def _find_stable(epochs: tuple[FloatArray, FloatArray, FloatArray], dof: float) -> tuple[StableMarks, bool]:
    """Return the stable marks and whether a uniform scale had to be allowed for them.

    A scale is allowed only where it unites more marks than a rigid frame does, four at least in a plane: with fewer a
    scale and a movement cannot be told apart.
    """
    points, moved, covariance = epochs
    rigid = find_stable_marks(points, moved, covariance, dof=dof)
    if len(rigid.members) == points.shape[0]:
        return rigid, False
    scaled = find_stable_marks(points, moved, covariance, dof=dof, scale=True)
    if len(scaled.members) > len(rigid.members):
        return replace(scaled, overall=rigid.overall), True
    return rigid, False


def _declared(
    figure: Figure, asked: CaliperAsked, epochs: tuple[FloatArray, FloatArray, FloatArray], dof: float
) -> StableMarks:
    points, moved, covariance = epochs
    unknown = [name for name in asked.stable if name not in figure.marks]
    if unknown:
        raise ValueOutOfRange(
            f"no mark '{unknown[0]}' is placed by these readings", hint=f"placed: {', '.join(figure.marks)}"
        )
    members = tuple(sorted({figure.marks.index(name) for name in asked.stable}))
    if len(members) < figure.n_axes:
        raise ValueOutOfRange(
            f"{len(members)} stable marks do not hold a frame in {figure.n_axes} dimensions",
            hint=f"name at least {figure.n_axes}",
        )
    everyone = tuple(range(len(figure.marks)))
    overall, own = (judge_congruency(points, moved, covariance, marks=marks, dof=dof) for marks in (everyone, members))
    return StableMarks(members, (), overall, own, True)


def _report_mark(
    number: int,
    name: str,
    epochs: tuple[FloatArray, FloatArray, FloatArray],
    frame: tuple[StableMarks, StableReport, CaliperAsked],
    context: tuple[Figure, float],
) -> tuple[MarkMovement, list[BlindDirection]]:
    points, moved, covariance = epochs
    found, report, asked = frame
    figure, dof = context
    d = points.shape[1]
    part = slice(number * d, number * d + d)
    holders = _holders(found, number, len(figure.marks))
    try:
        at, spread = localize(points, moved, covariance, stable=holders)
    except CannotCompute:  # without this mark the others do not fix the frame: it stays among them
        at, spread = localize(points, moved, covariance, stable=found.members or tuple(range(len(figure.marks))))
    shift, block = at[part] * 1e3, spread[part, part] * 1e6
    judged = judge_shift(shift, block, asked.tolerance_um, dof=dof)
    blind = _blind_directions(name, points, figure, (block, asked.tolerance_um))
    in_plane = [b for b in blind if not b.words.startswith("out of")]
    if not report.is_unique or (in_plane and judged.verdict is Verdict.CONFORMS):
        judged = replace(judged, verdict=Verdict.CANNOT_TELL)
    half, axes = detectable_axes_mm(block, dof=dof)
    is_free = half > _HELD * half[-1]
    return (
        MarkMovement(
            mark=name,
            place_mm=points[number],
            moved_um=shift,
            covariance_um2=block,
            is_stable=number in found.members and report.is_unique,
            is_moved=report.is_unique and number not in found.members,
            judged=judged,
            detectable_um=tuple(float(v) if free else None for v, free in zip(half, is_free, strict=True)),
            detectable_axes=axes,
        ),
        blind,
    )


def _holders(found: StableMarks, number: int, n: int) -> tuple[int, ...]:
    """Stable marks without the one that is judged; all others where the stable set is open."""
    members = found.members if found.members else tuple(range(n))
    return tuple(k for k in members if k != number)


def _blind_directions(
    name: str, points: FloatArray, figure: Figure, judged: tuple[FloatArray, float]
) -> list[BlindDirection]:
    block, limit_um = judged
    values, axes = np.linalg.eigh(block)
    return [
        BlindDirection(name, _direction_words(name, axes[:, k], points, figure), math.sqrt(float(values[k])))
        for k in np.flatnonzero(values > limit_um**2)
    ]


def _direction_words(name: str, direction: FloatArray, points: FloatArray, figure: Figure) -> str:
    centered = points - points.mean(axis=0)
    if points.shape[1] == 3:
        normal = np.linalg.svd(centered)[2][-1]
        if abs(float(direction @ normal)) > _OUT:
            return "out of the plane of the marks"
    here = figure.marks.index(name)
    away = np.delete(points - points[here], here, axis=0)
    others = [mark for mark in figure.marks if mark != name]
    cosine = np.abs(away @ direction) / np.linalg.norm(away, axis=1)
    if float(cosine.max()) > _ALONG:
        return f"along the line to {others[int(np.argmax(cosine))]}"
    return f"across the line to {others[int(np.argmin(cosine))]}"
