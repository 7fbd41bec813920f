"""Changing one's own password: the old one and the new one in, every other session of the account out."""

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from seatwright.errors import InputError
from seatwright.web._answers import render
from seatwright.web._people import People
from seatwright.web._sessions import Session
from seatwright.web._sign_in import address_of, require_people, set_session_cookie
from seatwright.workflows.accounts import MIN_PASSWORD_LENGTH

__all__ = ["password_routes"]

password_routes = APIRouter(prefix="/password", default_response_class=HTMLResponse)
_Secret = Annotated[str, Form(max_length=1000)]
_WAIT = {"description": "Too many tries; wait as long as Retry-After says", "content": {"text/html": {}}}


@password_routes.get("")
async def password_page(request: Request) -> Response:
    """Ask for the old password and the new one."""
    require_people(request)
    return _show(request)


@password_routes.post("", status_code=303, response_class=RedirectResponse, responses={429: _WAIT})
async def change(request: Request, old: _Secret, new: _Secret, again: _Secret) -> Response:
    """Change it; whoever else is signed in with this account signs in again."""
    people = require_people(request)
    session = _require_session(request, people)
    if new != again:
        return _show(request, wrong="apart", status=422)
    try:
        tried = await people.change_password(session.account.name, old, new, address=address_of(request))
    except InputError as error:
        return _show(request, wrong="weak", error=error, status=422)
    if tried.wait_s:
        answer = _show(request, wrong="wait", wait_s=tried.wait_s, status=429)
        answer.headers["Retry-After"] = str(tried.wait_s)
        return answer
    if not tried.token:
        return _show(request, wrong="old", status=422)
    went = RedirectResponse("/password?changed=yes", status_code=303)
    set_session_cookie(went, people, tried.token)
    return went


def _require_session(request: Request, people: People) -> Session:
    session: Session | None = getattr(request.state, "session", None)
    if session is None:
        raise InputError("nobody is signed in", hint=f"sign in first, with the cookie {people.cookie}")
    return session


def _show(
    request: Request, *, wrong: str = "", wait_s: int = 0, error: InputError | None = None, status: int = 200
) -> HTMLResponse:
    shown = {
        "wrong": wrong,
        "wait_s": wait_s,
        "error": error,
        "at_least": MIN_PASSWORD_LENGTH,
        "changed": request.query_params.get("changed") == "yes" and not wrong,
    }
    return render(request, "password.html.j2", status=status, asked=shown)
