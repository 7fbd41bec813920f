"""How this device shows the page: chosen here, kept in its cookie, told to nobody else."""

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from seatwright.case import ToothNotation
from seatwright.web._answers import render
from seatwright.web._asked import page_of
from seatwright.web._preferences import COOKIE, Light, Preferences

__all__ = ["device_routes"]

device_routes = APIRouter(prefix="/settings", default_response_class=HTMLResponse)
_KEPT_S = 400 * 24 * 3600  # the longest that browsers keep a cookie, RFC 6265bis


@device_routes.get("")
async def settings_page(request: Request) -> Response:
    """Show what is chosen on this device."""
    return render(request, "settings.html.j2")


@device_routes.post("", status_code=303, response_class=RedirectResponse)
async def choose(
    request: Request,
    teeth: Annotated[ToothNotation, Form()],
    decimal: Annotated[str, Form(pattern="^(point|comma)$")],
    light: Annotated[Light, Form()],
    alarm: Annotated[list[str] | None, Form(max_length=2)] = None,
) -> Response:
    """Keep what was chosen, on this device alone."""
    heard = set(alarm or ())
    chosen = Preferences(teeth, decimal == "comma", light, "sound" in heard, "flash" in heard)
    answer = RedirectResponse("/settings", status_code=303)
    secure = page_of(request).settings.tls
    answer.set_cookie(COOKIE, chosen.to_cookie(), max_age=_KEPT_S, httponly=True, samesite="strict", secure=secure)
    return answer
