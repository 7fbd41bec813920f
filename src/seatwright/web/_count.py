"""The count of crowns: where each one is, said of it by somebody; none counts as firm before."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from seatwright.errors import InputError
from seatwright.web._answers import render
from seatwright.web._asked import page_of, signed_in_of, tell
from seatwright.web._published import form_body
from seatwright.workflows.today import CountEntry, Found

__all__ = ["count_routes"]

count_routes = APIRouter(prefix="/bench/count", default_response_class=HTMLResponse)
_FOUND = frozenset(Found.__members__)
_OTHERS_FIRM = "others_firm"


@count_routes.get("")
async def count_page(
    request: Request, case: Annotated[str, Query(max_length=64)], impression: Annotated[str, Query(max_length=64)]
) -> Response:
    """Show every crown that the impression should lift, to say where it was found."""
    day = page_of(request).day
    entry = await run_in_threadpool(day.begin_count, case, impression)
    hands = () if signed_in_of(request) else await run_in_threadpool(day.hands)
    founds = [(found.name, found.value) for found in Found]
    return render(request, "count.html.j2", count=entry, founds=founds, hands=hands)


@count_routes.post(
    "",
    status_code=303,
    response_class=RedirectResponse,
    openapi_extra=form_body(
        required={"case": {"type": "string"}, "impression": {"type": "string"}},
        more={"type": "string", "enum": [found.name for found in Found]},
        optional={"by": {"type": "string"}, _OTHERS_FIRM: {"type": "string", "enum": ["yes"]}},
    ),
)
async def log_count(request: Request) -> Response:
    """Log a count in which every crown is judged."""
    form = await request.form(max_files=0, max_fields=60)
    day = page_of(request).day
    hands = () if signed_in_of(request) else await run_in_threadpool(day.hands)
    begun = await run_in_threadpool(day.begin_count, str(form.get("case", "")), str(form.get("impression", "")))
    entry = replace(_judged(begun, form), by=signed_in_of(request) or _counted_by(form, hands))
    await run_in_threadpool(day.count, entry)
    tell(request, "bench")
    return RedirectResponse("/", status_code=303)


def _judged(begun: CountEntry, form: FormData) -> CountEntry:
    found = {name[5:]: str(value) for name, value in form.items() if name.startswith("found")}
    wrong = [name for name, value in found.items() if not (name.isascii() and name.isdecimal()) or value not in _FOUND]
    if wrong:
        raise InputError(f"where crown {wrong[0][:20]} was found is not said", hint="count again, from the bench")
    rows = (replace(row, found=Found[found[str(row.tooth)]]) if str(row.tooth) in found else row for row in begun.rows)
    entry = replace(begun, rows=tuple(rows))
    return entry.with_others_firm() if form.get(_OTHERS_FIRM) == "yes" else entry


def _counted_by(form: FormData, hands: tuple[str, ...]) -> str:
    by = str(form.get("by", ""))
    if by not in hands:
        raise InputError("who counted is not said", hint=f"say which of these it was: {', '.join(hands)}")
    return by
