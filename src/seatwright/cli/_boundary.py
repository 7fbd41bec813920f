"""The one place where errors become exit codes and a JSON shape."""

import json
import sys
from collections.abc import Callable

import typer

from seatwright.errors import Fault, SeatwrightError

__all__ = ["EXIT_BUG", "EXIT_INTERRUPTED", "EXIT_NOT_CONFORMING", "EXIT_USAGE", "error_shape", "run_guarded"]

EXIT_USAGE = 2
EXIT_NOT_CONFORMING = 10
EXIT_BUG = 70
EXIT_INTERRUPTED = 130

# The command-line library shows only leaves of its error tree; its root is the first ancestor of this name.
_UsageError: type[Exception] = next(
    kind for kind in typer.BadParameter.__mro__ if issubclass(kind, Exception) and kind.__name__ == "ClickException"
)


def error_shape(code: str, message: str, hint: str = "", details: dict[str, object] | None = None) -> dict[str, object]:
    """Return the one JSON shape of every error."""
    return {"error": {"code": code, "message": message, "hint": hint, "details": details or {}}}


def run_guarded(command: Callable[[], int], *, as_json: bool) -> int:
    """Run a command and return its exit code; every failure is told once, in words or as JSON."""
    try:
        return command()
    except SeatwrightError as error:
        _tell(error.code, error.message, error.hint, as_json=as_json, details=error.details, faults=error.faults)
        return error.exit_code
    except _UsageError as error:
        shown = str(error) or "what would you like to do?"
        _tell("usage", shown, "see: seatwright --help", as_json=as_json)
        return EXIT_USAGE
    except (typer.Abort, KeyboardInterrupt):
        _tell("cancelled", "stopped as asked", "nothing was written", as_json=as_json)
        return EXIT_INTERRUPTED
    except Exception as error:  # the boundary: anything else is a bug of ours
        message = f"a bug of ours: {type(error).__name__}: {error}"
        _tell("bug", message, "please report it with the command and the case folder", as_json=as_json)
        if not as_json:
            sys.excepthook(type(error), error, error.__traceback__)
        return EXIT_BUG


def _tell(
    code: str,
    message: str,
    hint: str,
    *,
    as_json: bool,
    details: dict[str, object] | None = None,
    faults: tuple[Fault, ...] = (),
) -> None:
    if as_json:
        known = dict(details or {})
        if faults:
            known["faults"] = [{"where": f.where, "what": f.what, "hint": f.hint} for f in faults]
        sys.stdout.write(json.dumps(error_shape(code, message, hint, known), ensure_ascii=False) + "\n")
        return
    lines = [f"seatwright: {message}"]
    lines += [f"  {f.where}: {f.what}" + (f"\n      -> {f.hint}" if f.hint else "") for f in faults]
    if hint:
        lines.append(f"  -> {hint}")
    sys.stderr.write("\n".join(lines) + "\n")
