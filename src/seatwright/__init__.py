"""Seatwright: one case from the pick-up impression to the seated removable partial."""

__version__ = "0.1.0"
__all__ = ["__version__"]
