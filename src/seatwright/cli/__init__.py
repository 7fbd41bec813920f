"""The command line: parse, call a workflow, format. No calculation."""

from seatwright.cli._app import main

__all__ = ["main"]
