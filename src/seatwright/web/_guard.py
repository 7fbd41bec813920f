"""What every request passes before any page sees it: the host it names, where it comes from, how large it is.

And what every answer carries: headers that let the browser run nothing but our own scripts. Pure ASGI, no state.
"""

import re
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass
from typing import Any, Self
from urllib.parse import urlsplit

from seatwright.web._settings import ServeSettings

__all__ = ["ANSWER_HEADERS", "Guard", "GuardRules"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

_UPLOAD = re.compile(r"/cases/[A-Za-z0-9_-]{1,32}/scans")
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
_PLAIN_HOST = re.compile(r"^(?:\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]{1,5})?$")
"""A name or address with a port: nothing in it can be read as a path, a user or a second host."""
_POLICY = (
    "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
ANSWER_HEADERS = (
    ("Content-Security-Policy", _POLICY),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()"),
)


@dataclass(frozen=True, slots=True)
class GuardRules:
    """What is let through.

    Attributes
    ----------
    hosts : frozenset of str
        Names that a request may call this server by, without port: a page of another name is not ours, even where its
        name was made to point here.
    max_bytes : int
        Largest body of a request, bytes.
    max_upload_bytes : int
        The same where scans are brought.
    """

    hosts: frozenset[str]
    max_bytes: int
    max_upload_bytes: int

    @classmethod
    def of(cls, settings: ServeSettings) -> Self:
        """Return what is let through by a server of these settings."""
        return cls(settings.hosts, settings.max_body_bytes, settings.max_upload_bytes)

    def limit_of(self, path: str) -> int:
        """Return the largest body that a path takes."""
        return self.max_upload_bytes if _UPLOAD.fullmatch(path) else self.max_bytes


class Guard:
    """Refuses foreign hosts (421), requests sent by foreign pages (403) and oversized bodies (413)."""

    def __init__(self, app: App, rules: GuardRules) -> None:
        self._app, self._rules = app, rules

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = _read_headers(scope["headers"])
        refused = self._refuse(scope, headers)
        if refused is not None:
            await _answer(send, *refused)
            return
        await self._app(scope, self._counted(receive, self._rules.limit_of(scope["path"])), _with_headers(send))

    def _refuse(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        host = headers.get("host", "")
        n_hosts = sum(name.lower() == b"host" for name, _ in scope["headers"])
        if n_hosts != 1 or _name_of(host) not in self._rules.hosts:
            return 421, f"this server does not answer to the name {host[:80]!r}"
        if scope["method"] not in _SAFE_METHODS and not _is_own_page(headers, host):
            return 403, "this request was sent by a page of another site, or by no page at all"
        length, limit = headers.get("content-length", "0"), self._rules.limit_of(scope["path"])
        if not length.isdigit() or int(length) > limit:
            return 413, f"more than {limit / 1e6:g} MB cannot be taken in one go"
        return None

    def _counted(self, receive: Receive, limit: int) -> Receive:
        """Count a body as it comes, since its stated length may be absent."""
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > limit:
                return {"type": "http.disconnect"}
            return message

        return counted


def _read_headers(raw: Iterable[tuple[bytes, bytes]]) -> dict[str, str]:
    return {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in raw}


def _name_of(host: str) -> str:
    if not _PLAIN_HOST.match(host):
        return ""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _is_own_page(headers: dict[str, str], host: str) -> bool:
    """Whether a page that this server served sent a changing request, as the standard headers tell."""
    site = headers.get("sec-fetch-site")  # set by the browser itself, where it knows the line to be private
    if site is not None:
        return site == "same-origin"
    return urlsplit(headers.get("origin", "")).netloc.lower() == host.lower()


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", ()), *_encoded()]
        await send(message)

    return with_headers


def _encoded() -> list[tuple[bytes, bytes]]:
    return [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in ANSWER_HEADERS]


async def _answer(send: Send, status: int, said: str) -> None:
    body = said.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": [*headers, *_encoded()]})
    await send({"type": "http.response.body", "body": body})
