"""The bench page: the whole tool in a browser. Parses, calls a workflow, shows; computes nothing."""

from seatwright.web._app import create_app
from seatwright.web._settings import ServeSettings

__all__ = ["ServeSettings", "create_app"]
