"""What carries the case to the bench: impressions, pours, returned dies, scans, regions, tolerances.

Bounds of numbers keep out slips of the unit and what would overflow: judgement, wider than any real bench.
"""

from pydantic import Field

from seatwright.case._terms import (
    Arch,
    ImpressionMaterial,
    ImpressionRole,
    LengthUnit,
    Route,
    ScanOf,
    ScanRole,
    Seating,
    Stone,
    Tray,
)
from seatwright.case._units import ArchTeeth, Document, Label, Note, Text, Tooth, Vector

__all__ = ["HandReadings", "Impression", "MakerWindow", "PourPlan", "Region", "ReturnedDie", "Scan", "Tolerance"]


class MakerWindow(Document):
    """The maker's own figures for this impression material; they prevail over the tool's tables."""

    pour_from_min: float | None = Field(default=None, ge=0, le=20_160)
    pour_within_min: float | None = Field(default=None, ge=1, le=20_160)
    disinfect_min: float | None = Field(default=None, ge=0, le=1440)
    separate_after_min: float | None = Field(default=None, ge=1, le=10_080)
    linear_change_percent: float | None = Field(default=None, ge=-10, le=10)
    """Change of the impression at the end of the maker's window; positive when the cast comes out larger."""


class PourPlan(Document):
    """How the impression will be poured."""

    stone: Stone
    water_powder: float | None = Field(default=None, gt=0.1, le=0.6)
    """The maker's water/powder ratio, g/g; the tool's table is used and named when absent."""
    base_stone: Stone | None = None
    base_height_mm: float = Field(default=15.0, ge=1, le=40)
    """Height of the base under the deepest sulcus."""
    cast_volume_ml: float | None = Field(default=None, ge=5, le=500)
    """Measured volume, when somebody did measure it."""
    sachet_g: float | None = Field(default=None, ge=1, le=5000)
    """Mass of the maker's pre-weighed powder sachet."""
    used_after_h: float = Field(default=24.0, ge=0.1, le=10_000)
    """When the cast will be used for the framework, hours after the mix."""


class Impression(Document):
    """One impression, planned."""

    id: Label
    role: ImpressionRole
    arch: Arch
    material: ImpressionMaterial
    tray: Tray
    adhesive: bool
    route: Route | None = None
    """Required for a pick-up."""
    lifts: tuple[Tooth, ...] = ()
    """Units that must come out in it."""
    replaces: Label | None = None
    """Earlier impression that this one retakes; the earlier one no longer counts."""
    maker: MakerWindow = MakerWindow()
    pour: PourPlan


class ReturnedDie(Document):
    """A die that the laboratory sent back with the crown."""

    id: Label
    tooth: Tooth
    """Unit it was sent for."""
    engraved: Note
    """Number as it stands on the die, ISO 3950; empty when it carries none."""
    fit_gap_um: float | None = Field(default=None, ge=0, le=5000)
    """Largest gap all round at trial; None when nobody measured it."""
    seating: Seating | None = None
    short_by_mm: float = Field(default=0.0, ge=0, le=20)
    current_preparation: bool
    over_ditched: bool
    keyed_root: bool


class Scan(Document):
    """One surface file."""

    id: Label
    role: ScanRole
    of: ScanOf
    arch: Arch
    file: str = Field(min_length=1)
    """Path inside the case folder."""
    length_unit: LengthUnit
    repeatability_um: float = Field(ge=0.1, le=500)
    """Declared standard deviation of a unit's place between repeat scans."""
    length_error_um_per_mm: float | None = Field(default=None, ge=0, le=5)
    """Most by which the scanner may be wrong over a distance, per mm of it (the L/K of a data sheet's A + L/K)."""
    impression: Label | None = None
    """Impression that the scanned cast was poured into; required for a poured scan."""
    repeat_of: Label | None = None
    """Earlier scan of the same cast, nothing done to it in between: both count as one check, by repeat scans."""
    reseated: ArchTeeth = ()
    """Units whose crowns were off their dies or abutments and put back between the reference scan and this one."""
    reseat_um: float | None = Field(default=None, ge=0, le=500)
    """Standard uncertainty along any axis of where such a crown came to rest; the tool's figure is used when absent."""


class Region(Document):
    """Where a unit is on the reference scan."""

    tooth: Tooth
    seed_mm: Vector | None = None
    radius_mm: float | None = Field(default=None, ge=0.1, le=20)
    mesh: str | None = None
    """Surface file of the unit alone, in the reference's frame, instead of seed and radius."""


class HandReadings(Document):
    """Readings without a scanner: distances by caliper, gaps of an index by foil; at least one of the two."""

    distances: str | None = Field(default=None, min_length=1)
    """CSV file inside the case folder: distances between marks in the mouth and on the cast."""
    gaps: str | None = Field(default=None, min_length=1)
    """CSV file inside the case folder: gaps of an index fixed at one end after the other."""
    u_distance_um: float = Field(default=0.0, ge=0, le=500)
    """Standard uncertainty of a distance that repeated readings do not show."""
    u_foil_um: float = Field(default=5.0, gt=0, le=200)
    """Standard uncertainty of what a foil says."""
    reseat_um: float = Field(default=0.0, ge=0, le=500)
    """Scatter per axis where crowns were lifted and seated again between the readings."""
    stable: tuple[Label, ...] = ()
    """Marks that cannot have moved, by the person's word."""


class Tolerance(Document):
    """What the case asks of its cast."""

    unit_shift_um: float = Field(ge=1, le=1000)
    reason: Text = Field(min_length=1)
    """Who set it and why; no published limit exists."""
