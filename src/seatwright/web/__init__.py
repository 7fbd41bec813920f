"""The bench page: the whole tool in a browser. Parses, calls a workflow, shows; computes nothing."""

from seatwright.web._app import create_app
from seatwright.web._serve import serve
from seatwright.web._settings import LOOPBACK, ServeSettings
from seatwright.web._tls import check_tls

__all__ = ["LOOPBACK", "ServeSettings", "check_tls", "create_app", "serve"]
