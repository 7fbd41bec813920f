"""Scans in three dimensions: their surfaces, values on them, seeds for units set by touch."""

import asyncio
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request, Response
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from seatwright.errors import InputError, SeatwrightError
from seatwright.jobs import JobState, JobView
from seatwright.jobs.surface_tasks import ScanOrder, UndercutOrder
from seatwright.web._answers import render
from seatwright.web._asked import page_of, practice_of

__all__ = ["surface_routes"]

surface_routes = APIRouter(prefix="/cases/{code}/surfaces")
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]
_ARRAYS: dict[str, Any] = {
    "response_class": Response,
    "responses": {200: {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}},
}
_TASKS = "seatwright.jobs.surface_tasks"
_Part = Annotated[float, Field(ge=-1, le=1)]


class PathWish(BaseModel):
    """The way the partial moves to seat."""

    seat_direction: tuple[_Part, _Part, _Part]


@surface_routes.get("", response_class=HTMLResponse)
async def surfaces_page(request: Request, code: Code) -> Response:
    """Show the page of a case's scans."""
    bundle = await run_in_threadpool(practice_of(request).load, code)
    scans = [{"id": s.id, "role": s.role.value, "of": s.of.value.replace("_", " ")} for s in bundle.case.scan]
    seeds = [
        {"tooth": r.tooth, "at": r.seed_mm, "radius": r.radius_mm} for r in bundle.case.region if r.seed_mm is not None
    ]
    units = [unit.tooth for unit in bundle.case.unit]
    return render(request, "surfaces.html.j2", code=code, scans=scans, seeds=seeds, units=units)


@surface_routes.get("/{scan}/mesh", **_ARRAYS)
async def mesh(request: Request, code: Code, scan: str) -> Response:
    """Give a scan's surface as plain arrays."""
    return await _computed(request, "pack_surface", await _order(request, code, scan))


@surface_routes.post("/{scan}/undercut", **_ARRAYS)
async def undercut(request: Request, code: Code, scan: str, wish: Annotated[PathWish, Body()]) -> Response:
    """Give the undercut at each vertex for a path."""
    order = UndercutOrder(await _order(request, code, scan), wish.seat_direction)
    return await _computed(request, "read_undercut", order)


async def _order(request: Request, code: str, scan: str) -> ScanOrder:
    practice = practice_of(request)
    bundle = await run_in_threadpool(practice.load, code)
    found = next((s for s in bundle.case.scan if s.id == scan), None)
    hashes = practice.record.file_hashes(code)
    if found is None or found.file not in hashes:
        raise InputError(f"case {code} has no scan {scan[:40]!r}", hint="see the scans of the case")
    return ScanOrder(page_of(request).settings.data, code, scan, hashes[found.file])


async def _computed(request: Request, task: str, value: object) -> Response:
    """Run a task of a worker and give its bytes."""
    loop, done = asyncio.get_running_loop(), asyncio.Event()
    views: list[JobView] = []

    def changed(view: JobView) -> None:
        if view.state.is_over:
            views.append(view)
            loop.call_soon_threadsafe(done.set)

    pool = page_of(request).pool
    job = await run_in_threadpool(lambda: pool.submit(f"{_TASKS}:{task}", value, on_change=changed))
    try:
        await done.wait()
    except asyncio.CancelledError:
        pool.cancel(job)
        raise
    view = views[0]
    if view.state is not JobState.DONE:
        raise view.error or SeatwrightError("the surface could not be computed", hint="try again")
    content: Any = view.result
    return Response(bytes(content), media_type="application/octet-stream", headers={"Cache-Control": "no-store"})
