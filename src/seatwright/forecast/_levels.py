"""Reading an evidence record somewhere in its range."""

from seatwright.evidence import find_evidence
from seatwright.forecast._choices import Choices

__all__ = ["take_level"]


def take_level(identifier: str, choices: Choices, *, more_is_better: bool = False) -> float:
    """Return a record's value, moved towards an end of its range as `choices.levels` says.

    Examples
    --------
    >>> take_level("fc_play_cement", Choices(levels={"*": 1.0}), more_is_better=True)
    50.0
    """
    record = find_evidence(identifier)
    position = choices.levels.get(identifier, choices.levels.get("*", 0.0))
    value = record.require_value()
    if position == 0 or record.low is None or record.high is None:
        return value
    towards_high = (position > 0) == more_is_better
    end = record.high if towards_high else record.low
    return value + abs(position) * (end - value)
