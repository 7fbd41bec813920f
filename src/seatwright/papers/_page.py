"""The one page of a dossier: opens by double-click, needs no server, no network and no script."""

from collections.abc import Mapping, Sequence

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

__all__ = ["render_page"]


def render_page(view: Mapping[str, object], *, figures: Mapping[str, str], files: Sequence[str]) -> str:
    """Return the page as HTML text; every word of the view is escaped, the drawings stand in it as they are."""
    environment = Environment(
        loader=PackageLoader("seatwright.papers", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    drawings = {
        name: Markup(svg)  # noqa: S704 - made by our own drawings, which escape every text
        for name, svg in figures.items()
        if not name.startswith("deviation")
    }
    template = environment.get_template("index.html.j2")
    return template.render(view=view, drawings=drawings, files=files)
