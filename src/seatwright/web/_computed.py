"""Waiting for a worker's bytes: arrays that the browser draws, asked for and given in one request."""

import asyncio
from typing import Any

from fastapi import Request, Response
from starlette.concurrency import run_in_threadpool

from seatwright.errors import SeatwrightError
from seatwright.jobs import JobState, JobView
from seatwright.web._asked import page_of

__all__ = ["compute_bytes", "give_bytes"]


async def compute_bytes(request: Request, task: str, value: object, *, time_limit_s: float | None = None) -> Response:
    """Run a task of a worker and give its bytes; stop it when the browser goes away."""
    loop, done = asyncio.get_running_loop(), asyncio.Event()
    views: list[JobView] = []

    def changed(view: JobView) -> None:
        if view.state.is_over:
            views.append(view)
            loop.call_soon_threadsafe(done.set)

    pool = page_of(request).at_hand
    job = await run_in_threadpool(lambda: pool.submit(task, value, on_change=changed, time_limit_s=time_limit_s))
    try:
        await done.wait()
    except asyncio.CancelledError:
        pool.cancel(job)
        raise
    view = views[0]
    if view.state is not JobState.DONE:
        raise view.error or SeatwrightError("the surface could not be computed", hint="try again")
    content: Any = view.result
    return give_bytes(bytes(content))


def give_bytes(content: bytes) -> Response:
    """Give arrays as they are: single-precision numbers hardly shrink, and packing takes longer than sending."""
    headers = {"Cache-Control": "no-store", "Content-Encoding": "identity"}
    return Response(content, media_type="application/octet-stream", headers=headers)
