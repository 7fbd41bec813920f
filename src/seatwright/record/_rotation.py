"""Which backups stay when old ones make room: the newest of each of so many days, weeks, months or years. Pure."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from seatwright.errors import InputError

__all__ = ["PERIODS", "choose_kept", "read_keep"]

PERIODS: Mapping[str, Callable[[datetime], tuple[int, ...]]] = {
    "daily": lambda moment: (moment.year, moment.month, moment.day),
    "weekly": lambda moment: moment.isocalendar()[:2],
    "monthly": lambda moment: (moment.year, moment.month),
    "yearly": lambda moment: (moment.year,),
}
"""From a moment (UTC) to the period it lies in; weeks are those of ISO 8601."""


def read_keep(text: str) -> dict[str, int]:
    """Read how many to keep of each period.

    Raises
    ------
    InputError
        It names no known period, or no number from 1.

    Examples
    --------
    >>> read_keep("daily=7,weekly=4")
    {'daily': 7, 'weekly': 4}
    """
    keep: dict[str, int] = {}
    for part in text.split(","):
        name, _, number = part.strip().partition("=")
        if name not in PERIODS or not number.isdecimal() or int(number) < 1:
            raise InputError(
                f"--keep {part.strip()!r} is not understood", hint="such as daily=7,weekly=4,monthly=12,yearly=10"
            )
        keep[name] = int(number)
    return keep


def choose_kept(moments: Sequence[datetime], keep: Mapping[str, int]) -> frozenset[datetime]:
    """Return the moments to keep: the newest of each of the last so many periods that have any, and the newest of all.

    Parameters
    ----------
    moments : sequence of datetime
        When each backup was made, UTC.
    keep : mapping of str to int
        Number of periods by their name in `PERIODS`.

    Examples
    --------
    >>> from datetime import UTC
    >>> days = [datetime(2026, 3, day, 20, tzinfo=UTC) for day in (1, 8, 9, 10)]
    >>> sorted(moment.day for moment in choose_kept(days, {"daily": 2, "weekly": 2}))
    [8, 9, 10]
    """
    newest_first = sorted(moments, reverse=True)
    kept = set(newest_first[:1])
    for name, number in keep.items():
        last_of: dict[tuple[int, ...], datetime] = {}
        for moment in newest_first:
            last_of.setdefault(PERIODS[name](moment), moment)
        kept.update(list(last_of.values())[:number])
    return frozenset(kept)
