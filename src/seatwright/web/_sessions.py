"""Who is signed in: random tokens, kept only as their hashes, in the server's memory; gone when it ends.

A session ends by signing out, by its age, by lying idle, and with any change of its account.
"""

import hashlib
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from seatwright.workflows.accounts import Account
from seatwright.workflows.rights import Role

__all__ = ["OLDEST", "Session", "Sessions"]

OLDEST = timedelta(hours=12)  # judgement: a long day at the bench
_IDLE = timedelta(hours=2)  # judgement: the longest cure or set that somebody waits out at the bench
_TOKEN_BYTES = 32  # 256 bits; the OWASP session management cheat sheet asks for at least 64 bits of entropy


@dataclass(frozen=True, slots=True)
class Session:
    """One person in one browser.

    Attributes
    ----------
    account : Account
        As it was when they signed in.
    csrf : str
        What every change that this browser asks for has to carry.
    begun_at, used_at : datetime
    """

    account: Account
    csrf: str
    begun_at: datetime
    used_at: datetime

    def is_over(self, now: datetime) -> bool:
        """Whether it is too old, or lay idle; a screen that only shows may hang on the wall all day."""
        idle = now - self.used_at > _IDLE and self.account.role is not Role.READER
        return idle or now - self.begun_at > OLDEST


@dataclass(slots=True)
class Sessions:
    """All of them, by the hash of their token."""

    _known: dict[str, Session] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def begin(self, account: Account, *, now: datetime) -> str:
        """Begin a session and return its token, which nobody else knows and nothing keeps."""
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        with self._lock:
            self._known = {key: one for key, one in self._known.items() if not one.is_over(now)}
            self._known[_hashed(token)] = Session(account, secrets.token_urlsafe(_TOKEN_BYTES), now, now)
        return token

    def find(
        self, token: str, *, now: datetime, account_of: Callable[[str], Account | None], is_use: bool
    ) -> Session | None:
        """Return the session of a token while it lasts and its account is as it was; `is_use` keeps it from idling."""
        with self._lock:
            session = self._known.get(_hashed(token))
        if session is None:
            return None
        current = account_of(session.account.name)
        is_same = current is not None and not current.is_disabled and current.entry == session.account.entry
        if not is_same or session.is_over(now):
            self.end(token)
            return None
        if is_use:
            session = replace(session, used_at=now)
            with self._lock:
                if _hashed(token) in self._known:  # not signed out meanwhile
                    self._known[_hashed(token)] = session
        return session

    def end(self, token: str) -> None:
        """End a session; nothing happens where there is none."""
        with self._lock:
            self._known.pop(_hashed(token), None)


def _hashed(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
