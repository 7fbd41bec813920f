"""The one page of a dossier: opens by double-click, needs no server, no network and no script."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from importlib.resources import files as packaged

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

__all__ = ["SECTIONS", "page_style", "render_page", "render_sections"]

SECTIONS = ("first", "plan", "dies", "pour", "cast", "fit", "survey", "later", "all")
"""Sections of the page that can stand elsewhere too, in the order of the job."""


def page_style() -> str:
    """Return the style sheet of the page, for a page of another frame that shows its sections."""
    return packaged("seatwright.papers").joinpath("templates", "page.css").read_text(encoding="utf-8")


def render_page(view: Mapping[str, object], *, figures: Mapping[str, str], files: Sequence[str]) -> str:
    """Return the page as HTML text; every word of the view is escaped, the drawings stand in it as they are."""
    template = _environment().get_template("index.html.j2")
    return template.render(view=view, drawings=_drawings(figures), files=files, base="")


def render_sections(
    view: Mapping[str, object], *, figures: Mapping[str, str], files: Sequence[str], base: str
) -> dict[str, str]:
    """Return sections of the page as HTML text by name, for a page of another frame.

    Parameters
    ----------
    view : mapping
    figures : mapping of str to str
        Drawings as SVG text by name.
    files : sequence of str
        Paths of the files that links may name.
    base : str
        What those paths are put behind in links.
    """
    given = {"view": view, "drawings": _drawings(figures), "files": files, "base": base}
    missing = {"cast"} if not (view["casts"] or view["by_hand"]) else set()
    missing |= {"fit"} if not view["has_fit"] else set()
    missing |= {"survey"} if not view["has_path"] else set()
    names = [name for name in SECTIONS if name not in missing]
    return {name: _environment().get_template(f"sections/{name}.html.j2").render(given) for name in names}


def _drawings(figures: Mapping[str, str]) -> dict[str, Markup]:
    return {
        name: Markup(svg)  # noqa: S704 - made by our own drawings, which escape every text
        for name, svg in figures.items()
        if not name.startswith("deviation")
    }


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("seatwright.papers", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
