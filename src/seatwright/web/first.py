"""The application as it answers first: the bench and signing in. What stands behind them is `web.app`.

Guards outside, pages inside, one table from error to answer. Reads no more of the tool than the day at the bench needs.
"""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from importlib.resources import files

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

import seatwright
from seatwright.errors import Fault, InputError, SeatwrightError
from seatwright.papers import page_style
from seatwright.web._answers import PAPER_STYLE, answer_error
from seatwright.web._bench import bench_routes
from seatwright.web._bench_file import bench_file_routes
from seatwright.web._count import count_routes
from seatwright.web._device import device_routes
from seatwright.web._door import Door
from seatwright.web._guard import Guard, GuardRules
from seatwright.web._hands import hands_routes
from seatwright.web._hub import Change, Hub
from seatwright.web._live import live_routes
from seatwright.web._open_bench import OpenBench
from seatwright.web._page import PageState
from seatwright.web._password import password_routes
from seatwright.web._people import People
from seatwright.web._published import ANSWERS, publisher
from seatwright.web._settings import ServeSettings
from seatwright.web._sign_in import sign_in_routes

__all__ = ["create_first"]

_ROUTES = (
    bench_routes,  # first: an address is prepared when a request passes it
    sign_in_routes,
    password_routes,
    live_routes,
    hands_routes,
    count_routes,
    device_routes,
    bench_file_routes,
)
_FOR_GOOD = "public, max-age=31536000, immutable"
_WATCH_S = 2.0  # judgement: soon enough for a clock that counts minutes, and one short question to the record
_COMPRESS_FROM = 800  # judgement: below it the headers weigh more


def create_first(settings: ServeSettings, bench: OpenBench, *, guarded: bool = True) -> FastAPI:
    """Build the application over an open bench; `guarded` is False only where a guard stands before it already."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        page: PageState = app.state.page
        page.hub.bind(asyncio.get_running_loop())
        watch = asyncio.create_task(_watch(page))
        yield
        watch.cancel()
        page.close()

    app = FastAPI(
        title="Seatwright",
        version=seatwright.__version__,
        description="The bench page of one practice: cases, clocks, checks.",
        docs_url=None,  # its page would load scripts from elsewhere
        redoc_url=None,
        lifespan=lifespan,
    )
    people = People(bench.practice, settings.tls) if settings.lan else None
    app.state.page = PageState(
        settings=settings,
        clock=bench.clock,
        hub=Hub(),
        practice=bench.practice,
        day=bench.day,
        people=people,
    )
    app.add_api_route(f"/static/{PAPER_STYLE}", _paper_style, include_in_schema=False)
    app.mount("/static", _Kept(directory=str(files("seatwright.web").joinpath("static"))), name="static")
    for routes in _ROUTES:
        app.include_router(routes, responses=ANSWERS)
    app.openapi = publisher(app)  # type: ignore[method-assign]  # as its authors say
    app.add_exception_handler(SeatwrightError, _on_told)
    app.add_exception_handler(RequestValidationError, _on_invalid)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(Exception, _on_bug)
    app.add_middleware(GZipMiddleware, minimum_size=_COMPRESS_FROM)
    if people is not None:
        app.add_middleware(Door, people=people, page=app)
    if guarded:
        app.add_middleware(Guard, rules=GuardRules.of(settings))
    return app


async def _watch(page: PageState) -> None:
    """Tell every screen when a command, or another server, wrote about a case at the bench."""
    while True:
        await asyncio.sleep(_WATCH_S)
        with suppress(SeatwrightError):  # whoever looks next is told
            if await run_in_threadpool(page.day.is_stale):
                page.hub.tell(Change("bench"))


async def _paper_style() -> Response:
    return Response(page_style(), media_type="text/css", headers={"Cache-Control": _FOR_GOOD})


class _Kept(StaticFiles):
    """Files that never change under one address: their address carries a mark of their content."""

    def file_response(self, *args: object, **kwargs: object) -> Response:
        answer: Response = super().file_response(*args, **kwargs)  # type: ignore[arg-type]
        answer.headers["Cache-Control"] = _FOR_GOOD
        return answer


async def _on_told(request: Request, error: Exception) -> Response:
    if not isinstance(error, SeatwrightError):
        raise TypeError from error
    return answer_error(request, error)


async def _on_invalid(request: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise TypeError from error
    faults = [Fault(".".join(str(part) for part in e["loc"]), e["msg"]) for e in error.errors()]
    return answer_error(request, InputError("the request is not what this page expects", faults=faults))


async def _on_bug(request: Request, error: Exception) -> Response:
    told = SeatwrightError(
        f"a bug of ours: {type(error).__name__}: {error}",
        hint="nothing of this was written; please report it with what you did",
    )
    return answer_error(request, told)


async def _on_http(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise TypeError from error
    told = InputError(str(error.detail).lower(), hint="go back and try another way")
    answer = answer_error(request, told)
    answer.status_code = error.status_code
    return answer
