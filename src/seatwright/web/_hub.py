"""Who listens, and what changed: one hub, many browsers. Says only *that* something changed, never what it is now."""

import asyncio
import contextlib
import itertools
import json
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field

__all__ = ["Change", "Hub"]

_QUEUE = 100  # judgement: a browser that is this many changes behind is told to look at everything again


@dataclass(frozen=True, slots=True)
class Change:
    """One change: its kind (``case``, ``job``, ``bench``) and what it concerns."""

    kind: str
    data: Mapping[str, object] = field(default_factory=dict)

    def to_json(self) -> str:
        """Return the data as one line."""
        return json.dumps(self.data, ensure_ascii=False, separators=(",", ":"))


class Hub:
    """Hands each change to every listener; may be called from any thread."""

    def __init__(self) -> None:
        self._listeners: dict[int, asyncio.Queue[Change]] = {}
        self._numbers = itertools.count()
        self._loop: asyncio.AbstractEventLoop | None = None

    @property
    def n_listeners(self) -> int:
        """How many browsers listen."""
        return len(self._listeners)

    def bind(self, loop: asyncio.AbstractEventLoop) -> None:
        """Name the loop that the listeners live in; before it nothing is heard."""
        self._loop = loop

    def tell(self, change: Change) -> None:
        """Tell everybody, from any thread."""
        if self._loop is not None and not self._loop.is_closed():
            with contextlib.suppress(RuntimeError):  # the loop ended meanwhile: nobody is left to hear it
                self._loop.call_soon_threadsafe(self._spread, change)

    async def listen(self) -> AsyncIterator[Change]:
        """Yield changes as they come, until the listener goes away."""
        number, queue = next(self._numbers), asyncio.Queue[Change](_QUEUE)
        self._listeners[number] = queue
        try:
            while True:
                yield await queue.get()
        finally:
            del self._listeners[number]

    def _spread(self, change: Change) -> None:
        for queue in self._listeners.values():
            if queue.full():
                while not queue.empty():
                    queue.get_nowait()
                queue.put_nowait(Change("everything"))
            else:
                queue.put_nowait(change)
