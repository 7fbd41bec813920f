"""The chain of one case: which error reaches which place, and along which vectors.

The error of feature i is a shift (mm) and a turn (rad) of the male against its female; all of them stand in one
vector of 6 numbers per feature. Correlation is factored: what two features share (a pour's scale, a body) is one cause.
"""

import math

import numpy as np

from seatwright.case import Case, Impression, ImpressionRole, MaleJoin
from seatwright.errors import CaseError, ValueOutOfRange
from seatwright.forecast._bodies import Body
from seatwright.forecast._chain import Cause, Chain
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Feature
from seatwright.forecast._spreads import (
    ScaleLaw,
    Spread,
    die_play,
    drift_per_month,
    joint,
    position,
    processing,
    scale_laws,
)
from seatwright.forecast._vectors import across, cross, skew
from seatwright.quantities import FloatArray, Law, Normal, Rectangular, check_correlation

__all__ = ["build_chain"]

_CROWN_MM = 8.0  # judgement: height of crown and die over which a place error becomes a tilt
_DAYS_PER_MONTH = 30.0  # definition: for drift per month


class _Builder:
    """Collects causes; knows which features a body's error reaches."""

    def __init__(
        self, features: tuple[Feature, ...], bodies: tuple[Body, ...], center_mm: FloatArray, choices: Choices
    ) -> None:
        self.features = features
        self.bodies = bodies
        self.center_mm = center_mm
        self.choices = choices
        self.causes: list[Cause] = []

    def scale(self, found: ScaleLaw) -> None:
        """One change of scale (percent) per pour: bodies keep their shape, their centers move apart."""
        loading = np.zeros(6 * len(self.features))
        for i, feature in enumerate(self.features):
            if not feature.is_picked_up:
                center = self.bodies[feature.body].center_mm
                loading[6 * i : 6 * i + 3] = (center - self.center_mm) / 100
        self._add(Cause(found.link, found.link, found.law, "%", loading, found.evidence))

    def body_pose(self, index: int, spreads: list[Spread], laws: list[Law]) -> None:
        """Errors of a body's pose from its abutments' spreads: shift of its center and turn, in units of the laws."""
        body, link = self.bodies[index], spreads[0].link
        columns = _body_columns(body, [s.side_mm for s in spreads])
        evidence = tuple(dict.fromkeys(e for s in spreads for e in s.evidence))
        for k, law in enumerate(laws):
            loading = np.zeros(6 * len(self.features))
            for i, feature in enumerate(self.features):
                if feature.body == index and not feature.is_picked_up:
                    turn = columns[3:, k]
                    loading[6 * i : 6 * i + 3] = columns[:3, k] + cross(turn, feature.at_mm - body.center_mm)
                    loading[6 * i + 3 : 6 * i + 6] = turn
            if np.any(loading):
                self._add(Cause(f"{link}/{body.id}/{k + 1}", link, law, "1", loading, evidence))

    def site(self, index: int, spread: Spread) -> None:
        """Errors of one feature alone: two sideways, one along the axis, three turns from the same spread."""
        feature = self.features[index]
        frame = np.vstack([across(feature.axis, feature.at_mm - self.center_mm), feature.axis])
        turn = spread.side_mm / spread.lever_mm
        for k, size in enumerate((spread.side_mm, spread.side_mm, spread.axial_mm, turn, turn, turn)):
            loading = np.zeros(6 * len(self.features))
            start = 6 * index + (0 if k < 3 else 3)
            loading[start : start + 3] = frame[k % 3]
            law, unit = spread.law(self.choices, size), "mm" if k < 3 else "rad"
            self._add(Cause(f"{spread.link}/{feature.id}/{k + 1}", spread.link, law, unit, loading, spread.evidence))

    def _add(self, cause: Cause) -> None:
        if cause.law.u > 0 or cause.law.mean != 0:
            self.causes.append(cause)


def build_chain(case: Case, features: tuple[Feature, ...], bodies: tuple[Body, ...], choices: Choices) -> Chain:
    """Return the causes of this case under these choices.

    Raises
    ------
    CaseError
        If the case has no pick-up impression (the chain's first link is missing), nothing must fit, or the stated
        correlations contradict each other.
    """
    impression = _pick_up(case)
    carrying = sorted({f.body for f in features})
    if not any(f.has_to_seat for f in features):
        raise CaseError("the case names no attachment and no rest", hint="a forecast needs something that must fit")
    center = np.mean([bodies[b].center_mm for b in carrying], axis=0)
    builder = _Builder(features, bodies, center, choices)
    if not choices.index_in_mouth:
        for found in scale_laws(impression, choices):
            builder.scale(found)
    for index in carrying:
        _add_body_links(builder, index, impression)
    for index, feature in enumerate(features):
        builder.site(index, joint(feature.joined, choices))
        if feature.joined is not MaleJoin.PICKED_UP_IN_MOUTH:
            builder.site(index, processing(choices))
    causes = tuple(builder.causes)
    return Chain(features, bodies, causes, center, _correlate(causes, bodies, choices))


def _pick_up(case: Case) -> Impression:
    for impression in case.current_impressions():
        if impression.role is ImpressionRole.PICK_UP:
            return impression
    raise CaseError("the case has no pick-up impression", hint="the chain starts there: add one with its pour plan")


def _add_body_links(builder: _Builder, index: int, impression: Impression) -> None:
    body, choices = builder.bodies[index], builder.choices
    placed = [position(impression, a, choices) for a in body.abutments]
    builder.body_pose(index, placed, [placed[0].law(choices, 1.0)] * 6)
    if any(a.is_natural for a in body.abutments):
        return  # the cast itself shows the tooth: no die, no crown to be away
    plays = [die_play(a, choices) for a in body.abutments]
    halves = [Spread(p.link, p.side_mm / math.sqrt(3.0), 0.0, 0.0, p.evidence) for p in plays]
    unit_law: Law = Rectangular(-math.sqrt(3.0), math.sqrt(3.0)) if len(plays) == 1 else Normal(0.0, 1.0)
    builder.body_pose(index, halves, [unit_law] * 6)
    drift = drift_per_month(choices)
    drift = Spread(drift.link, drift.side_mm * choices.days_away / _DAYS_PER_MONTH, 0.0, 0.0, drift.evidence)
    if drift.side_mm > 0 and not any(a.is_implant for a in body.abutments):
        builder.body_pose(index, [drift] * len(body.abutments), [drift.law(choices, 1.0)] * 6)


def _body_columns(body: Body, spread_mm: list[float]) -> FloatArray:
    """Square root (6, 6) of the covariance of a body's pose, held by abutments with these spreads per axis.

    Each abutment holds its shift to the spread and its turn to root two of it over the crown's height; several hold the
    body together by least squares, so a long bridge tips less than a single crown.
    """
    information = np.zeros((6, 6))
    for abutment, spread in zip(body.abutments, spread_mm, strict=True):
        jacobian = np.eye(6)
        jacobian[:3, 3:] = skew(abutment.at_mm - body.center_mm)
        turn = math.sqrt(2.0) * spread / _CROWN_MM
        weight = np.repeat([1 / spread**2, 1 / turn**2], 3)
        information += jacobian.T @ (weight[:, None] * jacobian)
    columns: FloatArray = np.linalg.cholesky(np.linalg.inv(information))
    return columns


def _correlate(causes: tuple[Cause, ...], bodies: tuple[Body, ...], choices: Choices) -> FloatArray | None:
    """Return the causes' correlation as stated for pairs of units; None when nothing is stated."""
    if not choices.own.together:
        return None
    names = {cause.name: k for k, cause in enumerate(causes)}
    correlation = np.eye(len(causes))
    for stated in choices.own.together:
        one, other = (_body_of(bodies, tooth, choices.own.file) for tooth in stated.teeth)
        if one == other:
            raise CaseError(
                f"{choices.own.file}: correlation of {stated.teeth[0]} and {stated.teeth[1]}: they are one rigid body",
                hint="name two units that are not joined",
            )
        for k in range(1, 7):
            pair = [names.get(f"{stated.link}/{body}/{k}") for body in (one, other)]
            if pair[0] is not None and pair[1] is not None:
                correlation[pair[0], pair[1]] = correlation[pair[1], pair[0]] = stated.value
    try:
        check_correlation(correlation)
    except ValueOutOfRange as error:
        raise CaseError(f"{choices.own.file}: {error.message}", hint=error.hint) from error
    return correlation


def _body_of(bodies: tuple[Body, ...], tooth: int, file: str) -> str:
    for body in bodies:
        if tooth in body.teeth:
            return body.id
    raise CaseError(f"{file}: correlation: {tooth} is no unit of this case", hint="name the teeth of two units")
