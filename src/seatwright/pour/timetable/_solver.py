"""The constraint solver, read without the data frames that it could be given too: they take twice its own time to read.

Its library imports pandas for the types of arguments that are never passed here. While it is read two empty types stand
in for those, where pandas is not there already. Nobody else sees them: whoever imports pandas later gets pandas.
"""

import sys
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

__all__ = ["cp_model"]


def _read_without_frames() -> ModuleType:
    stand_in = ModuleType("pandas")
    vars(stand_in).update(Series=type("Series", (), {}), Index=type("Index", (), {}))
    is_ours = sys.modules.setdefault("pandas", stand_in) is stand_in
    try:
        from ortools.sat.python import cp_model as read  # noqa: PLC0415 - while they stand in
    finally:
        if is_ours:
            del sys.modules["pandas"]
    module: ModuleType = read
    return module


if not TYPE_CHECKING:
    cp_model = _read_without_frames()
