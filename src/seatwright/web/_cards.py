"""Step cards of one task, gathered for one screen: each instruction once with its units, each caution once."""

from collections.abc import Sequence
from typing import Any

from seatwright.case import StepCard

__all__ = ["gather_cards"]


def gather_cards(cards: Sequence[StepCard]) -> dict[str, Any]:
    """Return steps in order, then what to take and what to mind, without repeats."""
    steps: dict[tuple[str, str], list[int]] = {}
    for card in cards:
        steps.setdefault((card.title, card.do), []).append(card.tooth)
    return {
        "steps": [
            {"title": title, "do": do, "units": [tooth for tooth in teeth if tooth]}
            for (title, do), teeth in steps.items()
        ],
        "resources": list(dict.fromkeys(item for card in cards for item in card.resources)),
        "equipment": list(dict.fromkeys(item.replace("_", " ") for card in cards for item in card.equipment)),
        "cautions": list(dict.fromkeys(item for card in cards for item in card.cautions)),
        "source": "; ".join(dict.fromkeys(card.source.shown() for card in cards)),
    }
