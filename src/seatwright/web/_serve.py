"""Runs the page: one process that answers, a few that compute. Listens first, reads the tool's libraries after."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import TYPE_CHECKING

import uvicorn

from seatwright.errors import SeatwrightError
from seatwright.web._guard import App, Guard, GuardRules
from seatwright.web._settings import ServeSettings
from seatwright.web._threshold import Threshold
from seatwright.web._waiting import WaitingPage

if TYPE_CHECKING:
    from fastapi import FastAPI

    from seatwright.workflows.ports import Clock

__all__ = ["serve"]

_CLOSE_S = 3  # judgement: listeners are cut off after this when the server stops


def serve(settings: ServeSettings, *, clock: "Clock | None" = None) -> None:
    """Serve until stopped."""
    threshold = Threshold(lambda: _open(settings, clock), WaitingPage())
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
async def _open(settings: ServeSettings, clock: "Clock | None") -> AsyncIterator[App]:
    app = await asyncio.to_thread(_build, settings, clock)
    async with app.router.lifespan_context(app):
        warming = asyncio.create_task(asyncio.to_thread(_warm, app))
        yield app
        await warming


def _build(settings: ServeSettings, clock: "Clock | None") -> "FastAPI":
    from seatwright.web.app import create_app  # noqa: PLC0415 - reads the libraries while the page listens already

    return create_app(settings, clock=clock, guarded=False)


def _warm(app: "FastAPI") -> None:
    """Wake one worker and plan the day before somebody asks; what fails here is told to whoever asks."""
    from seatwright.record import is_record_folder  # noqa: PLC0415 - with the libraries

    page = app.state.page
    if not is_record_folder(page.settings.data):
        return  # it is made when somebody asks
    page.wake_worker()
    with suppress(SeatwrightError):
        page.day.view()
