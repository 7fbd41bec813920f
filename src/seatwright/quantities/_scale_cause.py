"""One named cause of a change of scale, as the forecast expects it and the cast check weighs it."""

from dataclasses import dataclass

from seatwright.quantities._measured import Measured

__all__ = ["ScaleCause"]


@dataclass(frozen=True, slots=True)
class ScaleCause:
    """One cause of a change of scale: what changes, by how much (percent), and the evidence behind it."""

    what: str
    percent: Measured
    evidence: tuple[str, ...]
