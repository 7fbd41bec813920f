"""The draft of a case's plan as the page uses it: opened, kept, undone; wherever on the page that is done."""

from fastapi import Request

from seatwright.files import case_to_toml
from seatwright.web._asked import page_of, person_of, practice_of, tell
from seatwright.workflows.entry import Draft, keep_plan, open_draft, undo

__all__ = ["keep_draft", "open_plan", "undo_step"]


def open_plan(request: Request, code: str) -> Draft:
    """Return the draft of a case, or one begun from its present version."""
    practice = practice_of(request)
    return open_draft(practice.desk(person_of(request)), practice.source(code), code)


def keep_draft(request: Request, code: str, *, revision: int) -> Draft:
    """Make the draft the next version of its case, tell everybody, and return the plan as it stands then."""
    practice = practice_of(request)
    desk, draft = practice.desk(person_of(request)), open_plan(request, code)
    bundle = practice.load(code) if practice.record.find(code) else None
    keep_plan(desk, draft, bundle, bench_toml=practice.bench_toml(code), encode=case_to_toml, revision=revision)
    page_of(request).day.forget()
    tell(request, "draft", key=code)
    tell(request, "case", key=code)
    return open_plan(request, code)


def undo_step(request: Request, code: str, *, revision: int) -> Draft:
    """Take the latest step of the draft back, and tell everybody."""
    draft = undo(practice_of(request).desk(person_of(request)), open_plan(request, code), revision=revision)
    tell(request, "draft", key=code)
    return draft
