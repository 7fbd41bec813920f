"""The commands of ``seatwright users``. Imports nothing heavy: every command loads what it needs when it runs."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["users_app"]

users_app = typer.Typer(
    help="Accounts for a page that other machines reach: who may sign in, and as what. Passwords are never arguments.",
    rich_markup_mode=None,
    no_args_is_help=True,
)

RecordPath = Annotated[
    Path, typer.Option("--record", metavar="DIR", envvar="SEATWRIGHT_RECORD", help="Folder of the record.")
]
By = Annotated[
    str, typer.Option("--by", metavar="WHO", envvar="SEATWRIGHT_BY", help="Who does it, by role or bench code.")
]
Name = Annotated[str, typer.Argument(metavar="NAME", help="A bench code such as technician-1; never a person's name.")]
RoleName = Annotated[str, typer.Option("--role", metavar="ROLE", help="dentist, technician or reader.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object on stdout and nothing else.")]
_HERE = Path("practice")


@users_app.command("add")
def add(name: Name, role: RoleName, by: By, record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Add an account; its password is asked twice at the terminal, or read from one line of standard input."""
    from seatwright.cli import _users

    return _users.run_add(record, name, role=role, by=by, as_json=as_json)


@users_app.command("list")
def list_(record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """List the accounts with their roles."""
    from seatwright.cli import _users

    return _users.run_list(record, as_json=as_json)


@users_app.command("password")
def password(name: Name, by: By, record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Give an account another password; whoever is signed in with it signs in again."""
    from seatwright.cli import _users

    return _users.run_password(record, name, by=by, as_json=as_json)


@users_app.command("role")
def role(
    name: Name,
    role_name: Annotated[str, typer.Argument(metavar="ROLE", help="dentist, technician or reader.")],
    by: By,
    record: RecordPath = _HERE,
    as_json: AsJson = False,
) -> int:
    """Give an account another role; the last dentist stays one."""
    from seatwright.cli import _users

    return _users.run_role(record, name, role=role_name, by=by, as_json=as_json)


@users_app.command("disable")
def disable(name: Name, by: By, record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Lock an account out at once; the last dentist never is."""
    from seatwright.cli import _users

    return _users.run_disabled(record, name, disabled=True, by=by, as_json=as_json)


@users_app.command("enable")
def enable(name: Name, by: By, record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Let an account in again."""
    from seatwright.cli import _users

    return _users.run_disabled(record, name, disabled=False, by=by, as_json=as_json)


@users_app.command("history")
def history(
    record: RecordPath = _HERE,
    limit: Annotated[int, typer.Option("--limit", min=1, max=10_000, help="How many entries, the newest first.")] = 50,
    as_json: AsJson = False,
) -> int:
    """Tell who signed in or out, what was refused, and what was done to accounts."""
    from seatwright.cli import _users

    return _users.run_history(record, limit=limit, as_json=as_json)
