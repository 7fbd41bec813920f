"""The first page before everything else: what stands behind it is opened once it is answered, and waited for. ASGI."""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from seatwright.web._guard import Message, Receive, Scope, Send

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["Behind"]

_PAUSE_S = 0.4  # judgement: nothing asked for so long, a browser has the first page's files and draws it
_LATEST_S = 2.0  # judgement: nobody came, so nobody is kept waiting
_AT_MOST_S = 6.0  # judgement: somebody always asks; the rest is wanted sooner or later


class Behind:
    """Stands before the application while it has its first addresses alone.

    Those are answered at once. Whoever asks for another has it opened at once and waits for it: nothing is answered
    by an application that does not know the address yet.

    Parameters
    ----------
    app : FastAPI
        With its first addresses.
    read_rest : callable
        Reads what the others need, in a thread; returns what adds them to the application, called in the event loop.
    on_failure : callable
        Called with what went wrong: nothing but the first page will be answered.
    """

    def __init__(
        self,
        app: "FastAPI",
        read_rest: "Callable[[], Callable[[FastAPI], None]]",
        on_failure: Callable[[Exception], None],
    ) -> None:
        self._app, self._read_rest, self._on_failure = app, read_rest, on_failure
        self._is_wanted, self._is_settled = asyncio.Event(), asyncio.Event()
        self._is_answered, self._answered_at = asyncio.Event(), 0.0
        self._failure: Exception | None = None

    async def open(self) -> None:
        """Open the rest: when it is asked for, soon after the first answer, or after a while in which nobody came."""
        try:
            await self._pause()
            add = await asyncio.to_thread(self._read_rest)
            add(self._app)
        except Exception as error:  # the boundary of the process: whoever started the server is told
            self._failure = error
            self._on_failure(error)
        finally:
            self._is_settled.set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand over, as soon as the application knows the address."""
        if scope["type"] == "http" and not self._is_settled.is_set():
            if self._is_first(scope):
                await self._app(scope, receive, self._listening(send))
                return
            self._is_wanted.set()
            await self._is_settled.wait()
        if self._failure is not None:
            raise self._failure
        await self._app(scope, receive, send)

    def _is_first(self, scope: Scope) -> bool:
        """Whether the application knows the address already; its published description is whole or waited for."""
        if scope["path"] == self._app.openapi_url:
            return False
        return any(route.matches(scope)[0].name == "FULL" for route in self._app.routes)

    def _listening(self, send: Send) -> Send:
        async def pass_on(message: Message) -> None:
            await send(message)
            if message["type"] == "http.response.body" and not message.get("more_body", False):
                self._is_answered.set()
                self._answered_at = asyncio.get_running_loop().time()

        return pass_on

    async def _pause(self) -> None:
        """Return when the rest is asked for, when the first page has settled, or when nobody came."""
        loop = asyncio.get_running_loop()
        begun = loop.time()
        with suppress(TimeoutError):
            await asyncio.wait_for(self._first_answer_or_wish(), _LATEST_S)
        while not self._is_wanted.is_set() and self._is_answered.is_set() and loop.time() - begun < _AT_MOST_S:
            left_s = self._answered_at + _PAUSE_S - loop.time()
            if left_s <= 0:
                return
            with suppress(TimeoutError):
                await asyncio.wait_for(self._is_wanted.wait(), left_s)

    async def _first_answer_or_wish(self) -> None:
        waits = [asyncio.ensure_future(event.wait()) for event in (self._is_wanted, self._is_answered)]
        try:
            await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for one in waits:
                one.cancel()
