"""What workers computed, given to a browser: arrays in one request, files of what lies on the disk piece by piece."""

import asyncio
import os
from collections.abc import Iterator
from io import BufferedReader
from pathlib import Path
from typing import Any

from fastapi import Request, Response
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool

from seatwright.errors import ConflictError, SeatwrightError
from seatwright.jobs import JobState, JobView
from seatwright.web._asked import page_of

__all__ = ["ARRAYS", "compute_bytes", "give_file"]

ARRAYS = "application/octet-stream"
_AS_THEY_ARE = {"Cache-Control": "no-store", "Content-Encoding": "identity"}
_PIECE_BYTES = 1 << 18  # judgement: large enough for a fast line, small beside the server


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
    return _give_bytes(bytes(content))


def _give_bytes(content: bytes) -> Response:
    """Give arrays as they are: single-precision numbers hardly shrink, and packing takes longer than sending."""
    return Response(content, media_type=ARRAYS, headers=_AS_THEY_ARE)


async def give_file(path: Path, kind: str, *, attached: bool = False) -> Response:
    """Give a file of what was computed, piece by piece; arrays as they are.

    Raises
    ------
    ConflictError
        It was let go since, as what it was computed from changed.
    """
    try:
        handle = await run_in_threadpool(path.open, "rb")
    except FileNotFoundError as error:
        raise ConflictError(
            "this is being computed anew", hint="open the case and wait until its work is done"
        ) from error
    headers = {"Cache-Control": "no-store", "Content-Length": str(os.fstat(handle.fileno()).st_size)}
    if kind == ARRAYS:
        headers |= _AS_THEY_ARE
    if attached:
        headers["Content-Disposition"] = "attachment"
    return StreamingResponse(_pieces(handle), media_type=kind, headers=headers)


def _pieces(handle: BufferedReader) -> Iterator[bytes]:
    with handle:
        while piece := handle.read(_PIECE_BYTES):
            yield piece
