"""The path of insertion: undercuts along it, and what the bench needs to work to it."""

from seatwright.survey._path import InsertionPath, make_path

__all__ = ["InsertionPath", "make_path"]
