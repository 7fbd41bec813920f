"""Answers from the first moment: a page that waits while the application is still being opened behind it. Pure ASGI."""

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager, suppress
from dataclasses import dataclass
from typing import Protocol

from seatwright.web._guard import App, Receive, Scope, Send

__all__ = ["Answer", "Threshold", "Waiting"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What is answered before the application is there."""

    kind: str
    body: bytes


class Waiting(Protocol):
    """What there is to answer before."""

    def page(self, cookie: str) -> Answer:
        """Return the page that a browser is given for every address."""
        ...

    def file(self, path: str) -> Answer | None:
        """Return a file of that page; None for every other path."""
        ...


class Threshold:
    """Stands before the application: opens it once the server listens, and holds who comes earlier.

    A browser that asks for a page has it where it comes soon, else one that waits and then loads the page anew; files
    of that one come from here; everything else is answered by the application as soon as it can.

    Parameters
    ----------
    open_app : callable
        Returns what opens the application, and closes it when the server stops.
    waiting : Waiting
        The page that waits.
    patience_s : float
        From when the server listens: until then a page is held back for the true one, from then on it waits.
    """

    def __init__(
        self,
        open_app: Callable[[], AbstractAsyncContextManager[App]],
        waiting: Waiting,
        *,
        patience_s: float = 0.0,
    ) -> None:
        self._open_app, self._waiting, self._patience_s = open_app, waiting, patience_s
        self._listens_since: float | None = None
        self._app: App | None = None
        self._ready, self._stop = asyncio.Event(), asyncio.Event()
        self.failure: Exception | None = None
        """Why the application could not be opened."""
        self.on_failure: Callable[[], None] = lambda: None
        """Called when it could not: nothing will be answered any more."""

    def fail(self, error: Exception) -> None:
        """Keep why it could not be opened, or not whole, and tell the server."""
        self.failure = error
        self._ready.set()
        self.on_failure()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer here, or hand over."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
            return
        if self._app is None and scope["type"] == "http":
            answer = self._waiting.file(scope["path"])
            if answer is None and _is_page(scope) and not await self._comes_soon():
                answer = self._waiting.page(_headers(scope).get(b"cookie", b"").decode("latin-1"))
            if answer is not None and scope["method"] == "GET":
                await _send(answer, send)
                return
            await self._ready.wait()
        if self._app is None:
            await _send(Answer("text/plain; charset=utf-8", b"the page could not be opened"), send, status=503)
            return
        await self._app(scope, receive, send)

    async def _comes_soon(self) -> bool:
        """Wait for the application as long as the patience lasts; return whether it is there, or never will be."""
        now = asyncio.get_running_loop().time()
        left_s = self._patience_s - (now - (self._listens_since or now))
        with suppress(TimeoutError):
            await asyncio.wait_for(self._ready.wait(), max(left_s, 0.0))
        return self._ready.is_set()

    async def _live(self, receive: Receive, send: Send) -> None:
        await receive()
        self._listens_since = asyncio.get_running_loop().time()
        await send({"type": "lifespan.startup.complete"})  # the server listens; the application follows
        opening = asyncio.create_task(self._keep_open())
        await receive()
        self._stop.set()
        await opening
        await send({"type": "lifespan.shutdown.complete"})

    async def _keep_open(self) -> None:
        try:
            async with self._open_app() as app:
                self._app = app
                self._ready.set()
                await self._stop.wait()
        except Exception as error:  # the boundary of the process: whoever started the server is told
            self.fail(error)


def _headers(scope: Scope) -> dict[bytes, bytes]:
    return {name.lower(): value for name, value in scope["headers"]}


def _is_page(scope: Scope) -> bool:
    """Whether a browser asks for a whole page."""
    headers = _headers(scope)
    return scope["method"] == "GET" and b"text/html" in headers.get(b"accept", b"") and b"hx-request" not in headers


async def _send(answer: Answer, send: Send, *, status: int = 200) -> None:
    headers = [
        (b"content-type", answer.kind.encode()),
        (b"content-length", str(len(answer.body)).encode()),
        (b"cache-control", b"no-store"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": answer.body})
