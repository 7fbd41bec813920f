"""Figures that replace the published ones: of this case, of a maker, of the practice's own record.

Owns what such a document may say and every fault in it. Reads no file.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

from seatwright.errors import CaseError, Fault
from seatwright.evidence import Confidence, EvidenceRecord, HowObtained, find_evidence
from seatwright.forecast._links import LINKS, find_link

__all__ = ["OwnFigures", "Together", "parse_own_figures"]

_FEWEST = 4  # JCGM 101:2008, 6.4.9.4: a t law needs more than three readings for a finite spread
_NUMBERS = ("value", "sd", "low", "high")
_FIELDS = {*_NUMBERS, "unit", "n", "source", "whose", "confidence"}
_WHOSE = ("case", "maker", "practice")
_SHAPE = '[fc_join_luted] with value = 12, unit = "µm", source = "..." and whose = "practice"'


@dataclass(frozen=True, slots=True)
class Together:
    """Correlation of one link's errors at two units of the same pour, component by component.

    Attributes
    ----------
    link : str
    teeth : tuple of two ints
    value : float
        Between -1 and 1.
    """

    link: str
    teeth: tuple[int, int]
    value: float


@dataclass(frozen=True, slots=True)
class OwnFigures:
    """What replaces the published figures."""

    records: Mapping[str, EvidenceRecord] = field(default_factory=dict)
    together: tuple[Together, ...] = ()
    file: str = ""


def parse_own_figures(document: Mapping[str, object], *, file: str) -> OwnFigures:
    """Return the figures that a document states.

    Parameters
    ----------
    document : mapping
        One table per evidence id with value, unit and source; optional sd, low and high (the range it could lie in), n
        (readings behind the spread), whose (case, maker or practice), confidence. A list ``correlation`` of tables with
        link, between (two teeth) and value.
    file : str
        Its name, for the faults.

    Raises
    ------
    CaseError
        With every fault found.

    Examples
    --------
    >>> own = parse_own_figures(
    ...     {"fc_drift": {"value": 5.0, "unit": "µm", "source": "index kept for 30 cases"}}, file="own.toml"
    ... )
    >>> own.records["fc_drift"].value
    5.0
    """
    faults: list[Fault] = []
    records: dict[str, EvidenceRecord] = {}
    together: list[Together] = []
    for name, content in document.items():
        where = f"{file}: {name}"
        if name == "correlation":
            together = _parse_together(content, where, faults)
        elif not isinstance(content, Mapping):
            faults.append(Fault(where, "is not a table", f"write {_SHAPE}"))
        elif name not in _usable():
            near = get_close_matches(name, _usable(), n=1)
            hint = f"did you mean {near[0]}?" if near else "seatwright evidence fc_ lists what the forecast reads"
            faults.append(Fault(where, "is no figure that the forecast reads", hint))
        elif (record := _parse_record(name, content, where, faults)) is not None:
            records[name] = record
    if faults:
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        raise CaseError(f"{faults[0].where}: {faults[0].what}{more}", hint=faults[0].hint, faults=faults)
    return OwnFigures(records, tuple(together), file)


def _usable() -> list[str]:
    return sorted({identifier for link in LINKS for identifier in link.evidence})


def _parse_record(name: str, content: Mapping[str, object], where: str, faults: list[Fault]) -> EvidenceRecord | None:
    published = find_evidence(name)
    before = len(faults)
    faults += [Fault(f"{where}.{k}", "is not a known field", "remove it") for k in sorted(content.keys() - _FIELDS)]
    numbers = {k: _number(content, k, where, faults) for k in _NUMBERS}
    if numbers["value"] is None and "value" not in content:
        faults.append(Fault(f"{where}.value", "is missing", f"write {_SHAPE}"))
    if content.get("unit") != published.unit:
        faults.append(
            Fault(f"{where}.unit", f"is {content.get('unit')!r}, not {published.unit!r}", "convert the figure")
        )
    if not isinstance(content.get("source"), str) or not content.get("source"):
        faults.append(Fault(f"{where}.source", "says nothing", "say who measured it, on how many, when"))
    if content.get("whose", "practice") not in _WHOSE:
        faults.append(Fault(f"{where}.whose", "is none of " + ", ".join(_WHOSE), "say whose figure it is"))
    if content.get("confidence", "high") not in tuple(Confidence):
        faults.append(Fault(f"{where}.confidence", "is none of high, medium, low", "say how sure it is"))
    n = _readings(content, where, faults)
    faults += _contradictions(published, numbers, where)
    if len(faults) > before:
        return None
    return EvidenceRecord(
        id=name,
        topic="own",
        quantity=published.quantity,
        unit=published.unit,
        conditions=f"replaces the published figure; said by the {content.get('whose', 'practice')}",
        source=str(content["source"]),
        how=HowObtained.OWN,
        confidence=Confidence(str(content.get("confidence", "high"))),
        value=numbers["value"],
        sd=numbers["sd"],
        low=numbers["low"],
        high=numbers["high"],
        n=n,
    )


def _number(content: Mapping[str, object], name: str, where: str, faults: list[Fault]) -> float | None:
    value = content.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        faults.append(Fault(f"{where}.{name}", f"{value!r} is not a number", "give a finite number"))
        return None
    return float(value)


def _readings(content: Mapping[str, object], where: str, faults: list[Fault]) -> int | None:
    n = content.get("n")
    if n is None:
        return None
    if isinstance(n, bool) or not isinstance(n, int) or n < _FEWEST:
        faults.append(
            Fault(
                f"{where}.n",
                f"a spread from {n!r} readings has no finite uncertainty of its own",
                f"take at least {_FEWEST} readings, or state a range (low, high) instead of n",
            )
        )
        return None
    return n


def _contradictions(published: EvidenceRecord, numbers: Mapping[str, float | None], where: str) -> list[Fault]:
    value, sd, low, high = (numbers[name] for name in _NUMBERS)
    faults = []
    if published.sd is None and value is not None and value < 0:
        faults.append(Fault(f"{where}.value", f"a spread cannot be negative, got {value:g}", "give its size"))
    if sd is not None and sd < 0:
        faults.append(Fault(f"{where}.sd", f"a spread cannot be negative, got {sd:g}", "give its size"))
    if published.sd is None and sd is not None:
        faults.append(
            Fault(f"{where}.sd", "this figure is itself a size, without a spread", "give low and high instead")
        )
    if published.sd is not None and sd is None and value is not None:
        faults.append(Fault(f"{where}.sd", "is missing", "say how far the figure scatters from cast to cast"))
    if (low is None) != (high is None):
        faults.append(Fault(where, "gives one end of a range only", "give both low and high, or neither"))
    elif low is not None and high is not None and value is not None and not low <= value <= high:
        faults.append(Fault(where, f"its value {value:g} lies outside {low:g} to {high:g}", "correct one of the three"))
    return faults


def _parse_together(content: object, where: str, faults: list[Fault]) -> list[Together]:
    if not isinstance(content, list):
        faults.append(Fault(where, "is not a list", "write [[correlation]] with link, between and value"))
        return []
    found = []
    for k, entry in enumerate(content):
        here = f"{where}[{k}]"
        link = entry.get("link") if isinstance(entry, Mapping) else None
        between = entry.get("between") if isinstance(entry, Mapping) else None
        value = entry.get("value") if isinstance(entry, Mapping) else None
        if link not in {known.id for known in LINKS if known.per_unit}:
            per_unit = ", ".join(known.id for known in LINKS if known.per_unit)
            faults.append(Fault(f"{here}.link", f"'{link}' is no link with an error per unit", f"one of {per_unit}"))
        elif not (isinstance(between, list) and len(between) == 2 and all(isinstance(t, int) for t in between)):
            faults.append(Fault(f"{here}.between", "does not name two teeth", "write between = [35, 44]"))
        elif isinstance(value, bool) or not isinstance(value, int | float) or not -1 <= value <= 1:
            faults.append(Fault(f"{here}.value", f"{value!r} is no correlation", "it lies between -1 and 1"))
        else:
            found.append(Together(find_link(str(link)).id, (between[0], between[1]), float(value)))
    return found
