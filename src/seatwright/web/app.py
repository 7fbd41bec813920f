"""The whole application: what answers first, and behind it a case's pages, which read every library of the tool."""

import os

from fastapi import FastAPI

from seatwright.jobs import WorkerPool
from seatwright.web._arrivals import Arrivals
from seatwright.web._bring import bring_routes
from seatwright.web._case import case_routes
from seatwright.web._cases import cases_routes
from seatwright.web._checks import Checks
from seatwright.web._mouth import mouth_routes
from seatwright.web._open_bench import open_bench
from seatwright.web._page import PageState
from seatwright.web._published import ANSWERS
from seatwright.web._relief import relief_routes
from seatwright.web._settings import ServeSettings
from seatwright.web._surfaces import surface_routes
from seatwright.web._timeline import timeline_routes
from seatwright.web.first import create_first
from seatwright.workflows.ports import Clock

__all__ = ["create_app", "open_behind"]

_ROUTES = (cases_routes, mouth_routes, case_routes, timeline_routes, surface_routes, relief_routes, bring_routes)
_THREADS = 8  # judgement: more gain little on surfaces of this size


def create_app(settings: ServeSettings, *, clock: Clock | None = None, guarded: bool = True) -> FastAPI:
    """Build the application over the practice record of `settings.data`; nothing is read before its first request.

    `guarded` is False only where a guard stands before it already.
    """
    app = create_first(settings, open_bench(settings, clock), guarded=guarded)
    open_behind(app)
    return app


def open_behind(app: FastAPI) -> None:
    """Give the application that answers first the pages behind the bench, and the workers that they need."""
    page: PageState = app.state.page
    threads = min(os.cpu_count() or 1, _THREADS)
    page.pool, page.at_hand = (
        WorkerPool(n_workers=n_workers, memory_limit_mib=page.settings.memory_mib, kernel_threads=threads)
        for n_workers in (page.settings.workers, 1)
    )
    page.checks = Checks(page.settings.data, page.pool, page.hub, page.clock)
    page.arrivals = Arrivals(page.settings, page.pool, page.hub)
    page.is_whole = True
    for routes in _ROUTES:
        app.include_router(routes, responses=ANSWERS)
    app.openapi_schema = None  # one that was asked for before did not tell of them
