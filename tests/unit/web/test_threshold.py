"""While the tool's libraries are read, a browser has a page that waits; nothing that is asked meanwhile is lost."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from httpx2 import ASGITransport, AsyncClient, Response
from tests.unit.web.signing import run_apart

from seatwright.web._guard import Guard, GuardRules
from seatwright.web._settings import ServeSettings
from seatwright.web._threshold import Threshold
from seatwright.web._waiting import WaitingPage

BASE = "http://127.0.0.1:8731"
PAGE = {"accept": "text/html,*/*"}


async def answer_whole(scope, receive, send) -> None:
    """Be the application behind."""
    await receive()
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"whole"})


class Server:
    """A threshold whose application opens when told, and what a server tells it."""

    def __init__(self, *, fails: bool = False, patience_s: float = 0.0) -> None:
        self.open, self.closed, self.told = asyncio.Event(), False, []
        self.fails, self._said = fails, asyncio.Queue()
        self.threshold = Threshold(self._open, WaitingPage(), patience_s=patience_s)

    @asynccontextmanager
    async def _open(self) -> AsyncIterator[Callable[..., object]]:
        await self.open.wait()
        if self.fails:
            raise ValueError("a library is broken")
        yield answer_whole
        self.closed = True

    async def __aenter__(self) -> AsyncClient:
        self._living = asyncio.create_task(self.threshold({"type": "lifespan"}, self._said.get, self._hear))
        await self._said.put({"type": "lifespan.startup"})
        await asyncio.sleep(0)
        guarded = Guard(self.threshold, GuardRules.of(ServeSettings(data="practice")))
        return AsyncClient(transport=ASGITransport(app=guarded), base_url=BASE)

    async def __aexit__(self, *_: object) -> None:
        await self._said.put({"type": "lifespan.shutdown"})
        await self._living

    async def _hear(self, message) -> None:
        self.told.append(message["type"])


async def ask_early(headers: dict[str, str]) -> tuple[Response, bool]:
    """Return the answer to a request that comes first, and whether it waited for the application."""
    server = Server()
    async with server as client:
        asked = asyncio.create_task(client.get("/cases", headers=headers))
        await asyncio.sleep(0.05)
        waited = not asked.done()
        server.open.set()
        return await asked, waited


def test_a_browser_that_comes_early_has_a_page_at_once_in_the_light_of_its_device() -> None:
    answer, waited = run_apart(ask_early({**PAGE, "cookie": "seatwright-page=iso.point.dim.sound.flash"}))
    assert not waited
    assert "being set out" in answer.text
    assert 'data-light="dim"' in answer.text
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"


def test_a_browser_is_given_the_true_page_where_it_comes_soon_and_the_one_that_waits_where_it_does_not() -> None:
    async def look(patience_s: float, *, opens: bool) -> str:
        server = Server(patience_s=patience_s)
        async with server as client:
            asked = asyncio.create_task(client.get("/", headers=PAGE))
            await asyncio.sleep(0.02)
            if opens:
                server.open.set()
            answer = (await asked).text
            server.open.set()
            return answer

    assert run_apart(look(60.0, opens=True)) == "whole"
    assert "being set out" in run_apart(look(0.05, opens=False))


def test_files_of_the_page_that_waits_are_held_back_by_no_patience() -> None:
    async def look() -> int:
        server = Server(patience_s=60.0)
        async with server as client:
            answer = await client.get("/static/waiting.css")
            server.open.set()
            return answer.status_code

    assert run_apart(look()) == 200


def test_parts_and_programs_wait_for_the_true_answer() -> None:
    for headers in ({**PAGE, "hx-request": "true"}, {"accept": "application/json"}):
        answer, waited = run_apart(ask_early(headers))
        assert waited
        assert answer.text == "whole"


def test_the_page_that_waits_brings_its_style_and_script_and_goes_once_the_application_is_there() -> None:
    async def look() -> tuple[list[Response], Response]:
        server = Server()
        async with server as client:
            page = await client.get("/", headers=PAGE)
            named = [part.split('"')[0] for mark in ('href="/', 'src="/') for part in page.text.split(mark)[1:]]
            files = [await client.get(f"/{name}") for name in named]
            server.open.set()
            await asyncio.sleep(0.05)
            return files, await client.get("/", headers=PAGE)

    files, later = run_apart(look())
    assert [file.headers["content-type"].split(";")[0] for file in files] == ["text/css", "text/javascript"]
    assert later.text == "whole"


def test_foreign_names_are_refused_from_the_first_moment() -> None:
    answer, _ = run_apart(ask_early({**PAGE, "host": "evil.example"}))
    assert answer.status_code == 421


def test_an_application_that_cannot_be_opened_ends_the_server_and_is_told() -> None:
    async def look() -> tuple[Server, Response, list[str]]:
        server, ended = Server(fails=True), []
        server.threshold.on_failure = lambda: ended.append("ended")
        async with server as client:
            server.open.set()
            return server, await client.get("/cases"), ended

    server, answer, ended = run_apart(look())
    assert answer.status_code == 503
    assert ended == ["ended"]
    assert str(server.threshold.failure) == "a library is broken"


def test_the_application_is_closed_with_the_server() -> None:
    async def live() -> Server:
        server = Server()
        async with server:
            server.open.set()
            await asyncio.sleep(0.05)
        return server

    server = run_apart(live())
    assert server.closed
    assert server.told == ["lifespan.startup.complete", "lifespan.shutdown.complete"]
