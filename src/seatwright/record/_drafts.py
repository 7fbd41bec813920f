"""Drafts of plans: the one thing in the record that is not kept for ever. Each is replaced whole, or not at all."""

import json
from dataclasses import asdict
from typing import Any

from sqlalchemy import delete, insert, select, update

from seatwright.errors import ConflictError
from seatwright.record._database import Database
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._tables import draft as draft_table
from seatwright.workflows.entry import Draft, Step
from seatwright.workflows.record_ports import KeptFile

__all__ = ["Drafts"]


class Drafts:
    """Implements `workflows.entry.DraftStore`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def load_draft(self, code: str) -> Draft | None:
        """Return the draft of a case; None when there is none."""
        with self._database.reading() as connection:
            row = connection.execute(select(draft_table).where(draft_table.c.case_code == code)).one_or_none()
        if row is None:
            return None
        body = json.loads(row.body)
        return Draft(
            code=row.case_code,
            revision=row.revision,
            base_version=row.base_version,
            document=body["document"],
            steps=tuple(Step(step["said"], step["before"]) for step in body["steps"]),
            last=body["last"],
            files=tuple(KeptFile(**file) for file in body.get("files", ())),
            by=row.by,
            changed_at=read_moment(row.changed_at),
        )

    def save_draft(self, draft: Draft) -> None:
        """Put a draft in the place of the one with the revision before; it is on the disk when this returns."""
        values: dict[str, Any] = {
            "revision": draft.revision,
            "base_version": draft.base_version,
            "body": json.dumps(
                {
                    "document": draft.document,
                    "steps": [{"said": step.said, "before": step.before} for step in draft.steps],
                    "last": draft.last,
                    "files": [asdict(file) for file in draft.files],
                },
                ensure_ascii=False,
                separators=(",", ":"),
            ),
            "by": draft.by,
            "changed_at": write_moment(draft.changed_at),
        }
        before = (draft_table.c.case_code == draft.code) & (draft_table.c.revision == draft.revision - 1)
        with self._database.writing() as connection:
            if connection.execute(update(draft_table).where(before).values(**values)).rowcount == 1:
                return
            known = select(draft_table.c.revision).where(draft_table.c.case_code == draft.code)
            found = connection.execute(known).scalar_one_or_none()
            if found is not None or draft.revision != 1:
                raise ConflictError(
                    f"the plan of {draft.code} was changed by somebody else", hint="look at it as it is now"
                )
            connection.execute(insert(draft_table).values(case_code=draft.code, **values))

    def drop_draft(self, code: str, *, revision: int) -> None:
        """Remove a draft that has this revision; one that was changed meanwhile stays."""
        meant = (draft_table.c.case_code == code) & (draft_table.c.revision == revision)
        with self._database.writing() as connection:
            connection.execute(delete(draft_table).where(meant))

    def drafted_codes(self) -> tuple[str, ...]:
        """Return the cases that have a draft, by code."""
        with self._database.reading() as connection:
            rows = connection.execute(select(draft_table.c.case_code).order_by(draft_table.c.case_code))
            return tuple(row.case_code for row in rows)
