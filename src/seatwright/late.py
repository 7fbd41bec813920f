"""Rooms that open late: a module of theirs is read when one of its names is first asked for, not with all the others.

A room that holds both light and heavy modules imports its public names under ``TYPE_CHECKING``, for whoever reads,
checks or draws the imports, and gives them out through the ``__getattr__`` made here (PEP 562). So who asks a room for
the names of bands does not wait for its pictures. The first page of a practice lives on it: a test says what it reads.
"""

import ast
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

__all__ = ["open_late", "read_late_names"]


def open_late(room: str, file: str) -> Callable[[str], object]:
    """Return the ``__getattr__`` of a room: give it the room's ``__name__`` and ``__file__``.

    Examples
    --------
    >>> import seatwright.arch
    >>> give = open_late("seatwright.arch", seatwright.arch.__file__)
    >>> give("nominal_layout").__module__
    'seatwright.arch._layout'
    """
    modules = read_late_names(Path(file).read_text(encoding="utf-8"))

    def give(name: str) -> object:
        if name not in modules:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        value = getattr(import_module(modules[name]), name)
        setattr(sys.modules[room], name, value)  # the next one finds it there
        return value

    return give


def read_late_names(text: str) -> dict[str, str]:
    r"""Return which module each name comes from that a room's text imports under ``TYPE_CHECKING``.

    Examples
    --------
    >>> read_late_names("if TYPE_CHECKING:\n    from room._plan import draw_plan, Plan")
    {'draw_plan': 'room._plan', 'Plan': 'room._plan'}
    """
    blocks = [node for node in ast.parse(text).body if isinstance(node, ast.If)]
    late = [node for block in blocks for node in block.body if isinstance(node, ast.ImportFrom)]
    return {alias.name: node.module for node in late if node.module is not None for alias in node.names}
