"""Write the command reference from the commands' own help."""

import contextlib
import io
import os

from typer import Typer

from seatwright.cli import main
from seatwright.cli._record_app import record_app
from seatwright.cli._users_app import users_app

COMMANDS = (
    "demo",
    "dossier",
    "dies",
    "pour",
    "cast",
    "caliper",
    "timetable",
    "today",
    "forecast",
    "evidence",
    "record",
    "users",
    "serve",
)


def _help(*arguments: str) -> str:
    os.environ.update({"COLUMNS": "100", "TERMINAL_WIDTH": "100", "NO_COLOR": "1"})
    shown = io.StringIO()
    with contextlib.redirect_stdout(shown), contextlib.suppress(SystemExit):
        main([*arguments, "--help"])
    return "\n".join(line.rstrip() for line in shown.getvalue().strip().splitlines())


def _commands_of(table: Typer) -> list[str]:
    return [command.name or "" for command in table.registered_commands]


def pages() -> dict[str, str]:
    """Return the page of commands."""
    parts = [f"# Commands\n\n```\n{_help()}\n```\n"]
    parts += [f"## seatwright {name}\n\n```\n{_help(name)}\n```\n" for name in COMMANDS]
    for group, table in (("record", record_app), ("users", users_app)):
        parts += [f"### seatwright {group} {name}\n\n```\n{_help(group, name)}\n```\n" for name in _commands_of(table)]
    return {"commands.md": "\n".join(parts)}
