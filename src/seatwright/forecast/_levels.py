"""Reading a figure: the published record or what replaces it, somewhere in its range.

The one place through which the forecast reads evidence, so that nothing enters without being named.
"""

from collections.abc import Iterable

from seatwright.evidence import Confidence, EvidenceRecord, find_evidence
from seatwright.forecast._choices import Choices
from seatwright.forecast._links import LINKS
from seatwright.quantities import Law, Measured, Normal, StudentT

__all__ = ["band_law", "law_about", "list_poorly_known", "read_record", "scale_law", "take_level", "worst_confidence"]


def read_record(identifier: str, choices: Choices) -> EvidenceRecord:
    """Return the record in force: the case's, maker's or practice's own figure where there is one."""
    return choices.own.records.get(identifier) or find_evidence(identifier)


def take_level(identifier: str, choices: Choices, *, more_is_better: bool = False) -> float:
    """Return a record's value, moved towards an end of its range as `choices.levels` says.

    Examples
    --------
    >>> take_level("fc_play_cement", Choices(levels={"*": 1.0}), more_is_better=True)
    50.0
    """
    record = read_record(identifier, choices)
    if record.low is None or record.high is None:
        return record.require_value()
    ends = (record.low, record.high) if more_is_better else (record.high, record.low)
    return _move(record.require_value(), ends, _position(identifier, choices))


def law_about(identifiers: Iterable[str], choices: Choices, spread: float) -> Law:
    """Return the law of an error with mean zero and this spread: t where one of the records comes from few readings.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.
    """
    counts = [n for i in identifiers if (n := read_record(i, choices).n) is not None]
    return StudentT(0.0, spread, min(counts) - 1) if counts else Normal(0.0, spread)


def scale_law(identifier: str, choices: Choices) -> Law:
    """Return the law of a change of scale in percent; what hinders seating is the end farther from zero."""
    record = read_record(identifier, choices)
    value, sd = record.require_value(), record.sd or 0.0
    if record.low is not None and record.high is not None:
        far = record.high if abs(record.high) >= abs(record.low) else record.low
        near = min(max(0.0, record.low), record.high)
        value = _move(value, (far, near), _position(identifier, choices))
    return StudentT(value, sd, record.n - 1) if record.n is not None else Normal(value, sd)


def band_law(change: Measured, choices: Choices) -> Law:
    """Return the law of an impression's change; where it is only a range, its middle moves by one u either way."""
    value = change.value
    if choices.pour is not None and choices.pour.is_range:
        ends = sorted((value - change.u, value + change.u), key=abs)
        value = _move(value, (ends[1], ends[0]), _position(_BAND, choices))
    return Normal(value, change.u)


_BAND = "pour_band"
"""Name under which the pour's band is moved among the poorly known figures."""


def list_poorly_known(choices: Choices) -> tuple[str, ...]:
    """Return the figures with a range and low confidence: nothing measured pins them."""
    ids = {e for link in LINKS for e in link.evidence}
    records = (read_record(e, choices) for e in sorted(ids))
    weak = [r.id for r in records if r.confidence is Confidence.LOW and r.low is not None and r.value is not None]
    if choices.pour is not None and choices.pour.is_range:
        weak.append(_BAND)
    return tuple(weak)


def worst_confidence(identifiers: Iterable[str], choices: Choices) -> Confidence:
    """Return the worst confidence among some figures in force."""
    order = list(Confidence)
    return max((read_record(i, choices).confidence for i in identifiers), key=order.index, default=Confidence.HIGH)


def _position(identifier: str, choices: Choices) -> float:
    return choices.levels.get(identifier, choices.levels.get("*", 0.0))


def _move(value: float, ends: tuple[float, float], position: float) -> float:
    """Move from the value towards the end that hinders (position -1) or that favors seating (+1)."""
    end = ends[1] if position > 0 else ends[0]
    return value + abs(position) * (end - value)
