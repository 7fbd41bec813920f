"""The one place that decides who may ask what: every request passes here before any page sees it.

Looks up what the address asks for, who is signed in, and whether a change was asked by a page of theirs. Pure ASGI.
"""

import hmac
from typing import TYPE_CHECKING
from urllib.parse import parse_qs, quote

from fastapi import Request, Response
from fastapi.responses import RedirectResponse

from seatwright.errors import AccessError, InputError, SeatwrightError
from seatwright.web._answers import answer_error, render, wants_page
from seatwright.web._guard import App, Message, Receive, Scope, Send
from seatwright.web._people import People, read_cookies
from seatwright.web._permissions import actions_of
from seatwright.web._sessions import Session
from seatwright.workflows.rights import RIGHTS, Action, may

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["CSRF_FIELD", "CSRF_HEADER", "Door"]

CSRF_HEADER = "x-csrf-token"
CSRF_FIELD = "csrf"
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
_MAX_FORM_BYTES = 100_000  # judgement: forms are words; what is larger carries its token as a header
_FORM = "application/x-www-form-urlencoded"


class Door:
    """Lets through who may (401 for nobody, 403 for those who may not, 404 for what no row names)."""

    def __init__(self, app: App, people: People, page: "FastAPI") -> None:
        self._app, self._people, self._page = app, people, page

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        scope["app"] = self._page  # for the pages that answer here, outside the application's own routing
        request = Request(scope)
        try:
            refused, receive = await self._ask(request, receive)
        except SeatwrightError as error:
            refused = answer_error(request, error)
        await (self._app if refused is None else refused)(scope, receive, send)

    async def _ask(self, request: Request, receive: Receive) -> tuple[Response | None, Receive]:
        """Return the answer of a request that is refused, and how the rest of one that is not is received."""
        actions = actions_of(request.method, request.scope["path"])  # what the router sees, whatever the host claims
        if actions == {Action.OPEN}:
            return _answer_too_large(request), _no_more_than(_MAX_FORM_BYTES, receive)
        token = read_cookies(request.headers.get("cookie", "")).get(self._people.cookie, "")
        session = await self._people.session_of(token, is_use=_is_use(request))
        if session is None:
            return _answer_nobody(request), receive
        request.state.person, request.state.session = session.account.name, session
        role = session.account.role
        if not actions:
            return _told(
                request, InputError("nothing is at this address", hint="go back and try another way"), 404
            ), receive
        if refused := [action for action in actions if not may(role, action)]:
            return _answer_not_allowed(request, refused[0]), receive
        if request.method in _SAFE_METHODS:
            return None, receive
        given, receive = await _read_token(request, receive)
        if not hmac.compare_digest(given.encode(), session.csrf.encode()):
            stale = AccessError(
                "this page is older than your sign-in, so nothing was done", hint="load the page again, then repeat it"
            )
            return answer_error(request, stale), receive
        return None, receive


def _is_use(request: Request) -> bool:
    """Whether a person asks: what a page redraws by itself keeps nobody signed in."""
    is_redrawn = request.method in _SAFE_METHODS and "hx-request" in request.headers
    return not is_redrawn and request.scope["path"] != "/live"


def _answer_too_large(request: Request) -> Response | None:
    """Refuse what nobody has to send who is not signed in yet."""
    if int(request.headers.get("content-length", "0")) <= _MAX_FORM_BYTES:  # the guard has seen that it is a number
        return None
    return _told(request, InputError("this is more than a sign-in takes", hint="go back and try again"), 413)


def _no_more_than(n_bytes: int, receive: Receive) -> Receive:
    """Hang up on a body that grows larger than it may, where its length was not stated."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        return message if taken <= n_bytes else {"type": "http.disconnect"}

    return counted


def _answer_nobody(request: Request) -> Response:
    target = str(request.scope["path"]) + (f"?{request.url.query}" if request.url.query else "")
    if "hx-request" in request.headers:
        return render(request, "signed_out.html.j2", status=401)
    if request.method in _SAFE_METHODS and wants_page(request):
        return RedirectResponse(f"/sign-in?next={quote(target, safe='/')}", status_code=303)
    error = AccessError("nobody is signed in", hint="sign in, then do it again; nothing was done")
    answer = _told(request, error, 401)
    answer.headers["WWW-Authenticate"] = 'Session realm="Seatwright"'
    return answer


def _answer_not_allowed(request: Request, action: Action) -> Response:
    session: Session = request.state.session
    right = next(right for right in RIGHTS if right.action is action)
    roles = " or ".join(sorted(role.value for role in right.roles))
    error = AccessError(
        f"a {session.account.role.value} may not {right.what}",
        hint=f"nothing was done; ask a {roles} to do it, or sign in as one",
        details={"action": action.value, "role": session.account.role.value},
    )
    return answer_error(request, error)


def _told(request: Request, error: SeatwrightError, status: int) -> Response:
    answer = answer_error(request, error)
    answer.status_code = status
    return answer


async def _read_token(request: Request, receive: Receive) -> tuple[str, Receive]:
    """Return the token that a change carries: as a header, or as a field of a plain form, which is then given back."""
    header = request.headers.get(CSRF_HEADER)
    if header is not None:
        return header, receive
    if not request.headers.get("content-type", "").startswith(_FORM):
        return "", receive
    body, more = b"", True
    while more and len(body) <= _MAX_FORM_BYTES:
        message = await receive()
        body += message.get("body", b"")
        more = message["type"] == "http.request" and message.get("more_body", False)
    if more:
        return "", receive
    fields = parse_qs(body.decode("utf-8", "replace"), max_num_fields=200)
    return fields.get(CSRF_FIELD, [""])[0], _given_back(body, receive)


def _given_back(body: bytes, receive: Receive) -> Receive:
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def given() -> Message:
        return waiting.pop() if waiting else await receive()

    return given
