"""The record's lists; implements `workflows.record_lists.RecordLists`. Every page is one range of an index."""

import json
from codecs import BOM_UTF8
from collections.abc import Sequence

from pydantic import ValidationError
from sqlalchemy import ColumnElement, Connection, Row, Select, func, select, tuple_

from seatwright.case import ImpressionPlace, event_adapter, tell_event
from seatwright.errors import RecordError, UnknownCase
from seatwright.record._database import Database
from seatwright.record._moments import read_moment
from seatwright.record._standing import read_units
from seatwright.record._tables import entry, impression_standing, lot_use, stored_case
from seatwright.workflows.record_lists import (
    LotRow,
    OpenImpression,
    Page,
    PageWish,
    TimelineRow,
    read_token,
    write_token,
)
from seatwright.workflows.record_ports import StoredCase

__all__ = ["Lists", "read_stored_case"]

_OPEN_PLACES = (ImpressionPlace.WAITING.value, ImpressionPlace.IN_STONE.value)
_Rows = Sequence[Row[tuple[object, ...]]]


def read_stored_case(row: Row[tuple[object, ...]]) -> StoredCase:
    """Return a row of `stored_case` as a value."""
    return StoredCase(row.code, row.version, row.n_events, row.title, row.arch, row.stage, read_moment(row.changed_at))


class Lists:
    """Answers the questions on one database."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def list_cases(self, wish: PageWish, *, text: str = "", stage: str = "") -> Page[StoredCase]:
        """Return cases by code; those whose code holds `text`, in `stage`, where given."""
        question = select(stored_case)
        if text:
            question = question.where(stored_case.c.code_folded.contains(text.casefold(), autoescape=True))
        if stage:
            question = question.where(stored_case.c.stage == stage)
        rows, token = self._page(question, wish, (stored_case.c.code,), (str,))
        return Page(tuple(read_stored_case(row) for row in rows), token)

    def find_latest(self) -> StoredCase | None:
        """Return the case changed last; None in an empty record."""
        question = select(stored_case).order_by(stored_case.c.changed_at.desc(), stored_case.c.code).limit(1)
        with self._database.reading() as connection:
            row = connection.execute(question).one_or_none()
        return None if row is None else read_stored_case(row)

    def list_standing(self) -> tuple[tuple[str, int, int], ...]:
        """Return the cases with an impression out of the mouth and not separated: code, version, number of events.

        One question, the case that waits longest first: it is asked every few seconds.
        """
        case, stand = stored_case.c, impression_standing.c
        question = (
            select(case.code, case.version, case.n_events)
            .join(impression_standing, stand.case_code == case.code)
            .where(stand.phase.in_(_OPEN_PLACES))
            .group_by(case.code, case.version, case.n_events)
            .order_by(func.min(stand.out_at), case.code)
        )
        with self._database.reading() as connection:
            return tuple((row.code, row.version, row.n_events) for row in connection.execute(question))

    def list_open_impressions(self, wish: PageWish) -> Page[OpenImpression]:
        """Return impressions out of the mouth and not separated, the oldest first."""
        table = impression_standing.c
        question = select(impression_standing).where(table.phase.in_(_OPEN_PLACES))
        rows, token = self._page(question, wish, (table.out_at, table.case_code, table.impression), (str, str, str))
        return Page(
            tuple(
                OpenImpression(
                    case=row.case_code,
                    impression=row.impression,
                    place=row.phase,
                    material=row.material,
                    storage=row.storage,
                    out_at=read_moment(row.out_at),
                    poured_at=read_moment(row.poured_at) if row.poured_at else None,
                )
                for row in rows
            ),
            token,
        )

    def list_lots(self, wish: PageWish, *, lot: str = "", used_for: str = "") -> Page[LotRow]:
        """Return uses of lots, by lot and time."""
        table = lot_use.c
        question = select(lot_use)
        if lot:
            question = question.where(table.lot == lot)
        if used_for:
            question = question.where(table.used_for == used_for)
        key = (table.lot, table.at, table.case_code, table.case_seq)
        rows, token = self._page(question, wish, key, (str, str, str, int))
        return Page(
            tuple(
                LotRow(
                    lot=row.lot,
                    material=row.material,
                    used_for=row.used_for,
                    case=row.case_code,
                    impression=row.impression,
                    units=read_units(row.units),
                    at=read_moment(row.at),
                    by=row.by,
                    event=row.case_seq,
                )
                for row in rows
            ),
            token,
        )

    def timeline(self, code: str, wish: PageWish) -> Page[TimelineRow]:
        """Return everything about one case, by the time when it happened."""
        question = select(entry).where(entry.c.case_code == code)
        rows, token = self._page(question, wish, (entry.c.at, entry.c.seq), (str, int))
        if not rows and not wish.after:
            raise UnknownCase(
                f"the record has no case {code}", hint="look for it in the list of cases (`seatwright record list`)"
            )
        with self._database.reading() as connection:
            corrected = _corrected_numbers(connection, code)
        return Page(tuple(_timeline_row(row, corrected) for row in rows), token)

    def _page(
        self,
        question: Select[tuple[object, ...]],
        wish: PageWish,
        key: tuple[ColumnElement[object], ...],
        kinds: tuple[type, ...],
    ) -> tuple[_Rows, str]:
        """Return the rows after the wish's token in the order of `key`, and the next token."""
        after = read_token(wish.after, *kinds)
        if after is not None:
            question = question.where(tuple_(*key) > tuple_(*after))
        with self._database.reading() as connection:
            rows = connection.execute(question.order_by(*key).limit(wish.limit + 1)).all()
        if len(rows) <= wish.limit:
            return rows, ""
        last = rows[wish.limit - 1]
        return rows[: wish.limit], write_token(*(getattr(last, str(column.key)) for column in key))


def _corrected_numbers(connection: Connection, code: str) -> frozenset[int]:
    """Return the numbers of the case's events that a correction names."""
    bodies = connection.execute(select(entry.c.body).where(entry.c.case_code == code, entry.c.what == "corrected"))
    named = (json.loads(body).get("corrects") for body in bodies.scalars())
    return frozenset(number for number in named if number is not None)


def _timeline_row(row: Row[tuple[object, ...]], corrected: frozenset[int]) -> TimelineRow:
    content = json.loads(row.body.removeprefix(BOM_UTF8))
    return TimelineRow(
        entry=row.seq,
        at=read_moment(row.at),
        recorded_at=read_moment(row.recorded_at),
        by=row.by,
        kind=row.kind,
        what=row.what,
        event=row.case_seq,
        text=_tell(row, content),
        corrected=row.case_seq in corrected,
        content=content,
    )


def _tell(row: Row[tuple[object, ...]], content: dict[str, object]) -> str:
    if row.kind == "revised":
        reason = f" ({content['reason']})" if content["reason"] else ""
        return f"documents, version {content['version']}{reason}"
    if row.kind == "filed":
        return f"file {content['path']}, {content['n_bytes']} bytes"
    try:
        return tell_event(event_adapter.validate_json(row.body.removeprefix(BOM_UTF8), strict=True))
    except ValidationError as error:
        raise RecordError(
            f"entry {row.seq} cannot be read",
            hint="run `seatwright record verify`; a newer version may have written it",
        ) from error
