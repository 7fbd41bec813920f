"""Step cards gathered into rounds: one step on all its units together, since gloves change once a round.

Owns order and grouping; changes no instruction.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from seatwright.case import Duration, StepCard

__all__ = ["Instruction", "Round", "gather_rounds"]


@dataclass(frozen=True, slots=True)
class Instruction:
    """What to do, and at which units when not at all of the round."""

    units: str
    do: str


@dataclass(frozen=True, slots=True)
class Round:
    """One step on some units.

    Attributes
    ----------
    title : str
    units : str
        Tooth numbers as shown; empty for a step on the whole impression.
    instructions : tuple of Instruction
        One, or several where units differ.
    cautions : tuple of str
        Only those not said in an earlier round.
    resources, equipment : tuple of str
    n : int
        How often the step is done.
    duration : Duration
        Of one time.
    attended : bool
    """

    title: str
    units: str
    instructions: tuple[Instruction, ...]
    cautions: tuple[str, ...]
    resources: tuple[str, ...]
    equipment: tuple[str, ...]
    n: int
    duration: Duration
    attended: bool


def gather_rounds(sequences: Sequence[Sequence[StepCard]], label: Callable[[int], str]) -> tuple[Round, ...]:
    """Merge each unit's sequence of steps into one sequence of rounds that keeps every unit's order.

    Parameters
    ----------
    sequences : sequence of sequences of StepCard
        One per unit, in the order of the arch.
    label : callable
        From a tooth number to what is shown.
    """
    order = _merge_orders([[card.id for card in cards] for cards in sequences])
    said: set[str] = set()
    rounds = []
    for identifier in order:
        cards = [card for sequence in sequences for card in sequence if card.id == identifier]
        rounds.append(_make_round(cards, label, said))
    return tuple(rounds)


def _merge_orders(orders: Sequence[Sequence[str]]) -> list[str]:
    """Merge sequences into one: a new step goes behind the one it follows, else before the one that follows it."""
    merged: list[str] = []
    for order in orders:
        for k, identifier in enumerate(order):
            if identifier not in merged:
                following = [merged.index(other) for other in order[k + 1 :] if other in merged]
                place = merged.index(order[k - 1]) + 1 if k else min(following, default=len(merged))
                merged.insert(place, identifier)
    return merged


def _make_round(cards: Sequence[StepCard], label: Callable[[int], str], said: set[str]) -> Round:
    teeth = [card.tooth for card in cards if card.tooth]
    texts: dict[str, list[StepCard]] = {}
    for card in cards:
        texts.setdefault(_without_number(card.do, card.tooth), []).append(card)
    instructions = tuple(
        Instruction("" if len(texts) == 1 else _units(same, label), _with_numbers(text, same, label))
        for text, same in texts.items()
    )
    cautions = tuple(dict.fromkeys(c for card in cards for c in card.cautions if c not in said))
    said.update(cautions)
    low, typical, high = (
        sum(getattr(card.duration, name) for card in cards) / len(cards)
        for name in ("low_min", "typical_min", "high_min")
    )
    return Round(
        title=_with_numbers(_without_number(cards[0].title, cards[0].tooth), cards, label),
        units=", ".join(label(t) for t in teeth),
        instructions=instructions,
        cautions=cautions,
        resources=tuple(dict.fromkeys(r for card in cards for r in card.resources if not r.startswith("label "))),
        equipment=tuple(dict.fromkeys(e for card in cards for e in card.equipment)),
        n=len(cards),
        duration=Duration(low, typical, high),
        attended=all(card.attended for card in cards),
    )


_SLOT = "\x00"


def _without_number(text: str, tooth: int) -> str:
    return text.replace(str(tooth), _SLOT) if tooth else text


def _with_numbers(text: str, cards: Sequence[StepCard], label: Callable[[int], str]) -> str:
    return text.replace(_SLOT, _units(cards, label))


def _units(cards: Sequence[StepCard], label: Callable[[int], str]) -> str:
    return ", ".join(label(card.tooth) for card in cards if card.tooth)
