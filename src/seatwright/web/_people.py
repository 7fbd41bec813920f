"""Those who sign in on this server: their accounts, their sessions, and tries that failed."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

from starlette.concurrency import run_in_threadpool

from seatwright import record_wiring
from seatwright.web._attempts import Attempts
from seatwright.web._practice import Practice
from seatwright.web._sessions import Session, Sessions
from seatwright.workflows.accounts import (
    Access,
    Account,
    AccountStore,
    PasswordHasher,
    change_password,
    check_sign_in,
)

__all__ = ["People", "Tried", "read_cookies"]


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of a try to sign in: a token, or how long to wait, or neither where name or password is wrong."""

    token: str = ""
    wait_s: int = 0


@dataclass(slots=True)
class People:
    """One server's people.

    Parameters
    ----------
    practice : Practice
        Its record has the accounts, and the machine's clock tells how long somebody is signed in.
    tls : bool
        Whether cookies go over TLS only.
    hasher : PasswordHasher
    """

    practice: Practice
    tls: bool
    hasher: PasswordHasher = field(default_factory=record_wiring.password_hasher)
    sessions: Sessions = field(default_factory=Sessions)
    attempts: Attempts = field(default_factory=Attempts)
    _one_at_a_time: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def cookie(self) -> str:
        """Name of the cookie with a session's token; the prefix keeps other hosts and plain pages from setting it."""
        return "__Host-seatwright" if self.tls else "seatwright"

    @property
    def store(self) -> AccountStore:
        """The accounts."""
        return record_wiring.accounts_of_record(self.practice.record)

    async def session_of(self, token: str, *, is_use: bool) -> Session | None:
        """Return who holds a token; None for nobody."""
        if not token:
            return None
        now = self.practice.writing.now()
        return await run_in_threadpool(
            lambda: self.sessions.find(token, now=now, account_of=self.store.find, is_use=is_use)
        )

    async def try_sign_in(self, name: str, password: str, *, address: str) -> Tried:
        """Check name and password."""
        return await self._try(lambda: self._check(name, password, address), name=name, address=address)

    async def change_password(self, name: str, old: str, new: str, *, address: str) -> Tried:
        """Change one's own password and begin a new session; all others of the account end with the change.

        Raises
        ------
        InputError
            The new one is too easily guessed.
        """
        return await self._try(lambda: self._change(name, old, new), name=name, address=address)

    async def _try(self, check: Callable[[], Account | None], *, name: str, address: str) -> Tried:
        """Check one try after another: nobody gains by many at once, and memory stays bounded; begin a session."""
        async with self._one_at_a_time:
            now = self.practice.writing.now()
            if wait_s := self.attempts.wait_s(name, address, now=now):
                return Tried(wait_s=wait_s)
            account = await run_in_threadpool(check)
            if account is None:
                self.attempts.fail(name, address, now=now)
                return Tried(wait_s=self.attempts.wait_s(name, address, now=now))
            self.attempts.succeed(name)
            return Tried(token=self.sessions.begin(account, now=now))

    async def sign_out(self, token: str, session: Session, *, address: str) -> None:
        """End a session."""
        self.sessions.end(token)
        await run_in_threadpool(self._tell, Access.SIGNED_OUT, session.account.name, address)

    def _check(self, name: str, password: str, address: str) -> Account | None:
        account = check_sign_in(self.store, self.hasher, name, password)
        known = account or self.store.find(name)
        what = Access.REFUSED if account is None else Access.SIGNED_IN
        self._tell(what, known.name if known else "", address)  # never the name as typed: it may be a password
        return account

    def _change(self, name: str, old: str, new: str) -> Account | None:
        if check_sign_in(self.store, self.hasher, name, old) is None:
            return None
        return change_password(self.store, self.hasher, name, new, by=name, now=self.practice.writing.now())

    def _tell(self, what: Access, name: str, address: str) -> None:
        self.store.tell(what, account=name, address=address, now=self.practice.writing.now())


def read_cookies(header: str) -> dict[str, str]:
    """Return the cookies of a request; none where they cannot be read."""
    try:
        return {name: morsel.value for name, morsel in SimpleCookie(header).items()}
    except CookieError:
        return {}
