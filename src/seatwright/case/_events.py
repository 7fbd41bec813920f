"""What happened: one line of ``log.jsonl`` each, append-only. State is the fold of them (`_state`).

Bounds of numbers keep out slips of the unit and what would overflow: judgement, wider than any real bench.
"""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from seatwright.case._outcome_terms import MaterialRole, Outcome
from seatwright.case._terms import Seating, Stone, Storage
from seatwright.case._units import ArchTeeth, Document, Label, Moment, Note, Text, Tooth

__all__ = [
    "Corrected",
    "CrownsCounted",
    "CrownsDried",
    "Decided",
    "DieTried",
    "Disinfected",
    "Event",
    "ImpressionOut",
    "MaterialUsed",
    "MeasuredOnce",
    "OutcomeSeen",
    "PhotoTaken",
    "Poured",
    "Rinsed",
    "Separated",
    "SignedOff",
    "StepFinished",
    "StepStarted",
    "StorageChanged",
    "Temperature",
    "event_adapter",
    "write_event",
]


class _Happened(Document):
    seq: int = Field(ge=1, le=2**53)
    """Consecutive from 1; a gap means that a line was lost."""
    at: Moment
    by: Label
    """Who, by role or bench code."""


class ImpressionOut(_Happened):
    """The impression left the mouth; its clock starts, in open air."""

    what: Literal["impression_out"] = "impression_out"
    impression: Label


class Rinsed(_Happened):
    """Rinsed under cool water and shaken."""

    what: Literal["rinsed"] = "rinsed"
    impression: Label


class Disinfected(_Happened):
    """Disinfected; `at` is when contact ended."""

    what: Literal["disinfected"] = "disinfected"
    impression: Label
    method: Literal["spray", "immersion"]
    contact_min: float = Field(ge=0, le=1440)
    bagged: bool
    """Kept in a closed bag during contact; counts as humid storage."""


class StorageChanged(_Happened):
    """From now on the impression is kept this way."""

    what: Literal["storage_changed"] = "storage_changed"
    impression: Label
    storage: Storage


class Temperature(_Happened):
    """The impression saw this temperature."""

    what: Literal["temperature"] = "temperature"
    impression: Label
    temperature_c: float = Field(ge=-60, le=200)


class CrownsCounted(_Happened):
    """Crowns seated before the impression against crowns found in it."""

    what: Literal["crowns_counted"] = "crowns_counted"
    impression: Label
    seated: ArchTeeth
    in_tray: ArchTeeth
    loose: ArchTeeth = ()
    """In the tray, but not firmly in its place."""
    left_on_tooth: ArchTeeth = ()
    cores_in_crown: ArchTeeth = ()
    """Posts and cores that came out inside their crown."""


class CrownsDried(_Happened):
    """Inside of these crowns dried with pellets."""

    what: Literal["crowns_dried"] = "crowns_dried"
    impression: Label
    units: ArchTeeth


class DieTried(_Happened):
    """A returned die was tried in a crown."""

    what: Literal["die_tried"] = "die_tried"
    die: Label
    tooth: Tooth
    seating: Seating
    gap_um: float = Field(ge=0, le=5000)
    short_by_mm: float = Field(default=0.0, ge=0, le=20)


class StepStarted(_Happened):
    """Somebody began a step on these units."""

    what: Literal["step_started"] = "step_started"
    impression: Label | None = None
    step: Label
    units: ArchTeeth = ()


class StepFinished(_Happened):
    """The step is done on these units."""

    what: Literal["step_finished"] = "step_finished"
    impression: Label | None = None
    step: Label
    units: ArchTeeth = ()


class Poured(_Happened):
    """Stone went in; `at` is when the last of it did. A second one before separation is the base."""

    what: Literal["poured"] = "poured"
    impression: Label
    stone: Stone
    powder_g: float | None = Field(default=None, ge=1, le=10_000)
    water_ml: float | None = Field(default=None, ge=0.1, le=5000)
    lot: Note = ""


class Separated(_Happened):
    """Cast and impression were separated."""

    what: Literal["separated"] = "separated"
    impression: Label


class MeasuredOnce(_Happened):
    """A number was read at the bench or chairside."""

    what: Literal["measured"] = "measured"
    quantity: Label
    value: float
    unit: Note
    u: float | None = Field(default=None, ge=0)
    about: Note = ""


class Decided(_Happened):
    """A decision and its reason."""

    what: Literal["decided"] = "decided"
    decision: Text
    reason: Text
    about: Note = ""


class SignedOff(_Happened):
    """A gate was passed or refused."""

    what: Literal["signed_off"] = "signed_off"
    gate: Label
    accepted: bool
    note: Text = ""


class MaterialUsed(_Happened):
    """A material went into the case, with its batch or lot."""

    what: Literal["material_used"] = "material_used"
    material: Label
    """By class, such as ``light-cured resin gel``; a name of one's own may stand beside it."""
    lot: Label
    """Batch or lot as the maker printed it."""
    used_for: MaterialRole
    impression: Label | None = None
    units: ArchTeeth = ()
    expires: date | None = None
    """Last day of use as the maker printed it."""


class PhotoTaken(_Happened):
    """A photo was taken; it is kept with the case."""

    what: Literal["photo"] = "photo"
    file: str = Field(min_length=1, max_length=255)
    """Path inside the case."""
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")
    """Of the photo's bytes."""
    about: Note = ""
    units: ArchTeeth = ()


class OutcomeSeen(_Happened):
    """What came of the work."""

    what: Literal["outcome"] = "outcome"
    outcome: Outcome
    units: ArchTeeth = ()
    """Units concerned; the whole case when empty."""
    note: Text = ""


_Plain = (
    ImpressionOut
    | Rinsed
    | Disinfected
    | StorageChanged
    | Temperature
    | CrownsCounted
    | CrownsDried
    | DieTried
    | StepStarted
    | StepFinished
    | Poured
    | Separated
    | MeasuredOnce
    | Decided
    | SignedOff
    | MaterialUsed
    | PhotoTaken
    | OutcomeSeen
)


class Corrected(_Happened):
    """An earlier event was wrong, or one was forgotten; the log itself is never changed.

    `at` and `by` tell when and by whom it is corrected; what truly happened, and when, stands in `instead`.
    """

    what: Literal["corrected"] = "corrected"
    corrects: int | None = Field(default=None, ge=1, le=2**53)
    """Number of the event that was wrong; absent when one was forgotten. A later correction of the same one holds."""
    instead: Annotated[_Plain, Field(discriminator="what")] | None = None
    """What truly happened, numbered as the event it stands for; absent when nothing did."""
    reason: Text = Field(min_length=1)


Event = Annotated[_Plain | Corrected, Field(discriminator="what")]

event_adapter: TypeAdapter[Event] = TypeAdapter(Event)


def write_event(event: Event) -> str:
    """Return an event as its one canonical line of JSON, without the line's end."""
    return event.model_dump_json(exclude_none=True)
