"""Write the table of errors and exit codes from the error tree and the command boundary."""

from seatwright import errors
from seatwright.cli import _boundary


def pages() -> dict[str, str]:
    """Return the page of error codes."""
    kinds = [getattr(errors, name) for name in errors.__all__ if name not in {"Fault", "SeatwrightError"}]
    rows = [
        f"| `{k.__name__}` | `{k.code}` | {k.exit_code} | {(k.__doc__ or '').strip().splitlines()[0]} |" for k in kinds
    ]
    text = f"""# Errors and exit codes

Every error has one shape. With `--json` it stands on stdout as
`{{"error": {{"code", "message", "hint", "details"}}}}`;
`details.faults` lists every fault found, each with `where`, `what` and `hint`.

| error | code | exit | what it means |
| --- | --- | --- | --- |
{chr(10).join(sorted(rows))}

Further exit codes: 0 computed; {_boundary.EXIT_USAGE} also for a wrong command line (`usage`);
{_boundary.EXIT_NOT_CONFORMING} with `--strict` when a verdict does not conform or something must stop;
{_boundary.EXIT_BUG} a bug of ours (`bug`).

An expected negative answer (a window missed, a die moved, no die possible) is a result with findings and exit code 0.
"""
    return {"errors.md": text}


def _first_line(kind: type[errors.SeatwrightError]) -> str:
    return (kind.__doc__ or "").strip().splitlines()[0]
