"""What is planned in the mouth: teeth, units, joins, attachments, bars.

Bounds of numbers keep out slips of the unit and what would overflow: judgement, wider than any real bench.
"""

from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, AwareDatetime, BaseModel, BeforeValidator, ConfigDict, Field

from seatwright.case._notation import PERMANENT_TEETH
from seatwright.case._terms import (
    AttachmentKind,
    Body,
    CoreKind,
    Intaglio,
    InternalFeatureKind,
    JoinKind,
    MaleJoin,
    MarginKind,
    Motion,
    Surface,
    UnitKind,
    Veneer,
)

__all__ = [
    "ArchTeeth",
    "Attachment",
    "Bar",
    "Document",
    "InternalFeature",
    "Join",
    "Label",
    "Margin",
    "Margins",
    "Moment",
    "Note",
    "Teeth",
    "Text",
    "Tooth",
    "Unit",
    "Vector",
]


_FIRST_YEAR, _LAST_YEAR = 1990, 2199  # judgement: no case in use is older or newer; times stay computable


def _require_permanent(number: int) -> int:
    if number not in PERMANENT_TEETH:
        raise ValueError(f"there is no permanent tooth {number}")
    return number


def _read_time(value: object) -> object:
    """Read ISO 8601 text here, so that numbers and digits alone are never taken for seconds since 1970."""
    if isinstance(value, datetime):
        return value
    if not isinstance(value, str):
        raise ValueError(f"needs a time, not {str(value)[:40]}")  # judgement: enough to recognize it by
    try:
        return datetime.fromisoformat(value.strip())
    except ValueError as error:
        raise ValueError(f"{value[:40]!r} is not a time as ISO 8601 writes it") from error


def _to_utc(moment: datetime) -> datetime:
    if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
        raise ValueError(f"{moment.year} lies outside the years {_FIRST_YEAR} to {_LAST_YEAR}")
    return moment.astimezone(UTC)


Tooth = Annotated[
    int,
    AfterValidator(_require_permanent),
    Field(
        description="Tooth number, ISO 3950 two-digit, permanent dentition",
        json_schema_extra={"enum": sorted(PERMANENT_TEETH)},
    ),
]
Moment = Annotated[
    AwareDatetime,
    BeforeValidator(_read_time),
    AfterValidator(_to_utc),
    Field(description="Date and time with its offset from UTC, ISO 8601; kept as UTC"),
]
Label = Annotated[
    str,
    Field(
        description="Short name on one line, without spaces at its ends",
        min_length=1,
        max_length=64,
        pattern=r"^[^\s](?:.{0,62}[^\s])?$",
    ),
]
Note = Annotated[str, Field(max_length=64, pattern=r"^.*$", description="At most one line; may be empty")]
Text = Annotated[str, Field(max_length=2000)]
ArchTeeth = Annotated[tuple[Tooth, ...], Field(max_length=16)]
# judgement: no frame of a scan lies ten meters off; keeps squares of coordinates finite
_Coordinate = Annotated[float, Field(ge=-10_000, le=10_000)]
Vector = Annotated[
    tuple[_Coordinate, _Coordinate, _Coordinate], Field(description="x, y, z in the reference scan's frame")
]


class Document(BaseModel):
    """Base of everything that stands in a case file: frozen, no unknown fields, no infinities."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Teeth(Document):
    """State of every position of the arch; each of the sixteen stands in exactly one list."""

    present: tuple[Tooth, ...]
    """Natural teeth or roots that stay, crowned or not."""
    implants: tuple[Tooth, ...] = ()
    missing_fixed: tuple[Tooth, ...] = ()
    """Missing, replaced by a pontic of a fixed bridge."""
    missing_partial: tuple[Tooth, ...] = ()
    """Missing, replaced by the removable partial."""
    missing_not_replaced: tuple[Tooth, ...] = ()
    third_molar_abutments: tuple[Tooth, ...] = ()
    """Third molars, present, that will carry the partial (Applegate's rule 3)."""
    third_molars_not_abutments: tuple[Tooth, ...] = ()
    """Third molars, present, that will not; one of the two lists must name each that borders a space."""


class Margin(Document):
    """The crown's edge at one surface."""

    kind: MarginKind
    thickness_mm: float = Field(gt=0, le=3)
    subgingival_mm: float = Field(default=0.0, ge=-3, le=5)
    """Depth below the gingival crest; negative when above it."""


class Margins(Document):
    """The four edges; none is optional, since the worst one rules."""

    facial: Margin
    mesial: Margin
    lingual: Margin
    distal: Margin

    def by_surface(self) -> dict[Surface, Margin]:
        """Return the four margins keyed by surface."""
        return {surface: getattr(self, surface.value) for surface in Surface}


class InternalFeature(Document):
    """A groove, box, pinhole or undercut inside the crown."""

    kind: InternalFeatureKind
    blocked_out: bool


class Unit(Document):
    """One fixed unit."""

    tooth: Tooth
    kind: UnitKind
    body: Body
    veneer: Veneer = Veneer.NONE
    margin: Margins | None = None
    """Required for every unit but a pontic or a screw-retained implant crown."""
    margin_center_mm: Vector | None = None
    """Middle of the ring that the crown's edge makes, reference frame; the cast check judges the unit there too."""
    neck_mm: float | None = Field(default=None, ge=0.5, le=15)
    """Smallest diameter of the die at its neck; required where there is a die."""
    wall_taper_deg: float | None = Field(default=None, ge=0, le=15)
    """Angle of a primary crown's outer wall to its axis; required for telescope and conus."""
    intaglio: Intaglio = Intaglio.CLEAN
    internal_features: tuple[InternalFeature, ...] = ()
    core: CoreKind = CoreKind.TOOTH
    core_cemented: bool = True
    abutment_screw_plugged: bool | None = None
    """For a crown on an implant abutment: screw channel closed before any die is made."""


class Join(Document):
    """Units that are one rigid body."""

    id: Label
    kind: JoinKind
    units: tuple[Tooth, ...] = Field(min_length=2)


class Attachment(Document):
    """What ties the partial to a unit or a bar."""

    id: Label
    kind: AttachmentKind
    tooth: Tooth | None = None
    bar: Label | None = None
    surface: Surface | None = None
    motion: Motion
    male_joined: MaleJoin
    withdraw_direction: Vector | None = None
    """Way the male leaves, a unit vector; required for rigid attachments when scans are given."""
    at_mm: Vector | None = None
    """Center of the attachment's opening, reference frame."""
    length_mm: float | None = Field(default=None, ge=0.1, le=15)
    """Guided length, for slides."""
    clearance_um: float | None = Field(default=None, ge=0, le=500)
    clearance_is: Literal["total", "per_side"] | None = None


class Bar(Document):
    """A bar between two units."""

    id: Label
    from_tooth: Tooth
    to_tooth: Tooth
    length_mm: float = Field(ge=1, le=80)
    ridge_gap_mm: float = Field(ge=0, le=10)
    stops: int = Field(default=2, ge=0, le=20)
    """Planned resin stops under the bar."""
