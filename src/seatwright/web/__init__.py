"""The bench page: the whole tool in a browser. Parses, calls a workflow, shows; computes nothing.

The application itself is `seatwright.web.app`: it reads every library of the tool, so it is imported once it is needed.
"""

from seatwright.web._serve import serve
from seatwright.web._settings import LOOPBACK, ServeSettings
from seatwright.web._tls import check_tls

__all__ = ["LOOPBACK", "ServeSettings", "check_tls", "serve"]
