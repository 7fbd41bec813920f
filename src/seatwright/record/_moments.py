"""Times as the record keeps them: UTC text of fixed width, so that text sorts as time does. Pure."""

from datetime import UTC, datetime

__all__ = ["read_moment", "write_moment"]


def write_moment(moment: datetime) -> str:
    """Return a time as text.

    Examples
    --------
    >>> write_moment(datetime(2026, 3, 9, 10, 15, tzinfo=UTC))
    '2026-03-09T10:15:00.000000Z'
    """
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read_moment(text: str) -> datetime:
    """Return the time that `write_moment` wrote."""
    return datetime.fromisoformat(text)
