"""A document with its unreadable parts taken out, so that the rest can still be compared. Guesses no value.

What was taken out may be what a contradiction hangs on: whatever mentions it is not told until it can be read.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from seatwright.errors import Fault

__all__ = ["Remainder", "set_aside"]

_TELLING = frozenset({"id", "tooth", "units", "lifts", "from_tooth", "to_tooth"})
"""Fields by which other parts know an item, or through which it reaches them: when wrong, its reach is unknown."""
_RELIED_ON = frozenset({"unit", "join", "bar", "impression"})
"""Lists whose items others need: for their teeth, not for their names alone."""
_JOINING = frozenset({"join"})
_REFERENCES = ("id", "bar", "impression", "replaces")
_TEETH = range(11, 49)  # ISO 3950
_INDEXED = re.compile(r"^(?P<list>\w+)\[(?P<index>\d+)\]")
_WORD = re.compile(r"[\w-]+")
# none of these takes part in a comparison: a stand-in changes no answer
_STAND_INS: Mapping[str, Any] = {"code": "X", "title": "", "tolerance": {"unit_shift_um": 1.0, "reason": "-"}}
_DROPPED = frozenset({"as_of"})


@dataclass(frozen=True, slots=True)
class Remainder:
    """What is left of a document.

    Attributes
    ----------
    data : dict
        Without the items that cannot be read.
    kept : mapping of list name to indices
        Where each remaining item stood.
    gone : frozenset of str
        Tooth numbers and names in what was taken out.
    lists : frozenset of str
        Lists that lost an item, so that what is said of the whole list is not certain.
    """

    data: dict[str, Any]
    kept: Mapping[str, tuple[int, ...]]
    gone: frozenset[str]
    lists: frozenset[str]

    def certain(self, faults: Iterable[Fault]) -> list[Fault]:
        """Return the faults that hold whatever was taken out, each at its original place."""
        return [self._original(f) for f in faults if self._is_certain(f)]

    def _is_certain(self, fault: Fault) -> bool:
        if fault.where.split(".")[0] in self.lists:
            return False
        said = set(_WORD.findall(fault.what))
        place = _INDEXED.match(fault.where)
        if place is not None:
            item = self.data[place["list"]][int(place["index"])]
            said |= _mentions(item) if place["list"] in _JOINING else {str(item.get("tooth", item.get("id", "")))}
        return not said & self.gone

    def _original(self, fault: Fault) -> Fault:
        place = _INDEXED.match(fault.where)
        if place is None or place["list"] not in self.kept:
            return fault
        index = self.kept[place["list"]][int(place["index"])]
        return Fault(f"{place['list']}[{index}]{fault.where[place.end() :]}", fault.what, fault.hint)


def set_aside(data: Mapping[str, Any], places: Iterable[tuple[str | int, ...]]) -> Remainder | None:
    """Take out the list items that hold a wrong field; None when what all comparisons rest on is wrong itself.

    Parameters
    ----------
    data : mapping
        Plain data, JSON types.
    places : iterable of path
        Where single fields are wrong: such as ``("unit", 3, "margin")``.
    """
    rest = json.loads(json.dumps(data))
    lost: dict[str, set[int]] = {}
    for loc in places:
        name = str(loc[0]) if loc else ""
        if len(loc) > 1 and isinstance(loc[1], int) and isinstance(rest.get(name), list):
            if len(loc) == 2 or loc[2] in _TELLING:
                return None  # nobody knows what the others mean by it
            lost.setdefault(name, set()).add(loc[1])
        elif name in _STAND_INS:
            rest[name] = _STAND_INS[name]
        elif name in _DROPPED:
            rest.pop(name, None)
        else:
            return None
    gone: set[str] = set()
    kept: dict[str, tuple[int, ...]] = {}
    for name, indices in lost.items():
        items = rest[name]
        for index in indices:
            gone |= _mentions(items[index]) if name in _RELIED_ON else {str(items[index].get("id", ""))}
        kept[name] = tuple(i for i in range(len(items)) if i not in indices)
        rest[name] = [items[i] for i in kept[name]]
    return Remainder(rest, kept, frozenset(gone), frozenset(lost))


def _mentions(value: object) -> set[str]:
    """Return the tooth numbers and names that an item is known by or refers to."""
    if isinstance(value, Mapping):
        named = {str(v) for key, v in value.items() if key in _REFERENCES and isinstance(v, str)}
        return named.union(*(_mentions(inner) for inner in value.values()))
    if isinstance(value, list):
        return set().union(*(_mentions(inner) for inner in value))
    return {str(value)} if isinstance(value, int) and not isinstance(value, bool) and value in _TEETH else set()
