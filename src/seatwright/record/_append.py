"""Adding entries to the chain, inside the one transaction that may write. Owns numbering, hashes and time's order."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection, select, update

from seatwright.errors import RecordError
from seatwright.record._chain import GENESIS, Entry, hash_entry
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._tables import entry, head

__all__ = ["Appender", "Draft"]

_SKEW = timedelta(minutes=2)  # judgement: machines of one practice agree within seconds


@dataclass(frozen=True, slots=True)
class Draft:
    """An entry that has no number yet."""

    by: str
    case_code: str
    kind: str
    body: bytes
    at: datetime | None = None
    """When it happened; absent: when it is recorded."""
    what: str = ""
    case_seq: int | None = None


class Appender:
    """Takes the chain's head, adds entries, and puts the new head back with `finish`.

    On PostgreSQL the head's row is locked until the transaction ends, so that writers come one after another; on
    SQLite the transaction itself does that.

    Raises
    ------
    RecordError
        The clock lies more than two minutes before the last entry. A smaller lag, as between two machines, is lifted
        to the last entry's time: recorded times never go back.
    """

    def __init__(self, connection: Connection, *, now: datetime) -> None:
        self._connection = connection
        row = connection.execute(select(head).with_for_update()).one_or_none()
        self.seq: int = 0 if row is None else row.seq
        self.hash: str = GENESIS if row is None else row.hash
        if row is not None and now < (last := read_moment(row.recorded_at)):
            if last - now > _SKEW:
                raise RecordError(
                    f"this machine's clock says {write_moment(now)}, but the last entry was recorded at "
                    f"{write_moment(last)}: the clock was set back",
                    hint="set the clock right, then try again; nothing was written",
                )
            now = last
        self.recorded_at = write_moment(now)

    def add(self, draft: Draft) -> int:
        """Add an entry and return its number."""
        self.seq += 1
        link = Entry(self.seq, self.recorded_at, draft.by, draft.case_code, draft.kind, draft.body)
        previous, self.hash = self.hash, hash_entry(link, previous=self.hash)
        self._connection.execute(
            entry.insert().values(
                seq=self.seq,
                recorded_at=self.recorded_at,
                by=draft.by,
                case_code=draft.case_code,
                kind=draft.kind,
                body=draft.body,
                previous=previous,
                hash=self.hash,
                at=write_moment(draft.at) if draft.at else self.recorded_at,
                what=draft.what,
                case_seq=draft.case_seq,
            )
        )
        return self.seq

    def finish(self) -> None:
        """Put the new head into its row."""
        values = {"seq": self.seq, "hash": self.hash, "recorded_at": self.recorded_at}
        self._connection.execute(update(head).values(values))
