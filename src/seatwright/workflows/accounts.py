"""Accounts of the practice record: names, passwords, and that somebody who can decide is always left.

Owns the rules about accounts and passwords. Knows no page, no database and no hash.
"""

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Protocol

from seatwright.errors import ConflictError, InputError
from seatwright.workflows.rights import Role

__all__ = [
    "MIN_PASSWORD_LENGTH",
    "Access",
    "AccessRow",
    "Account",
    "AccountStore",
    "Deed",
    "PasswordHasher",
    "add_account",
    "change_password",
    "change_role",
    "check_password",
    "check_sign_in",
    "normalize_password",
    "require_dentist",
    "set_disabled",
]

MIN_PASSWORD_LENGTH = 12
"""Characters. Judgement, between the 8 and the 15 that NIST SP 800-63B-4 (2025), 3.1.1.2, asks of a password that
stands with and without a second factor: nobody outside the practice's own network reaches the sign-in."""
_MAX_PASSWORD_LENGTH = 256  # judgement: NIST SP 800-63B-4, 3.1.1.2, asks for at least 64
_MIN_DIFFERENT = 5  # judgement: "aaaaaaaaaaaa" is long, and nothing else
_NAME = re.compile(r"^[A-Za-z0-9](?:[A-Za-z0-9 ._-]{0,30}[A-Za-z0-9])?$")
_TAKEN_NAMES = frozenset({"page"})
"""Who writes where nobody signs in."""


class Deed(StrEnum):
    """What was done to an account."""

    ADDED = "added"
    PASSWORD = "password"  # noqa: S105 - a word, no password
    ROLE = "role"
    DISABLED = "disabled"
    ENABLED = "enabled"


class Access(StrEnum):
    """What an account did, or what was tried with one."""

    SIGNED_IN = "signed_in"
    REFUSED = "refused"
    SIGNED_OUT = "signed_out"


@dataclass(frozen=True, slots=True)
class Account:
    """One account.

    Attributes
    ----------
    name : str
        A bench code, never a person's name: it stands under everything that is done with it.
    role : Role
    is_disabled : bool
    created_at, changed_at : datetime
    entry : int
        Number of the record's entry that changed it last; whoever signed in before that entry signs in again.
    """

    name: str
    role: Role
    is_disabled: bool
    created_at: datetime
    changed_at: datetime
    entry: int


@dataclass(frozen=True, slots=True)
class AccessRow:
    """One entry of the record about accounts: when, by whom, what, with which account, from where."""

    entry: int
    at: datetime
    by: str
    what: str
    account: str
    said: str = ""


class PasswordHasher(Protocol):
    """Makes and checks password hashes."""

    def hash(self, password: str) -> str:
        """Return a salted hash that tells its own parameters."""
        ...

    def fits(self, stored: str | None, password: str) -> bool:
        """Whether a password has this hash; for None (no such account) False after the same work."""
        ...


class AccountStore(Protocol):
    """Keeps accounts, with an entry in the record's chain for everything that is done to or with one."""

    def find(self, name: str) -> Account | None:
        """Return an account by its name, in whatever case it is written."""
        ...

    def list_accounts(self) -> tuple[Account, ...]:
        """Return every account, by name."""
        ...

    def password_hash(self, name: str) -> str | None:
        """Return an account's hash."""
        ...

    def add(self, name: str, role: Role, password_hash: str, *, by: str, now: datetime) -> Account:
        """Add an account; ConflictError when its name is taken."""
        ...

    def change(
        self,
        account: Account,
        deed: Deed,
        *,
        by: str,
        now: datetime,
        password_hash: str | None = None,
        require: Callable[[Sequence[Account]], None] | None = None,
    ) -> Account:
        """Put a changed account in the place of the one with its name, if `require` accepts all of them as they become.

        `require` is asked inside the transaction, so that two changes cannot each pass alone.
        """
        ...

    def tell(self, what: Access, *, account: str, address: str, now: datetime) -> None:
        """Write down that somebody signed in or out, or tried to; `account` is empty for a name that there is not."""
        ...

    def history(self, *, limit: int) -> tuple[AccessRow, ...]:
        """Return the latest entries about accounts, the newest first."""
        ...


def normalize_password(password: str) -> str:
    """Return a password as it is hashed: the same letters, however a keyboard composes them (Unicode NFKC)."""
    return unicodedata.normalize("NFKC", password)


def check_password(password: str, *, name: str) -> str:
    """Return a new password as it is hashed.

    Raises
    ------
    InputError
        It is too short, too long, one of few characters, or the account's own name.
    """
    plain = normalize_password(password)
    if len(plain) < MIN_PASSWORD_LENGTH:
        raise InputError(
            f"the password has {len(plain)} characters; it needs at least {MIN_PASSWORD_LENGTH}",
            hint="four or five words that do not belong together are easy to type with gloves on",
        )
    if len(plain) > _MAX_PASSWORD_LENGTH:
        raise InputError(f"the password has more than {_MAX_PASSWORD_LENGTH} characters", hint="choose a shorter one")
    if len(set(plain)) < _MIN_DIFFERENT or plain.casefold().replace(name.casefold(), "").strip() == "":
        raise InputError("the password is one that is tried first", hint="choose words that do not belong together")
    return plain


def add_account(
    store: AccountStore, hasher: PasswordHasher, name: str, role: Role, password: str, *, by: str, now: datetime
) -> Account:
    """Add an account.

    Raises
    ------
    InputError
        Name or password will not do.
    ConflictError
        The name is taken.
    """
    if not _NAME.match(name) or name.casefold() in _TAKEN_NAMES:
        raise InputError(
            f"{name[:40]!r} cannot be an account's name",
            hint="a bench code of at most 32 letters, digits, spaces, dots or dashes, such as technician-1; never the "
            "name of a person",
        )
    return store.add(name, role, hasher.hash(check_password(password, name=name)), by=by, now=now)


def change_password(
    store: AccountStore, hasher: PasswordHasher, name: str, password: str, *, by: str, now: datetime
) -> Account:
    """Give an account another password; whoever is signed in with it signs in again."""
    account = _require(store, name)
    hashed = hasher.hash(check_password(password, name=account.name))
    return store.change(account, Deed.PASSWORD, by=by, now=now, password_hash=hashed)


def change_role(store: AccountStore, name: str, role: Role, *, by: str, now: datetime) -> Account:
    """Give an account another role; the last dentist stays one."""
    account = _require(store, name)
    if account.role is role:
        return account
    return store.change(replace(account, role=role), Deed.ROLE, by=by, now=now, require=require_dentist)


def set_disabled(store: AccountStore, name: str, *, disabled: bool, by: str, now: datetime) -> Account:
    """Lock an account out, or let it in again; the last dentist is never locked out."""
    account = _require(store, name)
    if account.is_disabled is disabled:
        return account
    deed = Deed.DISABLED if disabled else Deed.ENABLED
    return store.change(
        replace(account, is_disabled=disabled), deed, by=by, now=now, require=require_dentist if disabled else None
    )


def require_dentist(accounts: Sequence[Account]) -> None:
    """Raise `ConflictError` where no dentist would be left who can sign in."""
    if not any(account.role is Role.DENTIST and not account.is_disabled for account in accounts):
        raise ConflictError(
            "no dentist would be left who can sign in", hint="add or enable another dentist first; nothing was changed"
        )


def check_sign_in(store: AccountStore, hasher: PasswordHasher, name: str, password: str) -> Account | None:
    """Return the account that name and password open; None otherwise, after the same work whatever is wrong."""
    account = store.find(name)
    stored = store.password_hash(account.name) if account is not None else None
    fits = hasher.fits(stored, normalize_password(password))
    return account if fits and account is not None and not account.is_disabled else None


def _require(store: AccountStore, name: str) -> Account:
    account = store.find(name)
    if account is None:
        raise InputError(f"there is no account {name[:40]!r}", hint="`seatwright users list` shows those there are")
    return account
