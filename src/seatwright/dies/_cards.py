"""From a chosen technique to the step cards that a person works from.

Owns the order of steps and the minutes of a set of them; the steps of resin dies stand in `_cards_resin`. Knows no
rule.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from seatwright.case import Duration, Intaglio, Skill, StepCard
from seatwright.dies import _cautions as caution
from seatwright.dies._cards_resin import gel_cards, mask_card, pattern_resin_cards, post_film_card
from seatwright.dies._facts import BLOCK_OUT_STEP, PLUG_STEP, UnitFacts
from seatwright.dies._result import Technique
from seatwright.evidence import find_evidence

__all__ = ["make_cards", "total_minutes"]

_FLASH_AND_DRY = Duration(0.5, 1, 2)  # common practice
_BLOCK_OUT = Duration(1, 2, 4)  # judgement: as long as masking with wax
_PLUG = Duration(0.5, 1, 2)  # judgement: a pellet and wax
_DIE_TRIAL = Duration(0.5, 1, 2)  # common practice
_DIE_DRY = Duration(0.5, 1, 2)  # common practice
_DIE_TACK = Duration(0.2, 0.5, 2)  # common practice
_DIE_SEAL = Duration(0.5, 1, 2)  # common practice
_STONE_PIN = Duration(0.5, 1, 2)  # common practice
_ANALOG = Duration(1, 2, 4)  # common practice
_MIN_BATCH = 3  # evidence: die_batch_gel
_NO_TIME = Duration(0, 0, 0)  # definition: start of a sum


def make_cards(technique: Technique, facts: UnitFacts) -> tuple[StepCard, ...]:
    """Return the ordered steps of a technique on one unit, from flash to finished die."""
    before = [] if technique is Technique.NONE else _prepare(technique, facts)
    return (*before, *_MAKERS[technique](facts))


def total_minutes(cards: Sequence[StepCard]) -> Duration:
    """Return the minutes of these steps with one pair of hands, hardening left out.

    Steps of one batch on three teeth or more take the share of their sum that `die_batch_gel` states.

    Examples
    --------
    >>> card = partial(StepCard, id="gel-fill", title="", do="", impression="i", skill=Skill.DIES, batch="b",
    ...                duration=Duration(1, 2, 3))
    >>> total_minutes([card(tooth=33), card(tooth=34)]).typical_min
    4.0
    >>> round(total_minutes([card(tooth=33), card(tooth=34), card(tooth=35)]).typical_min, 2)
    3.6
    """
    teeth: dict[str, set[int]] = {}
    for card in cards:
        if card.batch:
            teeth.setdefault(card.batch, set()).add(card.tooth)
    share = find_evidence("die_batch_gel").require_value()
    total = _NO_TIME
    for card in cards:
        if card.attended:
            is_batch = len(teeth.get(card.batch, ())) >= _MIN_BATCH
            total = total.plus(card.duration.scaled(share if is_batch else 1.0))
    return total


def _prepare(technique: Technique, facts: UnitFacts) -> list[StepCard]:
    """Return the steps before any die: flash off, water out, openings closed, a bare post filmed.

    A preformed die copies the preparation, its grooves included: wax in them would keep it from seating.
    """
    card = partial(StepCard, impression=facts.impression, tooth=facts.tooth, skill=Skill.DIES)
    stays_moist = technique is Technique.GEL and not facts.gel_needs_separator
    steps = [
        card(
            id="flash-and-dry",
            title="Flash off, water out",
            do="Trim impression flash inside the edge. "
            + ("Take up pooled water with a pellet; leave the metal moist." if stays_moist else "Dry with pellets."),
            duration=_FLASH_AND_DRY,
            resources=("pellets",),
            cautions=(
                caution.DRY_FIRST,
                *((caution.MATRIX,) if facts.attachments else ()),
                *((caution.SOFT_TISSUE,) if facts.is_deep else ()),
            ),
        )
    ]
    if facts.is_screw_channel_open:
        steps.append(
            card(
                id=PLUG_STEP,
                title="Plug the screw channel",
                do="Close the abutment's screw channel with a pellet and wax, flush.",
                duration=_PLUG,
                resources=("pellet", "wax"),
            )
        )
    if facts.open_features and technique is not Technique.RETURNED_EPOXY:
        steps.append(
            card(
                id=BLOCK_OUT_STEP,
                title="Block out inside",
                do=f"Block out the {', '.join(facts.open_features)} with wax, flush with the wall; log it.",
                duration=_BLOCK_OUT,
                equipment=("electric_waxer",),
                resources=("block-out wax",),
                cautions=(caution.FLAME, caution.WAX_HEAT),
            )
        )
    if facts.is_core_in_crown and technique is not Technique.ANALOG:
        steps.append(post_film_card(facts))
    return steps


def _masked_cards(facts: UnitFacts) -> list[StepCard]:
    return [mask_card(facts), *gel_cards(facts)]


def _epoxy_cards(facts: UnitFacts) -> list[StepCard]:
    card = partial(StepCard, impression=facts.impression, tooth=facts.tooth, skill=Skill.DIES)
    spray = (caution.NO_ACCELERATOR,) if facts.is_hydrocolloid else ()
    treated = (caution.TREATED_TACK,) if facts.intaglio is not Intaglio.CLEAN else ()
    return [
        card(
            id="die-trial",
            title=f"Read the number, try the die: {facts.tooth}",
            do=f"Read the engraved number aloud: {facts.tooth}. Seat it without force; no gap over 50 µm all round.",
            duration=_DIE_TRIAL,
            resources=(f"returned die {facts.tooth}",),
            cautions=(caution.NUMBER,),
        ),
        card(
            id="die-dry",
            title="Dry again",
            do="Dry the inside and the die with fresh pellets right before tacking; log it.",
            duration=_DIE_DRY,
            resources=("pellets",),
            cautions=(caution.DRY_FIRST,),
        ),
        card(
            id="die-tack",
            title="Tack",
            do="A trace of cyanoacrylate at the die's tip, seat along the axis, hold still.",
            duration=_DIE_TACK,
            resources=("cyanoacrylate, a trace",),
            cautions=(caution.CYANOACRYLATE, *treated, *spray, caution.CYANOACRYLATE_HARM, caution.MAKER),
        ),
        card(
            id="die-seal",
            title="Seal round",
            do="Sticky wax round the edge, so that no stone creeps between crown and die. Check the root key is bare.",
            duration=_DIE_SEAL,
            equipment=("electric_waxer",),
            resources=("sticky wax",),
            cautions=(caution.FLAME, caution.WAX_HEAT, caution.LIFT_ONCE),
        ),
    ]


def _stone_cards(facts: UnitFacts) -> list[StepCard]:
    card = partial(StepCard, impression=facts.impression, tooth=facts.tooth, skill=Skill.DIES)
    lift = (caution.LIFT_ONCE,) if facts.has_brittle_edge else ()
    return [
        card(
            id="stone-pin",
            title=f"Pin for the stone die {facts.tooth}",
            do=f"Pin numbered {facts.tooth}, bent, clear of tray and edge. At the pour brush "
            + ("Type 4 stone" if facts.has_brittle_edge else "die stone")
            + " into the crown round the pin first.",
            duration=_STONE_PIN,
            resources=("retention pin", f"label {facts.tooth}"),
            cautions=(caution.NUMBER, *lift),
        )
    ]


def _analog_cards(facts: UnitFacts) -> list[StepCard]:
    return [
        StepCard(
            id="analog-seat",
            title=f"Analog {facts.tooth}",
            do=f"Screw the matching analog, numbered {facts.tooth}, to the crown; see its seat all round; tighten to "
            "the maker's torque.",
            impression=facts.impression,
            tooth=facts.tooth,
            skill=Skill.DIES,
            duration=_ANALOG,
            resources=("matching analog", "laboratory screw", f"label {facts.tooth}"),
            cautions=(caution.MAKER, caution.NUMBER, "Hold the crown while tightening, or it turns in the impression."),
        )
    ]


def _pontic_cards(facts: UnitFacts) -> list[StepCard]:
    return [
        StepCard(
            id="pontic-block",
            title=f"Pontic {facts.tooth}: undercut",
            do="Block the undercut beside the pontic with wax; keep the ridge's form under it. No die.",
            impression=facts.impression,
            tooth=facts.tooth,
            skill=Skill.DIES,
            duration=_BLOCK_OUT,
            equipment=("electric_waxer",),
            resources=("block-out wax",),
            cautions=(caution.FLAME, caution.WAX_HEAT),
        )
    ]


_MAKERS: Mapping[Technique, Callable[[UnitFacts], list[StepCard]]] = {
    Technique.GEL: gel_cards,
    Technique.PATTERN_RESIN: pattern_resin_cards,
    Technique.RETURNED_EPOXY: _epoxy_cards,
    Technique.MASKED: _masked_cards,
    Technique.STONE: _stone_cards,
    Technique.ANALOG: _analog_cards,
    Technique.NONE: _pontic_cards,
}
