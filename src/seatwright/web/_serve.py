"""Runs the page: one process that answers, a few that compute. Listens first, reads the tool's libraries after."""

import asyncio
import gc
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import TYPE_CHECKING

import uvicorn

from seatwright.web._behind import Behind
from seatwright.web._guard import App, Guard, GuardRules
from seatwright.web._settings import ServeSettings
from seatwright.web._threshold import Threshold
from seatwright.web._waiting import WaitingPage

if TYPE_CHECKING:
    from fastapi import FastAPI

    from seatwright.web._open_bench import OpenBench
    from seatwright.workflows.ports import Clock

__all__ = ["serve"]

_PATIENCE_S = 0.7  # judgement: with what comes before, a browser has a page, true or waiting, within a second
_PLAN_S = 0.5  # judgement: longer, a page that waits is better than none
_CLOSE_S = 3  # judgement: listeners are cut off after this when the server stops


def serve(settings: ServeSettings, *, clock: "Clock | None" = None) -> None:
    """Serve until stopped."""
    gc.disable()  # what is read until the page is whole is no garbage: looking through it took a quarter of the time
    threshold = Threshold(lambda: _open(settings, clock, threshold.fail), WaitingPage(), patience_s=_PATIENCE_S)
    server = uvicorn.Server(
        uvicorn.Config(
            Guard(threshold, GuardRules.of(settings)),
            host=settings.host,
            port=settings.port,
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,  # an address that a request states itself is none to count tries by
            ssl_certfile=settings.certificate,
            ssl_keyfile=settings.private_key,
            timeout_graceful_shutdown=_CLOSE_S,
        )
    )
    threshold.on_failure = lambda: setattr(server, "should_exit", True)
    with suppress(KeyboardInterrupt):  # it has closed what it had open
        server.run()
    if threshold.failure is not None:
        raise threshold.failure
    if not server.started:  # it has said why
        raise SystemExit(3)


@asynccontextmanager
async def _open(
    settings: ServeSettings, clock: "Clock | None", on_failure: Callable[[Exception], None]
) -> AsyncIterator[App]:
    """Open the day at the bench, then the pages that show it, and once one is answered what stands behind them."""
    bench = await asyncio.to_thread(_open_bench, settings, clock)
    planning = asyncio.create_task(asyncio.to_thread(_plan, bench))  # the solver works while the pages are read
    try:
        app = await asyncio.to_thread(_build, settings, bench)
        async with app.router.lifespan_context(app):
            behind = Behind(app, _read_rest, on_failure)
            await asyncio.wait((planning,), timeout=_PLAN_S)
            opening = asyncio.create_task(_open_whole(behind, app))
            yield behind
            opening.cancel()
            await asyncio.wait((opening,))
    finally:
        await planning


def _open_bench(settings: ServeSettings, clock: "Clock | None") -> "OpenBench":
    from seatwright.web._open_bench import open_bench  # noqa: PLC0415 - reads libraries while the page listens already

    return open_bench(settings, clock)


def _plan(bench: "OpenBench") -> None:
    from seatwright.web._open_bench import plan_ahead  # noqa: PLC0415 - as above

    plan_ahead(bench)


def _build(settings: ServeSettings, bench: "OpenBench") -> "FastAPI":
    from seatwright.web.first import create_first  # noqa: PLC0415 - as above

    return create_first(settings, bench, guarded=False)


async def _open_whole(behind: Behind, app: "FastAPI") -> None:
    """Open the rest, then wake one worker for the first surface; from then on garbage is collected again."""
    try:
        await behind.open()
    finally:
        gc.freeze()  # the libraries stay: nothing of them is looked through again and again
        gc.enable()
    if app.state.page.is_whole and _has_record(app):
        app.state.page.wake_worker()


def _read_rest() -> "Callable[[FastAPI], None]":
    from seatwright.web.app import open_behind  # noqa: PLC0415 - reads every library of the tool

    return open_behind


def _has_record(app: "FastAPI") -> bool:
    from seatwright.record import is_record_folder  # noqa: PLC0415 - with the libraries

    return is_record_folder(app.state.page.settings.data)
