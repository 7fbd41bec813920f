"""What the removable partial takes hold of: rests, clasps and guide planes, as planned.

Bounds of numbers keep out slips of the unit: judgement, wider than any real partial.
"""

from pydantic import Field

from seatwright.case._terms import ClaspAlloy, ClaspApproach, ClaspForm, RestKind, Surface
from seatwright.case._units import Document, Label, Tooth, Vector

__all__ = ["Clasp", "GuidePlane", "ReliefArea", "Rest"]


class Rest(Document):
    """A rest of the framework in its seat, on a fixed unit or a natural tooth."""

    id: Label
    tooth: Tooth
    kind: RestKind
    surface: Surface
    """Side on which the seat lies: mesial or distal for an occlusal rest."""
    at_mm: Vector | None = None
    """Middle of the seat's floor, reference frame; required when scans are given."""
    gap_allowed_um: float | None = Field(default=None, gt=0, le=2000)
    """Largest gap under the rest that this case still calls seated; a published limit is used and named when absent."""


class Clasp(Document):
    """A retentive arm and where its tip shall hold."""

    id: Label
    tooth: Tooth
    surface: Surface
    """Side on which the tip lies."""
    approach: ClaspApproach
    form: ClaspForm
    alloy: ClaspAlloy
    tip_mm: Vector | None = None
    """Where the tip touches the crown, reference frame; required when scans are given."""
    wanted_undercut_mm: float | None = Field(default=None, gt=0, le=1.5)
    """Depth that the tip shall engage; the table's depth for its form and alloy is used and named when absent."""
    arm_mm: float | None = Field(default=None, ge=2, le=40)
    """Length of the flexible arm along its curve."""


class GuidePlane(Document):
    """A surface parallel to the path, along which the partial slides in."""

    id: Label
    tooth: Tooth
    surface: Surface
    at_mm: Vector | None = None
    """Middle of the plane, reference frame; required when scans are given."""
    outward: Vector | None = None
    """Unit normal pointing out of the crown, reference frame; read off the scan when absent."""
    height_mm: float = Field(gt=0, le=10)
    """Height over which the partial touches it, along the path."""


class ReliefArea(Document):
    """A pad of wax laid on the cast before duplication: over a ridge, a bar, a gingival margin."""

    id: Label
    gauge: int = Field(ge=0, le=40)
    """Wire gauge of the sheet; 24 to 30 are usual."""
    reach_mm: float = Field(gt=0, le=30)
    """How far the pad reaches on each side of its line."""
    line_mm: tuple[Vector, ...] = Field(min_length=1, max_length=60)
    """Places along its middle, reference frame; one makes a round pad."""
