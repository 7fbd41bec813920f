"""The pour's own step cards: rinse, disinfect, count, dry, box, weigh, mix, pour, base, separate.

Owns their durations and wording, and which of them the log says are done. Durations are common practice, minutes,
shortest / typical / longest. Knows no people.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from seatwright.case import (
    Bench,
    Case,
    Duration,
    Impression,
    ImpressionRole,
    ImpressionState,
    Skill,
    StepCard,
    UnitKind,
)
from seatwright.findings import COMMON_PRACTICE, Source, SourceKind
from seatwright.pour._result import Mix

__all__ = ["AFTER_POUR", "Timing", "is_done", "list_own_cards", "list_timings", "maker_disinfect_min"]


@dataclass(frozen=True, slots=True)
class Timing:
    """How long one of the pour's own steps takes."""

    step: str
    what: str
    duration: Duration


_RINSE = Timing("rinse", "rinse and shake", Duration(0.5, 1.0, 2.0))  # common practice
_DISINFECT = Timing("disinfect", "disinfect, contact in a bag", Duration(3.0, 10.0, 10.0))  # common practice
_COUNT = Timing("count-crowns", "count crowns, check their seat", Duration(1.0, 2.0, 4.0))  # common practice
_DRY = Timing("dry-crown", "flash off and pellet dry, each unit", Duration(0.5, 1.0, 2.0))  # common practice
_BOX_ELASTOMER = Timing("box", "box an elastomer", Duration(4.0, 8.0, 15.0))  # common practice
_BOX_ALGINATE = Timing("box", "bead an alginate", Duration(0.0, 3.0, 6.0))  # common practice
_WEIGH = Timing("weigh", "weigh water and powder", Duration(1.0, 2.0, 3.0))  # common practice
_MIX_VACUUM = Timing("mix", "wet in by hand, then vacuum", Duration(0.55, 0.75, 1.0))  # common practice
_MIX_HAND = Timing("mix", "mix by hand", Duration(1.0, 1.0, 1.5))  # judgement: a textbook minute of spatulation
_POUR = Timing("pour", "brush in and vibrate", Duration(2.0, 3.0, 5.0))  # common practice
_BASE = Timing("pour-base", "second mix and base", Duration(3.0, 5.0, 8.0))  # judgement: a mix and a slower pour
_SEPARATE = Timing("separate", "cut the tray off and separate", Duration(3.0, 8.0, 15.0))  # common practice

_DRIED = (_DRY.step, "flash-and-dry")
AFTER_POUR = ("pour-base", "separate")
"""Steps that come when the first stone is in, and so are no part of the minutes needed."""


def list_timings() -> tuple[Timing, ...]:
    """Return every timing, in the order of work."""
    return (
        _RINSE,
        _DISINFECT,
        _COUNT,
        _DRY,
        _BOX_ELASTOMER,
        _BOX_ALGINATE,
        _WEIGH,
        _MIX_VACUUM,
        _MIX_HAND,
        _POUR,
        _BASE,
        _SEPARATE,
    )


def maker_disinfect_min(impression: Impression, bench: Bench) -> float | None:
    """Return the maker's contact minutes: the impression's figure, else the stock's, else None."""
    if impression.maker.disinfect_min is not None:
        return impression.maker.disinfect_min
    stock = [s for s in bench.impression_material if s.material is impression.material]
    return stock[0].disinfect_min if stock else None


def is_done(card: StepCard, state: ImpressionState | None) -> bool:
    """Whether the log says that a card is done; a running step still counts as to be done."""
    if state is None:
        return False
    if (card.id, card.tooth) in state.steps_done:
        return True
    if card.id not in AFTER_POUR and state.poured_at is not None:
        return True
    if card.id in _DRIED:
        return card.tooth in state.dried
    facts = {
        "rinse": state.rinsed,
        "disinfect": state.disinfected_at is not None,
        "count-crowns": state.counted,
        "pour-base": state.separated_at is not None,
        "separate": state.separated_at is not None,
    }
    return facts.get(card.id, False)


def list_own_cards(
    case: Case, impression: Impression, bench: Bench, mixes: Sequence[Mix], *, in_hydrocolloid: bool | None = None
) -> tuple[StepCard, ...]:
    """Return the pour's own cards of one impression, done or not, in the order of work.

    `in_hydrocolloid` answers 'and if it were another class of material?'; None takes the planned one.
    """
    wet = impression.material.is_hydrocolloid if in_hydrocolloid is None else in_hydrocolloid
    cards = [_rinse(impression), _disinfect(impression, bench)]
    if impression.role is ImpressionRole.PICK_UP:
        cards.append(_count(impression))
        cards.extend(_dry(impression, tooth, wet=wet) for tooth in impression.lifts if _has_core(case, tooth))
    cards.extend([_box(impression, wet=wet), _weigh(impression, mixes), _mix(impression, bench, mixes)])
    cards.append(_pour(impression, bench))
    if impression.pour.base_stone is not None:
        cards.append(_base(impression))
    return (*cards, _separate(impression, wet=wet))


def _has_core(case: Case, tooth: int) -> bool:
    return all(unit.kind is not UnitKind.PONTIC for unit in case.unit if unit.tooth == tooth)


def _rinse(impression: Impression) -> StepCard:
    do = "Rinse under cool water. Shake, do not blow. Support every crown with the hand."
    return StepCard(_RINSE.step, "Rinse", do, impression.id, 0, Skill.DISINFECT, _RINSE.duration)


def _disinfect(impression: Impression, bench: Bench) -> StepCard:
    contact = maker_disinfect_min(impression, bench)
    return StepCard(
        _DISINFECT.step,
        "Disinfect",
        "Spray all round, close in a bag for the contact time. Rinse and shake again.",
        impression.id,
        0,
        Skill.DISINFECT,
        _DISINFECT.duration if contact is None else Duration(contact, contact, contact),
        attended=False,
        cautions=("Wear gloves and eye protection. The maker's contact time prevails.",),
        source=COMMON_PRACTICE if contact is None else Source(SourceKind.MAKER, "contact time"),
    )


def _count(impression: Impression) -> StepCard:
    return StepCard(
        _COUNT.step,
        "Count crowns",
        f"Count against the {len(impression.lifts)} planned: seated before, in the tray now. Probe each for its seat.",
        impression.id,
        0,
        Skill.COUNT,
        _COUNT.duration,
        cautions=("A crown missing: look in the mouth and on the floor, and think of the airway first.",),
    )


def _dry(impression: Impression, tooth: int, *, wet: bool) -> StepCard:
    never = "Never an air jet on alginate." if wet else "No strong air jet: it moves a crown."
    do = "Cut flash off the inside of the crown. Dry with cotton pellets."
    return StepCard(_DRY.step, f"Dry {tooth}", do, impression.id, tooth, Skill.DIES, _DRY.duration, cautions=(never,))


def _box(impression: Impression, *, wet: bool) -> StepCard:
    do = "Bead only, no heat. Keep it wet." if wet else "Bead and box 3 mm outside the border. No hot wax on a crown."
    timing = _BOX_ALGINATE if wet else _BOX_ELASTOMER
    return StepCard(timing.step, "Box", do, impression.id, 0, Skill.POUR, timing.duration)


def _weigh(impression: Impression, mixes: Sequence[Mix]) -> StepCard:
    first = mixes[0]
    water, powder = f"{first.water_each_ml:g} ml", f"{first.powder_each_g:g} g"
    n = first.n_batches
    again = f" The same again for each of {n} bowls, {first.powder_g:g} g in all." if n > 1 else ""
    return StepCard(
        _WEIGH.step,
        "Weigh",
        f"Water first: {water}, then {powder} powder.{again} Clean bowl, clean water.",
        impression.id,
        0,
        Skill.MIX,
        _WEIGH.duration,
        equipment=("balance",),
        resources=(
            f"{first.stone.value.replace('_', ' ').capitalize()} stone: {first.powder_g:g} g",
            f"water: {first.water_ml:g} ml",
        ),
        cautions=("Silica dust: pour powder low, mask on.",),
    )


def _mix(impression: Impression, bench: Bench, mixes: Sequence[Mix]) -> StepCard:
    has_vacuum = any(e.kind == "vacuum_mixer" for e in bench.equipment)
    timing = _MIX_VACUUM if has_vacuum else _MIX_HAND
    return StepCard(
        timing.step,
        "Mix",
        "Powder into water. Wet in by hand, then vacuum."
        if has_vacuum
        else "Powder into water. Wipe against the wall.",
        impression.id,
        0,
        Skill.MIX,
        timing.duration.scaled(mixes[0].n_batches),
        equipment=("vacuum_mixer",) if has_vacuum else (),
    )


def _pour(impression: Impression, bench: Bench) -> StepCard:
    has_vibrator = any(e.kind == "vibrator" for e in bench.equipment)
    return StepCard(
        _POUR.step,
        "Pour",
        "Brush stone round the pins first. Run it in from one end at the lowest amplitude.",
        impression.id,
        0,
        Skill.POUR,
        _POUR.duration,
        equipment=("vibrator",) if has_vibrator else (),
        cautions=("All stone in within 5 min of the mix.", "Never invert soft stone. No pin touches the tray."),
    )


def _base(impression: Impression) -> StepCard:
    do = "A second mix, after the gloss is gone from the first. Keep the first pour damp until then."
    return StepCard(_BASE.step, "Base", do, impression.id, 0, Skill.POUR, _BASE.duration)


def _separate(impression: Impression, *, wet: bool) -> StepCard:
    do = "Cut the tray off along the crowns. Lift in the path of the crowns, never by a crown."
    keep = ("Keep it humid until then. Never overnight.",) if wet else ()
    return StepCard(_SEPARATE.step, "Separate", do, impression.id, 0, Skill.SEPARATE, _SEPARATE.duration, cautions=keep)
