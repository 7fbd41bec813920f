"""What people ask the practice record: lists of values, a page at a time, and how a page is named.

A page ends with a token that the next question gives back; rows that are added meanwhile neither shift nor repeat any.
"""

import base64
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, Protocol, TypeVar

from seatwright.errors import InputError
from seatwright.workflows.record_ports import StoredCase

__all__ = [
    "DEFAULT_LIMIT",
    "LotRow",
    "OpenImpression",
    "Page",
    "PageWish",
    "RecordLists",
    "TimelineRow",
    "read_token",
    "write_token",
]

DEFAULT_LIMIT = 50  # judgement: a screenful
_MAX_LIMIT = 1000  # judgement: keeps an answer quick
_Row = TypeVar("_Row")


@dataclass(frozen=True, slots=True)
class PageWish:
    """Which page: at most `limit` rows after the token of the page before; from the start when it is empty."""

    limit: int = DEFAULT_LIMIT
    after: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.limit <= _MAX_LIMIT:
            raise InputError(f"a page of {self.limit} rows", hint=f"ask for 1 to {_MAX_LIMIT}")


@dataclass(frozen=True, slots=True)
class Page(Generic[_Row]):
    """Some rows, and the token of the next page; empty when these are the last."""

    rows: tuple[_Row, ...]
    next: str = ""


@dataclass(frozen=True, slots=True)
class OpenImpression:
    """An impression that is out of the mouth and not separated, the oldest first."""

    case: str
    impression: str
    place: str
    """``waiting`` or ``in_stone``."""
    material: str
    storage: str
    out_at: datetime
    poured_at: datetime | None


@dataclass(frozen=True, slots=True)
class LotRow:
    """One use of a batch or lot: in which case, for which units."""

    lot: str
    material: str
    used_for: str
    case: str
    impression: str
    units: tuple[int, ...]
    at: datetime
    by: str
    event: int


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """One entry about a case, by the time when it happened."""

    entry: int
    at: datetime
    recorded_at: datetime
    by: str
    kind: str
    what: str
    """Kind of event; empty for documents and files."""
    event: int | None
    text: str
    corrected: bool
    """A later correction holds instead."""
    content: Mapping[str, object]
    """The entry's body."""


class RecordLists(Protocol):
    """The questions that the record answers."""

    def list_cases(self, wish: PageWish, *, text: str = "", stage: str = "") -> Page[StoredCase]:
        """Return cases by code; those whose code holds `text`, in `stage`, where given."""
        ...

    def list_open_impressions(self, wish: PageWish) -> Page[OpenImpression]:
        """Return impressions out of the mouth and not separated, the oldest first."""
        ...

    def list_lots(self, wish: PageWish, *, lot: str = "", used_for: str = "") -> Page[LotRow]:
        """Return uses of lots, by lot and time."""
        ...

    def timeline(self, code: str, wish: PageWish) -> Page[TimelineRow]:
        """Return everything about one case, by the time when it happened."""
        ...


def write_token(*key: str | int) -> str:
    """Return the token of a page that begins after the row with this key."""
    return base64.urlsafe_b64encode(json.dumps(key).encode()).decode().rstrip("=")


def read_token(token: str, *kinds: type) -> tuple[str | int, ...] | None:
    """Return the key that a token holds, its parts of these kinds; None for an empty token.

    Raises
    ------
    InputError
        No page ended with it.

    Examples
    --------
    >>> read_token(write_token("DEMO-1", 7), str, int)
    ('DEMO-1', 7)
    """
    if not token:
        return None
    try:
        key = json.loads(base64.urlsafe_b64decode(token + "=" * (-len(token) % 4)))
    except (ValueError, RecursionError):
        key = None
    if not isinstance(key, list) or [type(part) for part in key] != list(kinds):
        raise InputError("this is no token of a next page", hint="give the token that the page before ended with")
    return tuple(key)
