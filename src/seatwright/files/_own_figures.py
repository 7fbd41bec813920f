"""Figures that replace the published ones, from a TOML file."""

import hashlib
from pathlib import Path

from seatwright.errors import CaseError, InputError
from seatwright.files.documents import read_table
from seatwright.forecast import OwnFigures, parse_own_figures
from seatwright.workflows.ports import InputFile

__all__ = ["read_own_figures"]


def read_own_figures(path: Path, *, name: str = "--evidence") -> tuple[OwnFigures, InputFile]:
    """Read the case's, a maker's or the practice's own figures.

    Raises
    ------
    InputError
        If the file cannot be read, or with every fault in it.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read ({error.strerror or error})", hint="check the path") from error
    table, faults = read_table(data, path.name)
    if table is None:
        raise CaseError(f"{faults[0].where}: {faults[0].what}", hint=faults[0].hint, faults=faults)
    file = InputFile(name, hashlib.sha256(data).hexdigest(), len(data))
    return parse_own_figures(table, file=path.name), file
