"""Changes as server-sent events: the page asks for what it shows once it hears that something changed."""

from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from sse_starlette import EventSourceResponse, ServerSentEvent

from seatwright.web._asked import is_still_in, page_of

__all__ = ["live_routes"]

live_routes = APIRouter()
_PING_S = 20  # judgement: shorter than any proxy's patience


@live_routes.get("/live", response_class=EventSourceResponse)
async def listen(request: Request) -> EventSourceResponse:
    """Send every change until the browser leaves."""
    hub = page_of(request).hub

    async def changes() -> AsyncIterator[ServerSentEvent]:
        async for change in hub.listen():
            if not await is_still_in(request):
                return  # signed out meanwhile: nothing more is said
            yield ServerSentEvent(event=change.kind, data=change.to_json())

    return EventSourceResponse(changes(), ping=_PING_S)
