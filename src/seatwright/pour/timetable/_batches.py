"""From die cards of single units to batches that one touch starts and finishes.

Owns grouping and the saving of a batch. Refuses to know people and time of day.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from seatwright.case import Duration, StepCard

__all__ = ["Run", "batch_dies", "name_of_run", "run_duration"]

BATCH_FROM = 3  # common practice: units in a batch from which it costs less
BATCH_SHARE = 0.6  # common practice: share of the single times that a batch takes
_MOST_UNITS = 4  # judgement: more linings than this would wait too long for their second increment

_ON_ITS_OWN = "bar-stops"
"""Steps under a bar are no unit's, though their card carries a tooth."""

_WORDS = {
    "gel-lining": "gel dies",
    "gel-fill": "gel dies",
    "mask-wax": "mask",
    "flash-and-dry": "flash off, dry",
    "dry-crown": "dry",
    "resin-build": "pattern resin dies",
    "resin-harden": "resin hardens",
    "die-trial": "returned dies",
    "die-seal": "returned dies",
    "die-dry": "returned dies",
    "stone-pin": "pins",
    "analog-seat": "analogs",
    "pontic-block": "pontics, undercut",
    "count-crowns": "count crowns",
    "pour-base": "base",
    "take": "take the impression",
}


@dataclass(frozen=True, slots=True)
class Run:
    """Cards of several units that one person does in one go, or that all need no hands."""

    units: tuple[int, ...]
    cards: tuple[StepCard, ...]

    @property
    def steps(self) -> tuple[str, ...]:
        """Return the step names in order, each once."""
        return tuple(dict.fromkeys(card.id for card in self.cards))

    @property
    def is_attended(self) -> bool:
        """Whether it needs hands."""
        return self.cards[0].attended

    @property
    def equipment(self) -> tuple[str, ...]:
        """Return the kinds of equipment that it uses."""
        return tuple(dict.fromkeys(kind for card in self.cards for kind in card.equipment))


def name_of_run(cards: Sequence[StepCard]) -> tuple[str, str]:
    """Return (step, words) of the step that takes longest, which names the whole."""
    minutes: dict[str, float] = {}
    for card in cards:
        minutes[card.id] = minutes.get(card.id, 0.0) + card.duration.typical_min
    main = max(minutes, key=lambda step: minutes[step])
    if main.startswith(_ON_ITS_OWN):
        return main, "stops under" + main.removeprefix(_ON_ITS_OWN).replace("-", " ")
    return main, _WORDS.get(main, main.replace("-", " "))


def run_duration(cards: Sequence[StepCard]) -> Duration:
    """Return the minutes of a run; hardening and contact of several units pass at the same time.

    Examples
    --------
    >>> from seatwright.case import Skill
    >>> card = lambda tooth: StepCard("gel-fill", "", "", "i", tooth, Skill.DIES, Duration(1, 2, 3), batch="gel")
    >>> round(run_duration([card(33), card(34), card(35)]).typical_min, 2)
    3.6
    """
    if not cards[0].attended:
        longest = [card.duration for card in cards]
        return Duration(
            max(d.low_min for d in longest), max(d.typical_min for d in longest), max(d.high_min for d in longest)
        )
    teeth: dict[str, set[int]] = {}
    for card in cards:
        if card.batch:
            teeth.setdefault(card.batch, set()).add(card.tooth)
    total = Duration(0.0, 0.0, 0.0)
    for card in cards:
        saves = len(teeth.get(card.batch, ())) >= BATCH_FROM
        total = total.plus(card.duration.scaled(BATCH_SHARE if saves else 1.0))
    return total


def batch_dies(cards: Sequence[StepCard]) -> tuple[tuple[Run, ...], ...]:
    """Group the cards of one impression's units into chains of runs, in the order of the cards.

    Units whose work runs through the same stages go together, at most four at a time and evenly; each chain is what
    must happen one after the other to its units.
    """
    stages: dict[tuple[int, str], list[list[StepCard]]] = {}
    for card in cards:
        unit = stages.setdefault((card.tooth, card.id if card.id.startswith(_ON_ITS_OWN) else ""), [])
        if unit and _goes_on(unit[-1][-1], card):
            unit[-1].append(card)
        else:
            unit.append([card])
    groups: dict[tuple[object, ...], list[tuple[int, str]]] = {}
    for unit_key, runs in stages.items():
        groups.setdefault(tuple(_signature(run) for run in runs), []).append(unit_key)
    chains = []
    for keys in groups.values():
        for part in _even_parts(keys):
            units = tuple(tooth for tooth, _ in part)
            n_runs = len(stages[part[0]])
            chains.append(tuple(Run(units, tuple(c for key in part for c in stages[key][i])) for i in range(n_runs)))
    return tuple(chains)


def _goes_on(before: StepCard, after: StepCard) -> bool:
    return before.attended and after.attended and before.skill is after.skill


def _signature(run: Sequence[StepCard]) -> tuple[object, ...]:
    batches = tuple(sorted({card.batch for card in run if card.batch}))
    return (run[0].skill, run[0].attended, batches or tuple(card.id for card in run))


def _even_parts(keys: Sequence[tuple[int, str]]) -> list[Sequence[tuple[int, str]]]:
    n_parts = -(-len(keys) // _MOST_UNITS)
    size, rest = divmod(len(keys), n_parts)
    parts, at = [], 0
    for index in range(n_parts):
        step = size + (1 if index < rest else 0)
        parts.append(keys[at : at + step])
        at += step
    return parts
