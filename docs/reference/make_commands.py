"""Write the command reference from the commands' own help."""

import contextlib
import io
import os

from seatwright.cli import main
from seatwright.cli._record_app import record_app

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
)


def _help(*arguments: str) -> str:
    os.environ.update({"COLUMNS": "100", "TERMINAL_WIDTH": "100", "NO_COLOR": "1"})
    shown = io.StringIO()
    with contextlib.redirect_stdout(shown), contextlib.suppress(SystemExit):
        main([*arguments, "--help"])
    return "\n".join(line.rstrip() for line in shown.getvalue().strip().splitlines())


def _record_commands() -> list[str]:
    return [command.name or "" for command in record_app.registered_commands]


def pages() -> dict[str, str]:
    """Return the page of commands."""
    parts = [f"# Commands\n\n```\n{_help()}\n```\n"]
    parts += [f"## seatwright {name}\n\n```\n{_help(name)}\n```\n" for name in COMMANDS]
    parts += [f"### seatwright record {name}\n\n```\n{_help('record', name)}\n```\n" for name in _record_commands()]
    return {"commands.md": "\n".join(parts)}
