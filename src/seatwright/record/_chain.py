"""The hash chain: which bytes of an entry are hashed, and how each entry holds the one before. Pure.

An entry's hash is SHA-256 over these lines in UTF-8, each ended by a line feed::

    seatwright entry 1
    <seq>                decimal
    <previous>           hash of the entry before, 64 hex digits; 64 zeros before the first
    <recorded_at>        UTC, ISO 8601 with microseconds and Z
    <by>
    <case>               case code; empty for an entry about the record itself
    <kind>               opened, revised, filed, happened, account or access
    <sha256 of body>     64 hex digits

The body is hashed by itself first, so that anybody can check an entry with a plain hashing tool. A chain shows every
change before its head; that its end was cut off shows only against a head noted elsewhere (a backup holds one).
"""

import hashlib
from dataclasses import dataclass

__all__ = ["GENESIS", "Entry", "hash_entry"]

GENESIS = "0" * 64


@dataclass(frozen=True, slots=True)
class Entry:
    """One link of the chain, all that is hashed."""

    seq: int
    recorded_at: str
    by: str
    case_code: str
    kind: str
    body: bytes


def hash_entry(entry: Entry, *, previous: str) -> str:
    """Return the hash of an entry that follows the one with hash `previous`, 64 hex digits.

    Examples
    --------
    >>> entry = Entry(1, "2026-03-09T09:00:00.000000Z", "bench", "", "opened", b"{}")
    >>> hash_entry(entry, previous=GENESIS)
    'b41543d30ff72cfa66ff44738256ebadb3f54f5bc6b0a7b7988930048b2d9be1'
    """
    lines = (
        "seatwright entry 1",
        str(entry.seq),
        previous,
        entry.recorded_at,
        entry.by,
        entry.case_code,
        entry.kind,
        hashlib.sha256(entry.body).hexdigest(),
    )
    if any("\n" in line for line in lines):
        raise ValueError("a field of an entry spans lines")
    return hashlib.sha256("".join(f"{line}\n" for line in lines).encode()).hexdigest()
