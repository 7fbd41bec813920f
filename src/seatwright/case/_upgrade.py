"""Schema versions of a document: older ones are upgraded step by step, newer ones refused. Pure; works on plain dicts.

There is one version so far, so that the tables are empty; a new version adds one row: a function from n to n + 1.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final

from seatwright.errors import Fault

__all__ = ["BENCH_UPGRADES", "CASE_UPGRADES", "upgrade_document"]

Upgrade = Callable[[dict[str, Any]], dict[str, Any]]

CASE_UPGRADES: Final[Mapping[int, Upgrade]] = MappingProxyType({})
"""From version n (key) to n + 1, for the case document."""
BENCH_UPGRADES: Final[Mapping[int, Upgrade]] = MappingProxyType({})
"""From version n (key) to n + 1, for the bench file."""


def upgrade_document(
    data: Mapping[str, Any], *, current: int, upgrades: Mapping[int, Upgrade], file: str
) -> tuple[dict[str, Any] | None, tuple[Fault, ...]]:
    """Return a document at the current schema version, or None and why not.

    Parameters
    ----------
    data : mapping
        The document as read; its ``schema`` tells the version. It is not changed.
    current : int
        Version that this code reads.
    upgrades : mapping from int to function
        From version n to n + 1; each takes a dict that it may change and returns the upgraded one. The version number
        itself is set here.
    file : str
        Name for the faults' places.

    Examples
    --------
    >>> table = {1: lambda old: {"name": old["title"]}}
    >>> upgrade_document({"schema": 1, "title": "a"}, current=2, upgrades=table, file="case.toml")
    ({'name': 'a', 'schema': 2}, ())
    """
    version = data.get("schema")
    where = f"{file}: schema"
    if version is None:
        return None, (Fault(where, "the schema version is missing", f"add the line: schema = {current}"),)
    if isinstance(version, bool) or not isinstance(version, int):
        return None, (Fault(where, "the schema version is no whole number", f"write: schema = {current}"),)
    if version > current:
        return None, (
            Fault(
                where,
                f"the document has schema version {version}; this Seatwright reads up to {current}",
                f"install a newer Seatwright, or ask the sender for schema {current}; do not edit the number",
            ),
        )
    document = dict(data)
    for step in range(version, current):
        if step not in upgrades:
            return None, (
                Fault(
                    where,
                    f"there is no schema version {version}",
                    f"versions run from 1 to {current}; write the true one",
                ),
            )
        document = upgrades[step](document)
        document["schema"] = step + 1
    return document, ()
