"""The sign-in page: name and password in, a session out; and signing out."""

import hmac
import re
import secrets
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from seatwright.errors import AccessError, InputError
from seatwright.web._answers import answer_error, render
from seatwright.web._asked import page_of
from seatwright.web._people import People, read_cookies

if TYPE_CHECKING:
    from seatwright.web._sessions import Session

__all__ = ["address_of", "require_people", "set_session_cookie", "sign_in_routes"]

sign_in_routes = APIRouter(default_response_class=HTMLResponse)
_WAIT = {"description": "Too many tries; wait as long as Retry-After says", "content": {"text/html": {}}}
_ENTRY_COOKIE = "seatwright-entry"
_TOKEN = re.compile(r"^[A-Za-z0-9_-]{43}$")
_OWN_PLACE = re.compile(r"^/(?![/\\])[^\\\x00-\x20]{0,500}$")
"""An address on this server: no other host can hide in it."""


@sign_in_routes.get("/sign-in")
async def sign_in_page(request: Request, next_: Annotated[str, Query(alias="next", max_length=600)] = "/") -> Response:
    """Ask for name and password."""
    return _show(request, next_)


@sign_in_routes.post("/sign-in", status_code=303, response_class=RedirectResponse, responses={429: _WAIT})
async def sign_in(
    request: Request,
    name: Annotated[str, Form(max_length=64)],
    password: Annotated[str, Form(max_length=1000)],
    csrf: Annotated[str, Form(max_length=64)] = "",
    next_: Annotated[str, Form(alias="next", max_length=600)] = "/",
) -> Response:
    """Sign in, and go where one wanted to."""
    people = require_people(request)
    known = read_cookies(request.headers.get("cookie", ""))
    entry = known.get(_ENTRY_COOKIE, "")
    if not _TOKEN.match(entry) or not hmac.compare_digest(entry.encode(), csrf.encode()):
        return answer_error(request, AccessError("this sign-in page is too old", hint="load it again, then sign in"))
    tried = await people.try_sign_in(name.strip(), password, address=address_of(request))
    if not tried.token:
        status = 429 if tried.wait_s else 401
        answer = _show(request, next_, name=name, wait_s=tried.wait_s, status=status)
        if tried.wait_s:
            answer.headers["Retry-After"] = str(tried.wait_s)
        return answer
    people.sessions.end(known.get(people.cookie, ""))
    went = RedirectResponse(next_ if _OWN_PLACE.match(next_) else "/", status_code=303)
    set_session_cookie(went, people, tried.token)
    went.delete_cookie(_ENTRY_COOKIE, path="/", httponly=True, samesite="strict", secure=people.tls)
    return went


@sign_in_routes.post("/sign-out", status_code=303, response_class=RedirectResponse)
async def sign_out(request: Request) -> Response:
    """End one's own session."""
    people = require_people(request)
    session: Session = request.state.session
    token = read_cookies(request.headers.get("cookie", "")).get(people.cookie, "")
    await people.sign_out(token, session, address=address_of(request))
    went = RedirectResponse("/sign-in", status_code=303)
    went.delete_cookie(people.cookie, path="/", httponly=True, samesite="strict", secure=people.tls)
    return went


def _show(request: Request, target: str, *, name: str = "", wait_s: int = 0, status: int = 200) -> HTMLResponse:
    people = require_people(request)
    entry = read_cookies(request.headers.get("cookie", "")).get(_ENTRY_COOKIE, "")
    is_kept = bool(_TOKEN.match(entry))
    entry = entry if is_kept else secrets.token_urlsafe(32)
    shown = {"next": target, "entry": entry, "name": name, "wait_s": wait_s, "failed": status != 200, "tls": people.tls}
    answer = render(request, "sign_in.html.j2", status=status, sign_in=shown)
    if not is_kept:
        _set_cookie(answer, people, _ENTRY_COOKIE, entry)
    return answer


def set_session_cookie(answer: Response, people: People, token: str) -> None:
    """Give a browser its session."""
    _set_cookie(answer, people, people.cookie, token)


def _set_cookie(answer: Response, people: People, name: str, value: str) -> None:
    answer.set_cookie(name, value, path="/", httponly=True, samesite="strict", secure=people.tls)


def require_people(request: Request) -> People:
    """Return who signs in here; InputError on a page for this machine alone."""
    people = page_of(request).people
    if people is None:
        raise InputError("nobody signs in here: this page is for this machine alone", hint="go to the bench")
    return people


def address_of(request: Request) -> str:
    """Return where a request comes from."""
    return request.client.host if request.client else ""
