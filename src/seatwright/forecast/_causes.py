"""The dimensional chain as independent causes: each one random number that moves some features by so much.

Owns which error reaches which feature, and along which vectors. The error of feature i is a shift (mm) and a turn (rad)
of the male against its female; all features' errors stand in one vector of 6 per feature. Correlation is factored:
what two features share (one scale per pour, one body) is one cause.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.case import Case, Impression, ImpressionMaterial, ImpressionRole, MaleJoin, Route, Stone, Tray
from seatwright.errors import CaseError
from seatwright.evidence import find_evidence
from seatwright.forecast._bodies import Abutment, Body
from seatwright.forecast._choices import Choices, FrameworkRoute
from seatwright.forecast._features import Feature
from seatwright.forecast._levels import take_level
from seatwright.forecast._vectors import across, cross, skew
from seatwright.quantities import FloatArray, Law, Normal, Rectangular

__all__ = ["Cause", "Chain", "build_chain"]

_CROWN_MM = 8.0  # judgement: height of crown and die over which a place error becomes a tilt
_DAYS_PER_MONTH = 30.0  # definition: for drift per month


@dataclass(frozen=True, slots=True)
class Cause:
    """One independent cause.

    Attributes
    ----------
    name : str
        Unique; also names its stream of random numbers.
    link : str
        Id of the link it belongs to.
    law : Law
    unit : str
        Unit of the law.
    loading : ndarray of shape (6 * n_features,)
        Errors per unit of the cause: mm and rad.
    """

    name: str
    link: str
    law: Law
    unit: str
    loading: FloatArray


@dataclass(frozen=True, slots=True)
class Chain:
    """All causes with the features and bodies they act on."""

    features: tuple[Feature, ...]
    bodies: tuple[Body, ...]
    causes: tuple[Cause, ...]
    center_mm: FloatArray
    """Center that scale errors grow from; any choice gives the same seating."""

    @property
    def loading(self) -> FloatArray:
        """Loadings as columns, shape (6 * n_features, n_causes)."""
        return np.column_stack([c.loading for c in self.causes])

    @property
    def mean(self) -> FloatArray:
        """Mean error vector, shape (6 * n_features,)."""
        mean: FloatArray = self.loading @ np.array([c.law.mean for c in self.causes])
        return mean

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the error vector."""
        scaled = self.loading * np.array([c.law.u for c in self.causes])
        covariance: FloatArray = scaled @ scaled.T
        return covariance


class _Builder:
    """Collects causes; knows which features a body's error reaches."""

    def __init__(self, features: tuple[Feature, ...], bodies: tuple[Body, ...], center_mm: FloatArray) -> None:
        self.features = features
        self.bodies = bodies
        self.center_mm = center_mm
        self.causes: list[Cause] = []

    def add(self, name: str, link: str, law: Law, unit: str, loading: FloatArray) -> None:
        if law.u > 0 or law.mean != 0:
            self.causes.append(Cause(name, link, law, unit, loading))

    def scale(self, link: str, law: Law) -> None:
        """One change of scale (percent) per pour: bodies keep their shape, their centers move apart."""
        loading = np.zeros(6 * len(self.features))
        for i, feature in enumerate(self.features):
            if not feature.is_picked_up:
                center = self.bodies[feature.body].center_mm
                loading[6 * i : 6 * i + 3] = (center - self.center_mm) / 100
        self.add(link, link, law, "%", loading)

    def body_pose(self, link: str, body_index: int, columns: FloatArray, laws: list[Law]) -> None:
        """Errors of a body's pose: columns (6, k) of shift at its center and turn."""
        body = self.bodies[body_index]
        for k, law in enumerate(laws):
            loading = np.zeros(6 * len(self.features))
            for i, feature in enumerate(self.features):
                if feature.body == body_index and not feature.is_picked_up:
                    turn = columns[3:, k]
                    loading[6 * i : 6 * i + 3] = columns[:3, k] + cross(turn, feature.at_mm - body.center_mm)
                    loading[6 * i + 3 : 6 * i + 6] = turn
            if np.any(loading):
                self.add(f"{link}/{body.id}/{k + 1}", link, law, "1", loading)

    def site(self, link: str, index: int, side_mm: float, axial_mm: float, lever_mm: float) -> None:
        """Errors of one feature alone: two sideways, one along the axis, three turns from the same spread."""
        feature = self.features[index]
        frame = np.vstack([across(feature.axis, feature.at_mm - self.center_mm), feature.axis])
        spreads = (side_mm, side_mm, axial_mm, side_mm / lever_mm, side_mm / lever_mm, side_mm / lever_mm)
        for k, spread in enumerate(spreads):
            loading = np.zeros(6 * len(self.features))
            start = 6 * index + (0 if k < 3 else 3)
            loading[start : start + 3] = frame[k % 3]
            unit = "mm" if k < 3 else "rad"
            self.add(f"{link}/{feature.id}/{k + 1}", link, Normal(0.0, spread), unit, loading)


def build_chain(case: Case, features: tuple[Feature, ...], bodies: tuple[Body, ...], choices: Choices) -> Chain:
    """Return the causes of this case under these choices.

    Raises
    ------
    CaseError
        If the case has no pick-up impression: the chain's first link is missing.
    """
    impression = _pick_up(case)
    carrying = sorted({f.body for f in features})
    if not carrying:
        raise CaseError("the case names no attachment and no rest", hint="a forecast needs something that must fit")
    center = np.mean([bodies[b].center_mm for b in carrying], axis=0)
    builder = _Builder(features, bodies, center)
    if not choices.index_in_mouth:
        _add_scale(builder, impression, choices)
    for index in carrying:
        _add_body_links(builder, index, impression, choices)
    for index, feature in enumerate(features):
        _add_site_links(builder, index, feature, choices)
    return Chain(features, bodies, tuple(builder.causes), center)


def _pick_up(case: Case) -> Impression:
    for impression in case.current_impressions():
        if impression.role is ImpressionRole.PICK_UP:
            return impression
    raise CaseError("the case has no pick-up impression", hint="the chain starts there: add one with its pour plan")


def _add_scale(builder: _Builder, impression: Impression, choices: Choices) -> None:
    material = impression.material
    if material in (ImpressionMaterial.ADDITION_SILICONE, ImpressionMaterial.POLYETHER):
        # The cast as a whole was measured: its impression and its stone are not counted again.
        builder.scale("whole_cast_scale", _law_percent("fc_cast_scale_elastomer"))
        reference = find_evidence("fc_stone_type_4").require_value()
        extra = find_evidence(_STONE[impression.pour.stone]).require_value() - reference
        if extra:
            sd = find_evidence(_STONE[impression.pour.stone]).sd or 0.0
            builder.scale("stone", Normal(extra, sd))
    else:
        builder.scale("impression", _impression_law(impression, choices))
        builder.scale("stone", _law_percent(_STONE[impression.pour.stone]))
    if impression.pour.used_after_h > 72:  # evidence: gyp_mich_peak
        builder.scale("stone_late", _law_percent("fc_stone_late"))


_STONE = {
    Stone.TYPE_3: "fc_stone_type_3",
    Stone.TYPE_4: "fc_stone_type_4",
    Stone.TYPE_5: "fc_stone_type_5",
}


def _law_percent(identifier: str) -> Normal:
    record = find_evidence(identifier)
    return Normal(record.require_value(), record.sd or 0.0)


def _impression_law(impression: Impression, choices: Choices) -> Normal:
    if choices.impression_change is not None:
        return Normal(choices.impression_change.value, choices.impression_change.u)
    return _law_percent(
        {
            ImpressionMaterial.ALGINATE: "fc_scale_alginate_fresh",
            ImpressionMaterial.EXTENDED_ALGINATE: "fc_scale_alginate_extended",
        }.get(impression.material, "fc_scale_other_elastomer")
    )


def _position_mm(impression: Impression, choices: Choices) -> tuple[str, float]:
    """Return link id and spread per axis of one unit's place on the cast, mm."""
    if choices.index_in_mouth:
        return "index", take_level("fc_index_mouth", choices) / 1000
    if impression.route is Route.TRANSFER_BASE:
        spread = take_level("fc_position_transfer", choices)
    elif impression.material.is_hydrocolloid:
        spread = take_level("fc_position_alginate", choices)
    else:
        spread = take_level("fc_position_elastomer", choices)
    if impression.tray is not Tray.RIGID_CUSTOM and impression.route is not Route.TRANSFER_BASE:
        spread *= take_level("fc_position_stock_tray", choices)
    return "pick_up", spread / 1000


def _add_body_links(builder: _Builder, index: int, impression: Impression, choices: Choices) -> None:
    body = builder.bodies[index]
    link, spread = _position_mm(impression, choices)
    columns = _body_columns(body, [spread] * len(body.abutments))
    builder.body_pose(link, index, columns, [Normal(0.0, 1.0)] * 6)
    plays = [_die_play_mm(a, choices) for a in body.abutments]
    unit_law: Law = Rectangular(-math.sqrt(3.0), math.sqrt(3.0)) if len(plays) == 1 else Normal(0.0, 1.0)
    columns = _body_columns(body, [p / math.sqrt(3.0) for p in plays])
    builder.body_pose("die", index, columns, [unit_law] * 6)
    drift = take_level("fc_drift", choices) / 1000 * choices.days_away / _DAYS_PER_MONTH
    natural = [0.0 if a.is_implant else drift for a in body.abutments]
    if all(d > 0 for d in natural):
        builder.body_pose("drift", index, _body_columns(body, natural), [Normal(0.0, 1.0)] * 6)


def _die_play_mm(abutment: Abutment, choices: Choices) -> float:
    """Half width of the play of a crown on its die: reseating, never an error across the arch."""
    radius = (abutment.neck_mm or 5.0) / 2
    bound = take_level("fc_die_bound", choices)
    gel = find_evidence("die_gibbs_lcgel_lin").require_value() / 100 * radius * bound
    pattern = find_evidence("die_gibbs_auto_a_lin").require_value() / 100 * radius * bound
    epoxy = take_level("fc_die_epoxy", choices) / 100 * radius
    fixed = {
        "gel": gel,
        "masked": gel + take_level("fc_die_mask_wax", choices) / 1000,
        "pattern_resin": pattern,
        "returned_epoxy": epoxy,
        "stone": take_level("fc_die_stone", choices) / 1000,
        "analog": take_level("fc_die_analog", choices) / 1000,
    }
    if abutment.technique not in fixed:
        raise CaseError(f"no error law is known for the die technique '{abutment.technique}' of {abutment.tooth}")
    return fixed[abutment.technique]


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


def _add_site_links(builder: _Builder, index: int, feature: Feature, choices: Choices) -> None:
    if feature.joined is MaleJoin.PICKED_UP_IN_MOUTH:
        builder.site("male_in_mouth", index, *_joint("fc_join_mouth", choices))
        return
    if feature.joined in (None, MaleJoin.CAST_ON):
        side = take_level("fc_framework_side", choices) / 1000
        axial = take_level("fc_framework_axial", choices) / 1000
        if choices.framework is FrameworkRoute.ADDITIVE:
            factor = take_level("fc_framework_additive", choices)
            side, axial = side * factor, axial * factor
        lever = take_level("fc_framework_lever", choices, more_is_better=True)
        builder.site("framework", index, side, axial, lever)
    elif feature.joined is MaleJoin.SOLDERED:
        builder.site("male_soldered", index, *_joint("fc_join_soldered", choices))
    else:
        builder.site("male_luted", index, *_joint("fc_join_luted", choices))
    pulled = take_level("fc_processing", choices) / 1000
    builder.site("processing", index, pulled, pulled, take_level("fc_framework_lever", choices))


def _joint(identifier: str, choices: Choices) -> tuple[float, float, float]:
    spread = take_level(identifier, choices) / 1000
    lever = take_level("fc_join_lever", choices, more_is_better=True)
    return spread, spread, lever
