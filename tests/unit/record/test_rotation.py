"""Rotation keeps the newest backup of each of the last so many periods, and never loses the newest of all."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.errors import InputError
from seatwright.record import choose_kept, read_keep

FIRST = datetime(2020, 1, 1, tzinfo=UTC)
MOMENTS = st.lists(st.integers(0, 3650 * 86400).map(lambda s: FIRST + timedelta(seconds=s)), unique=True)
KEEP = st.dictionaries(st.sampled_from(["daily", "weekly", "monthly", "yearly"]), st.integers(1, 12))
FORMATS = {"daily": "%Y-%m-%d", "weekly": "%G-W%V", "monthly": "%Y-%m", "yearly": "%Y"}


@given(MOMENTS, KEEP)
def test_kept_are_the_newest_of_the_last_periods_by_the_calendar(moments: list[datetime], keep: dict[str, int]) -> None:
    """The C library's calendar (strftime) names the periods; weeks are those of ISO 8601."""
    expected = {max(moments)} if moments else set()
    for name, number in keep.items():
        periods = sorted({moment.strftime(FORMATS[name]) for moment in moments}, reverse=True)[:number]
        expected |= {max(m for m in moments if m.strftime(FORMATS[name]) == period) for period in periods}
    assert choose_kept(moments, keep) == expected


@given(KEEP, st.integers(1, 400))
def test_rotation_day_by_day_keeps_what_rotation_at_once_would(keep: dict[str, int], n_days: int) -> None:
    start = datetime(2026, 3, 9, 20, tzinfo=UTC)
    kept: set[datetime] = set()
    for day in range(n_days):
        kept = set(choose_kept([*kept, start + timedelta(days=day)], keep))
    assert kept == choose_kept([start + timedelta(days=day) for day in range(n_days)], keep)


@pytest.mark.parametrize("text", ["", "daily", "daily=0", "hourly=3", "daily=-1", "daily=1;weekly=2", "daily=x"])
def test_wish_that_is_not_understood_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="not understood"):
        read_keep(text)
