"""The page that stands in a browser while the libraries are read and the day is planned, with its style and script."""

from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined

from seatwright.web._texts import texts
from seatwright.web._threshold import Answer

__all__ = ["WaitingPage"]

_FILES = {
    "/static/waiting.css": "text/css; charset=utf-8",
    "/static/scripts/waiting.js": "text/javascript; charset=utf-8",
}
_LIGHTS = ("dim", "bright")


class WaitingPage:
    """What a browser is shown before the application is there: one page for every address, in the device's light."""

    def __init__(self) -> None:
        place = files("seatwright.web")
        environment = Environment(
            loader=PackageLoader("seatwright.web", "templates"), autoescape=True, undefined=StrictUndefined
        )
        template = environment.get_template("waiting.html.j2")
        self._pages = {light: template.render(say=texts(), light=light) for light in ("auto", *_LIGHTS)}
        self._files = {
            path: Answer(kind, place.joinpath(*path[1:].split("/")).read_bytes()) for path, kind in _FILES.items()
        }

    def page(self, cookie: str) -> Answer:
        """Return the page as the device's cookie wants its light."""
        light = next((one for one in _LIGHTS if f".{one}." in cookie), "auto")
        return Answer("text/html; charset=utf-8", self._pages[light].encode())

    def file(self, path: str) -> Answer | None:
        """Return a file of the page; None for every other path."""
        return self._files.get(path)
