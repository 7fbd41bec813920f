"""What ``seatwright users ...`` does: open the record, call one workflow, print."""

import getpass
import sys
from pathlib import Path

from seatwright import record_wiring, wiring
from seatwright.cli import _show
from seatwright.errors import InputError
from seatwright.workflows.accounts import Account, AccountStore, add_account, change_password, change_role, set_disabled
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.rights import Role

__all__ = ["run_add", "run_disabled", "run_history", "run_list", "run_password", "run_role"]

_MAX_LINE = 10_000  # judgement: a longer line is no password but a mistake


def run_add(folder: Path, name: str, *, role: str, by: str, as_json: bool) -> int:
    """Run `seatwright users add`."""
    store, wanted = _open(folder), _role(role)
    hasher, now = record_wiring.password_hasher(), wiring.SystemClock().now()
    return _told(add_account(store, hasher, name, wanted, _ask_password(name), by=by, now=now), "added", as_json)


def run_list(folder: Path, *, as_json: bool) -> int:
    """Run `seatwright users list`."""
    accounts = _open(folder).list_accounts()
    if as_json:
        _show.print_json(make_envelope("users-list", inputs=(), result=[_plain(a) for a in accounts], findings=()))
        return 0
    if not accounts:
        _show.say("No account yet: `seatwright users add NAME --role dentist` makes the first.")
    for account in accounts:
        state = "  disabled" if account.is_disabled else ""
        _show.say(f"{account.name:<32} {account.role.value:<10} since {account.created_at:%Y-%m-%d}{state}")
    return 0


def run_password(folder: Path, name: str, *, by: str, as_json: bool) -> int:
    """Run `seatwright users password`."""
    store, hasher = _open(folder), record_wiring.password_hasher()
    account = change_password(store, hasher, name, _ask_password(name), by=by, now=wiring.SystemClock().now())
    return _told(account, "has another password; whoever was signed in with it signs in again", as_json)


def run_role(folder: Path, name: str, *, role: str, by: str, as_json: bool) -> int:
    """Run `seatwright users role`."""
    account = change_role(_open(folder), name, _role(role), by=by, now=wiring.SystemClock().now())
    return _told(account, f"is a {account.role.value} now", as_json)


def run_disabled(folder: Path, name: str, *, disabled: bool, by: str, as_json: bool) -> int:
    """Run `seatwright users disable` and `enable`."""
    account = set_disabled(_open(folder), name, disabled=disabled, by=by, now=wiring.SystemClock().now())
    return _told(account, "is locked out" if disabled else "may sign in", as_json)


def run_history(folder: Path, *, limit: int, as_json: bool) -> int:
    """Run `seatwright users history`."""
    rows = _open(folder).history(limit=limit)
    if as_json:
        _show.print_json(make_envelope("users-history", inputs=(), result=rows, findings=()))
        return 0
    for row in rows:
        whom = row.account or "(no such account)"
        said = f"  {row.said}" if row.said else ""
        _show.say(f"{row.at:%Y-%m-%d %H:%M:%S}Z  {row.what.replace('_', ' '):<10} {whom:<24} by {row.by}{said}")
    return 0


def _open(folder: Path) -> AccountStore:
    return record_wiring.accounts_of_record(wiring.open_record(folder))


def _role(text: str) -> Role:
    try:
        return Role(text)
    except ValueError as error:
        known = ", ".join(role.value for role in Role)
        raise InputError(f"{text[:40]!r} is no role", hint=f"one of {known}") from error


def _ask_password(name: str) -> str:
    """Return a new password: typed twice at a terminal without showing it, or one line of standard input."""
    if not sys.stdin.isatty():
        line = sys.stdin.readline(_MAX_LINE)
        if not line:
            raise InputError("no password came on standard input", hint="send it as one line, or run at a terminal")
        return line.rstrip("\r\n")
    first = getpass.getpass(f"Password for {name} (at least 12 characters): ")
    if getpass.getpass("The same again: ") != first:
        raise InputError("the two passwords differ", hint="try again; nothing was written")
    return first


def _plain(account: Account) -> dict[str, object]:
    return {
        "name": account.name,
        "role": account.role.value,
        "disabled": account.is_disabled,
        "created_at": account.created_at.isoformat(),
        "changed_at": account.changed_at.isoformat(),
    }


def _told(account: Account, what: str, as_json: bool) -> int:
    if as_json:
        _show.print_json(make_envelope("users", inputs=(), result=_plain(account), findings=()))
    else:
        _show.say(f"{account.name} ({account.role.value}) {what}.")
    return 0
