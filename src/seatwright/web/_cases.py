"""The list of cases: found by code, a page at a time; a new one begun."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from seatwright.case import Arch
from seatwright.web._answers import render
from seatwright.web._asked import person_of, practice_of
from seatwright.workflows.entry import begin_case
from seatwright.workflows.record_lists import PageWish

__all__ = ["cases_routes"]

cases_routes = APIRouter(default_response_class=HTMLResponse)

_STAGE_WORDS = {"planned": "planned", "at_bench": "at the bench", "finished": "finished"}


@cases_routes.get("/cases")
async def list_cases(
    request: Request,
    text: Annotated[str, Query(max_length=64)] = "",
    after: Annotated[str, Query(max_length=400)] = "",
) -> Response:
    """Show the cases whose code holds a text, by code."""
    practice = practice_of(request)
    page = await run_in_threadpool(practice.record.list_cases, PageWish(after=after), text=text)
    drafted = await run_in_threadpool(practice.drafts.drafted_codes)
    known = {row.code for row in page.rows}
    rows = [
        {
            "code": row.code,
            "title": row.title,
            "arch": row.arch,
            "stage": _STAGE_WORDS.get(row.stage, row.stage.replace("_", " ")),
            "changed": f"{row.changed_at:%d %b %Y}",
            "drafted": row.code in drafted,
        }
        for row in page.rows
    ]
    new = [code for code in drafted if code not in known and text.casefold() in code.casefold() and not after]
    template = "cases_rows.html.j2" if "hx-request" in request.headers else "cases.html.j2"
    return render(request, template, cases=rows, new=new, text=text, next=page.next)


@cases_routes.post("/cases", status_code=303, response_class=RedirectResponse)
async def begin(request: Request, code: Annotated[str, Form(max_length=64)], arch: Annotated[Arch, Form()]) -> Response:
    """Begin a case and open its mouth."""
    desk = practice_of(request).desk(person_of(request))
    draft = await run_in_threadpool(begin_case, desk, code.strip(), arch)
    return RedirectResponse(f"/cases/{draft.code}/mouth", status_code=303)
