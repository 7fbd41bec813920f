"""Runs the page: one process that answers, a few that compute."""

import uvicorn

from seatwright.web._app import create_app
from seatwright.web._settings import ServeSettings
from seatwright.workflows.ports import Clock

__all__ = ["serve"]

_CLOSE_S = 3  # judgement: listeners are cut off after this when the server stops


def serve(settings: ServeSettings, *, clock: Clock | None = None) -> None:
    """Serve until stopped."""
    uvicorn.run(
        create_app(settings, clock=clock),
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
