"""The bench page: the whole tool in a browser. Parses, calls a workflow, shows; computes nothing."""

from seatwright.web._app import create_app
from seatwright.web._serve import serve
from seatwright.web._settings import LOOPBACK, ServeSettings

__all__ = ["LOOPBACK", "ServeSettings", "create_app", "serve"]
