"""Everything about one case on one line of time, a page at a time; a decision or an outcome is added here."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from seatwright.pour.timetable import bench_zone
from seatwright.web._answers import render
from seatwright.web._asked import page_of, person_of, practice_of, tell
from seatwright.workflows.record_lists import PageWish

__all__ = ["timeline_routes"]

timeline_routes = APIRouter(prefix="/cases/{code}/record", default_response_class=HTMLResponse)
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]


@timeline_routes.get("")
async def timeline_page(request: Request, code: Code, after: Annotated[str, Query(max_length=400)] = "") -> Response:
    """Show a page of the case's happenings, in the order in which they happened."""
    practice = practice_of(request)
    page = await run_in_threadpool(practice.record.timeline, code, PageWish(after=after))
    bundle = await run_in_threadpool(practice.load, code)
    zone = bench_zone(bundle.bench)
    rows = [
        {
            "day": f"{row.at.astimezone(zone):%d %b %Y}",
            "time": f"{row.at.astimezone(zone):%H:%M}",
            "by": row.by,
            "text": row.text,
            "event": row.event or "",
            "corrected": row.corrected,
            "entry": row.entry,
            "written": f"{row.recorded_at.astimezone(zone):%d %b %Y, %H:%M}",
        }
        for row in page.rows
    ]
    return render(request, "timeline.html.j2", code=code, rows=rows, next=page.next, zone=str(zone))


@timeline_routes.post("/decided", status_code=303, response_class=RedirectResponse)
async def add_decision(
    request: Request,
    code: Code,
    decision: Annotated[str, Form(min_length=1, max_length=2000)],
    reason: Annotated[str, Form(min_length=1, max_length=2000)],
) -> Response:
    """Write a decision and its reason down."""
    practice = practice_of(request)
    event = {"what": "decided", "decision": decision, "reason": reason}
    await run_in_threadpool(practice.write_down, code, event, by=person_of(request))
    page_of(request).day.forget()
    tell(request, "case", key=code)
    return RedirectResponse(f"/cases/{code}/record", status_code=303)
