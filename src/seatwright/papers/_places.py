"""Where on the page each finding stands in full: once, at its step; elsewhere a line leads there."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["place_findings"]

_Shown = dict[str, Any]


def place_findings(view: Mapping[str, Any]) -> None:
    """Give each finding of a view the address at which it stands in full.

    ``at`` is the address of this very showing, empty where it is not the place; ``place`` leads to the place. What no
    step shows stands in full among all findings.
    """
    places: dict[tuple[str, str, str], str] = {}
    taken: set[str] = set()
    for finding, fixed in _shown_at_steps(view):
        key = _key(finding)
        is_first = key not in places
        places.setdefault(key, fixed or _address(finding, taken))
        finding.update(at=places[key] if is_first and not fixed else "", place=places[key])
    for finding in view["findings"]:
        key = _key(finding)
        is_own = key not in places
        places.setdefault(key, _address(finding, taken))
        finding.update(at=places[key] if is_own else "", place=places[key])


def _shown_at_steps(view: Mapping[str, Any]) -> Iterator[tuple[_Shown, str]]:
    """Return each finding that a step shows, and the address of what it stands in where it has none of its own."""
    for unit in view["units"]:
        yield from ((finding, f"unit-{unit['tooth']}") for finding in unit["findings"])
    for impression in view["impressions"]:
        yield from ((finding, "") for finding in impression["findings"])
    by_hand = view["by_hand"] or {}
    for kind in ("caliper", "index"):
        yield from ((finding, "") for finding in (by_hand.get(kind) or {}).get("findings", ()))
    for finding in (view["fit"] or {}).get("findings", ()):
        yield finding, "fit" if finding["severity"] == "note" else ""
    yield from ((finding, "") for finding in (view["path"] or {}).get("findings", ()))


def _key(finding: _Shown) -> tuple[str, str, str]:
    return finding["id"], finding["about"], finding["what"]


def _address(finding: _Shown, taken: set[str]) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", f"finding-{finding['id']}-{finding['about']}".lower()).strip("-")
    number = 1 + sum(address == words or address.startswith(f"{words}--") for address in taken)
    address = words if number == 1 else f"{words}--{number}"
    taken.add(address)
    return address
