"""How far each link of the chain errs in this case: laws of scale, spreads of place, play of dies.

Owns which record answers for which material, route, technique and joint. Refuses to know what the error reaches.
"""

from dataclasses import dataclass

from seatwright.case import Impression, ImpressionMaterial, MaleJoin, Route, Stone, Tray
from seatwright.errors import CaseError
from seatwright.forecast._bodies import Abutment
from seatwright.forecast._choices import Choices, FrameworkRoute
from seatwright.forecast._levels import band_law, law_about, read_record, scale_law, take_level
from seatwright.forecast._links import find_link
from seatwright.quantities import Law, Measured, Normal, ScaleCause

__all__ = [
    "ScaleLaw",
    "Spread",
    "die_play",
    "drift_per_month",
    "expect_scale",
    "joint",
    "position",
    "processing",
    "scale_laws",
]

_LATE_H = 72.0  # evidence: gyp_mich_peak
_STONE = {
    Stone.TYPE_3: "fc_stone_type_3",
    Stone.TYPE_4: "fc_stone_type_4",
    Stone.TYPE_5: "fc_stone_type_5",
}
_REFERENCE_STONE = "fc_stone_type_4"
_WHOLE_CAST = (ImpressionMaterial.ADDITION_SILICONE, ImpressionMaterial.POLYETHER)
_SCALE = {
    ImpressionMaterial.ALGINATE: "fc_scale_alginate_fresh",
    ImpressionMaterial.EXTENDED_ALGINATE: "fc_scale_alginate_extended",
}


@dataclass(frozen=True, slots=True)
class ScaleLaw:
    """Change of the whole cast's scale, percent, by one link."""

    link: str
    law: Law
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """Size of an error of place by one link.

    Attributes
    ----------
    link : str
    side_mm, axial_mm : float
        Across and along the feature's axis; a standard deviation, for a die half the width of its play.
    lever_mm : float
        Over which the place error becomes a turn.
    evidence : tuple of str
    """

    link: str
    side_mm: float
    axial_mm: float
    lever_mm: float
    evidence: tuple[str, ...]

    def law(self, choices: Choices, spread: float) -> Law:
        """Return the law of one component."""
        return law_about(self.evidence[:1], choices, spread)


def scale_laws(impression: Impression, choices: Choices) -> list[ScaleLaw]:
    """Return the changes of scale of one pour; a whole cast that was measured is not counted part by part again."""
    stone = _STONE[impression.pour.stone]
    laws = []
    if impression.material in _WHOLE_CAST and choices.pour is None:
        laws.append(
            ScaleLaw("whole_cast_scale", scale_law("fc_cast_scale_elastomer", choices), ("fc_cast_scale_elastomer",))
        )
        laws += _other_stone(stone, choices)
    else:
        change, includes_stone = _impression_scale(impression, choices)
        laws.append(change)
        laws += (
            _other_stone(stone, choices) if includes_stone else [ScaleLaw("stone", scale_law(stone, choices), (stone,))]
        )
    if impression.pour.used_after_h > _LATE_H:
        laws.append(ScaleLaw("stone_late", scale_law("fc_stone_late", choices), ("fc_stone_late",)))
    return laws


def _other_stone(stone: str, choices: Choices) -> list[ScaleLaw]:
    """Return by how much this stone differs from the Type 4 stone of the casts that were measured."""
    if stone == _REFERENCE_STONE and stone not in choices.own.records:
        return []
    own, reference = scale_law(stone, choices), read_record(_REFERENCE_STONE, Choices()).require_value()
    # The casts' own spread holds that of their Type 4 stone already.
    spread = 0.0 if stone == _REFERENCE_STONE else own.u
    return [ScaleLaw("stone", Normal(own.mean - reference, spread), (stone,))]


def _impression_scale(impression: Impression, choices: Choices) -> tuple[ScaleLaw, bool]:
    """Return the impression's change and whether the stone is in it."""
    record = _SCALE.get(impression.material, "fc_scale_other_elastomer")
    band = choices.pour
    if band is not None and band.change is not None and record not in choices.own.records:
        return ScaleLaw("impression", band_law(band.change, choices), band.evidence), band.includes_stone
    return ScaleLaw("impression", scale_law(record, choices), (record,)), False


def expect_scale(impression: Impression, choices: Choices | None = None) -> tuple[ScaleCause, ...]:
    """Return the changes of scale that impression and pour let expect, cause by cause; they are independent."""
    laws = scale_laws(impression, choices or Choices())
    return tuple(
        ScaleCause(find_link(law.link).title, Measured(law.law.mean, law.law.u, "%"), law.evidence) for law in laws
    )


def position(impression: Impression, abutment: Abutment, choices: Choices) -> Spread:
    """Return the spread of one unit's place on the cast per axis."""
    if choices.index_in_mouth:
        return _place("index", ("fc_index_mouth",), choices)
    if impression.material.is_hydrocolloid and impression.route is not Route.TRANSFER_BASE:
        records: tuple[str, ...] = ("fc_position_alginate",)
    elif abutment.is_natural:
        records = ("fc_position_natural",)
    elif impression.route is Route.TRANSFER_BASE:
        records = ("fc_position_transfer",)
    else:
        records = ("fc_position_elastomer",)
    if impression.route is not Route.TRANSFER_BASE:
        if impression.tray is not Tray.RIGID_CUSTOM:
            records = (*records, "fc_position_stock_tray")
        if not impression.adhesive:
            records = (*records, "fc_position_no_adhesive")
    return _place("pick_up", records, choices)


def _place(link: str, records: tuple[str, ...], choices: Choices) -> Spread:
    size = take_level(records[0], choices) / 1000
    for factor in records[1:]:
        size *= take_level(factor, choices)
    return Spread(link, size, size, 0.0, records)


def die_play(abutment: Abutment, choices: Choices) -> Spread:
    """Return half the width of the play of a crown on its die: reseating, never an error across the arch."""
    radius_mm = (abutment.neck_mm or 5.0) / 2
    records = _DIE_RECORDS.get(abutment.technique)
    if records is None:
        raise CaseError(f"no error law is known for the die technique '{abutment.technique}' of {abutment.tooth}")
    play_mm = 0.0
    if "fc_die_bound" in records:
        free = read_record(records[0], choices).require_value() / 100
        play_mm += free * radius_mm * take_level("fc_die_bound", choices)
    for record in records:
        if record == "fc_die_epoxy":
            play_mm += take_level(record, choices) / 100 * radius_mm
        elif record in ("fc_die_mask_wax", "fc_die_stone", "fc_die_analog"):
            play_mm += take_level(record, choices) / 1000
    return Spread("die", play_mm, play_mm, 0.0, records)


_DIE_RECORDS = {
    "gel": ("die_gibbs_lcgel_lin", "fc_die_bound"),
    "masked": ("die_gibbs_lcgel_lin", "fc_die_bound", "fc_die_mask_wax"),
    "pattern_resin": ("die_gibbs_auto_a_lin", "fc_die_bound"),
    "returned_epoxy": ("fc_die_epoxy",),
    "stone": ("fc_die_stone",),
    "analog": ("fc_die_analog",),
}


def drift_per_month(choices: Choices) -> Spread:
    """Return the drift of one natural abutment per month away from its crown."""
    return _place("drift", ("fc_drift",), choices)


def processing(choices: Choices) -> Spread:
    """Return what processing of the base resin adds at a place that was joined before it."""
    size = take_level("fc_processing", choices) / 1000
    records = ("fc_processing", "fc_framework_lever")
    return Spread("processing", size, size, take_level("fc_framework_lever", choices, more_is_better=True), records)


def joint(joined: MaleJoin | None, choices: Choices) -> Spread:
    """Return the error that making a place adds: pattern and casting, solder, resin on the cast or in the mouth."""
    if joined is MaleJoin.PICKED_UP_IN_MOUTH:
        return _joint("male_in_mouth", "fc_join_mouth", choices)
    if joined is MaleJoin.SOLDERED:
        return _joint("male_soldered", "fc_join_soldered", choices)
    if joined is MaleJoin.LUTED_ON_CAST:
        return _joint("male_luted", "fc_join_luted", choices)
    factor = take_level("fc_framework_additive", choices) if choices.framework is FrameworkRoute.ADDITIVE else 1.0
    records = ("fc_framework_side", "fc_framework_axial", "fc_framework_lever")
    return Spread(
        "framework",
        take_level("fc_framework_side", choices) / 1000 * factor,
        take_level("fc_framework_axial", choices) / 1000 * factor,
        take_level("fc_framework_lever", choices, more_is_better=True),
        records if factor == 1.0 else (*records, "fc_framework_additive"),
    )


def _joint(link: str, record: str, choices: Choices) -> Spread:
    size, lever = take_level(record, choices) / 1000, take_level("fc_join_lever", choices, more_is_better=True)
    return Spread(link, size, size, lever, (record, "fc_join_lever"))
