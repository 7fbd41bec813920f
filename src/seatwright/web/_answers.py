"""How results and refusals become pages: templates, and one table from error to status."""

import json
import re
from collections.abc import Mapping
from functools import lru_cache
from http import HTTPStatus
from importlib.resources import files
from typing import TYPE_CHECKING

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from seatwright.errors import (
    AccessError,
    Cancelled,
    CannotCompute,
    CaseError,
    ConflictError,
    InputError,
    MeshError,
    RecordError,
    SeatwrightError,
    UnknownCase,
    ValueOutOfRange,
)
from seatwright.papers import page_style
from seatwright.web._localize import localize, show_decimal
from seatwright.web._preferences import COOKIE, Preferences, name_tooth, read_preferences
from seatwright.web._template_cache import template_cache
from seatwright.web._texts import script_texts, texts
from seatwright.workflows.rights import Action, may

if TYPE_CHECKING:
    from seatwright.web._sessions import Session

__all__ = ["PAPER_STYLE", "STATUS_OF", "answer_error", "render", "status_of", "wants_page"]

_COMMAND = re.compile(r"`([^`]+)`")
PAPER_STYLE = "paper.css"
"""Name under which the style sheet of the dossier's page is served."""
STATUS_OF: Mapping[type[SeatwrightError], int] = {
    AccessError: HTTPStatus.FORBIDDEN,
    InputError: HTTPStatus.UNPROCESSABLE_ENTITY,
    CaseError: HTTPStatus.UNPROCESSABLE_ENTITY,
    UnknownCase: HTTPStatus.NOT_FOUND,
    MeshError: HTTPStatus.UNPROCESSABLE_ENTITY,
    ValueOutOfRange: HTTPStatus.UNPROCESSABLE_ENTITY,
    CannotCompute: HTTPStatus.UNPROCESSABLE_ENTITY,
    ConflictError: HTTPStatus.CONFLICT,
    RecordError: HTTPStatus.SERVICE_UNAVAILABLE,
    Cancelled: HTTPStatus.CONFLICT,
}
"""HTTP status of each deliberate error; anything else is a bug of ours (500)."""


def status_of(error: SeatwrightError) -> int:
    """Return the status of the nearest class in the table; 500 for the bare root."""
    return next((int(STATUS_OF[kind]) for kind in type(error).__mro__ if kind in STATUS_OF), 500)


def render(request: Request, template: str, *, status: int = 200, **view: object) -> HTMLResponse:
    """Fill a template; every word is escaped. Numbers and teeth are shown as this device wants them."""
    preferences = read_preferences(request.cookies.get(COOKIE))
    text = _environment().get_template(template).render(**_shared(request), preferences=preferences, **view)
    return HTMLResponse(localize(text, preferences), status_code=status, headers={"Cache-Control": "no-store"})


def _shared(request: Request) -> dict[str, object]:
    """Return what every template knows: the page, who looks, and what they may do (all, where nobody signs in)."""
    session: Session | None = getattr(request.state, "session", None)
    page = request.app.state.page
    role = session.account.role if session is not None else None
    return {
        "url": request.url.path,
        "page": page,
        "stamp": f"{page.clock.now():%d %b %Y, %H:%M} UTC",
        "person": session.account.name if session is not None else None,
        "role": role.value if role is not None else "",
        "csrf": session.csrf if session is not None else "",
        "can": lambda action: page.people is None or may(role, Action(action)),
    }


def wants_page(request: Request) -> bool:
    """Whether a person's browser asks, rather than a script or a program."""
    return "text/html" in request.headers.get("accept", "")


def answer_error(request: Request, error: SeatwrightError) -> Response:
    """Tell an error once: as a page, as a strip that replaces part of one, or as JSON of the command line's shape."""
    status = status_of(error)
    if "hx-request" in request.headers:
        return render(request, "strip.html.j2", status=status, error=error)
    if wants_page(request):
        return render(request, "error.html.j2", status=status, error=error)
    faults = [{"where": f.where, "what": f.what, "hint": f.hint} for f in error.faults]
    details = {**error.details, **({"faults": faults} if faults else {})}
    shape = {"code": error.code, "message": error.message, "hint": error.hint, "details": details}
    return JSONResponse(json.loads(json.dumps({"error": shape}, default=str)), status_code=status)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("seatwright.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        bytecode_cache=template_cache(),
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["asset"] = _asset
    environment.globals["say"] = texts()
    environment.globals["script_texts"] = script_texts()
    environment.filters["tooth"] = _tooth
    environment.filters["commands"] = _commands
    environment.filters["decimal"] = _decimal
    return environment


@pass_context
def _tooth(context: Context, tooth: int) -> str:
    """Name a tooth as this device wants it."""
    preferences: Preferences = context["preferences"]
    return name_tooth(int(tooth), preferences.teeth)


def _commands(text: str) -> Markup:
    """Return a text whose commands, in backquotes as a terminal shows them, stand out as such."""
    return Markup(_COMMAND.sub(r"<code>\1</code>", str(escape(text))))  # noqa: S704 - escaped before


@pass_context
def _decimal(context: Context, number: float | str) -> str:
    """Write a number for a field as this device wants it."""
    preferences: Preferences = context["preferences"]
    return show_decimal(number, comma=preferences.comma)


@lru_cache(maxsize=64)
def _asset(name: str) -> str:
    """Return the address of a static file, with its content's mark so that browsers may keep it."""
    import hashlib  # noqa: PLC0415

    if name == PAPER_STYLE:
        content = page_style().encode()
    else:
        content = files("seatwright.web").joinpath("static", *name.split("/")).read_bytes()
    return f"/static/{name}?v={hashlib.sha256(content).hexdigest()[:12]}"
