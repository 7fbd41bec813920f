"""What a person does while a plan is entered: a few gestures, each for several teeth at once.

The plan meanwhile is plain data that may have gaps; what is missing is told by `parse_case`, and drawn as a gap.
"""

from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from seatwright.case._impressions import Impression, Region, ReturnedDie, Scan
from seatwright.case._partial import Clasp, GuidePlane, ReliefArea, Rest
from seatwright.case._terms import (
    Arch,
    Body,
    CoreKind,
    Intaglio,
    MarginKind,
    Surface,
    UnitKind,
    Veneer,
)
from seatwright.case._units import Attachment, Bar, Document, Label, Text, Tooth

__all__ = [
    "CopyUnit",
    "Gesture",
    "JoinUnits",
    "MakeBridge",
    "NamePlan",
    "PutItem",
    "RemoveItem",
    "RemoveUnits",
    "SetMargins",
    "SetTeeth",
    "SetTolerance",
    "SetUnits",
    "gesture_adapter",
]

Several = Annotated[tuple[Tooth, ...], Field(min_length=1, max_length=16)]


class SetTeeth(Document):
    """Say how places of the arch stand, without a unit on them."""

    gesture: Literal["set_teeth"] = "set_teeth"
    teeth: Several
    state: Literal["present", "implants", "missing_partial", "missing_not_replaced"]


class SetUnits(Document):
    """Put units on teeth, or change what is said here of those that stand there; what is not said stays."""

    gesture: Literal["set_units"] = "set_units"
    teeth: Several
    kind: UnitKind | None = None
    body: Body | None = None
    veneer: Veneer | None = None
    neck_mm: float | None = Field(default=None, ge=0.5, le=15)
    wall_taper_deg: float | None = Field(default=None, ge=0, le=15)
    intaglio: Intaglio | None = None
    core: CoreKind | None = None
    core_cemented: bool | None = None
    abutment_screw_plugged: bool | None = None


class SetMargins(Document):
    """Give units the same edge at some of their sides."""

    gesture: Literal["set_margins"] = "set_margins"
    teeth: Several
    surfaces: tuple[Surface, ...] = Field(default=tuple(Surface), min_length=1, max_length=4)
    kind: MarginKind
    thickness_mm: float = Field(gt=0, le=3)
    subgingival_mm: float = Field(default=0.0, ge=-3, le=5)


class CopyUnit(Document):
    """Make units the same as one that is entered already."""

    gesture: Literal["copy_unit"] = "copy_unit"
    like: Tooth
    teeth: Several


class MakeBridge(Document):
    """Join a run of teeth into one bridge: what is missing in it becomes a pontic, what stands a retainer."""

    gesture: Literal["make_bridge"] = "make_bridge"
    teeth: Annotated[tuple[Tooth, ...], Field(min_length=2, max_length=16)]
    pontics: tuple[Tooth, ...] = ()
    """Places that become pontics although they are not said to be missing yet."""


class JoinUnits(Document):
    """Splint neighboring units that are entered already."""

    gesture: Literal["join_units"] = "join_units"
    teeth: Annotated[tuple[Tooth, ...], Field(min_length=2, max_length=16)]


class RemoveUnits(Document):
    """Take units off, with all that hangs on them."""

    gesture: Literal["remove_units"] = "remove_units"
    teeth: Several


_Tables = Literal[
    "attachment",
    "bar",
    "rest",
    "clasp",
    "guide_plane",
    "relief",
    "impression",
    "returned_die",
    "scan",
    "region",
    "join",
]


class PutItem(Document):
    """Add one item to a table of the plan, or replace the one of the same name; single fields may still be missing."""

    gesture: Literal["put_item"] = "put_item"
    table: _Tables
    item: dict[str, Any]


class RemoveItem(Document):
    """Take one item out of a table, by its name (a region: by its tooth)."""

    gesture: Literal["remove_item"] = "remove_item"
    table: _Tables
    id: Label


class SetTolerance(Document):
    """Say what the case asks of its cast."""

    gesture: Literal["set_tolerance"] = "set_tolerance"
    unit_shift_um: float = Field(ge=1, le=1000)
    reason: Text = Field(min_length=1)


class NamePlan(Document):
    """Give the plan a title, or another arch while nothing is entered in this one."""

    gesture: Literal["name_plan"] = "name_plan"
    title: Text | None = None
    arch: Arch | None = None


Gesture = Annotated[
    SetTeeth
    | SetUnits
    | SetMargins
    | CopyUnit
    | MakeBridge
    | JoinUnits
    | RemoveUnits
    | PutItem
    | RemoveItem
    | SetTolerance
    | NamePlan,
    Field(discriminator="gesture"),
]
gesture_adapter: TypeAdapter[Gesture] = TypeAdapter(Gesture)
"""Reads one gesture from plain data."""

ITEM_MODELS: dict[str, type[Document]] = {
    "attachment": Attachment,
    "bar": Bar,
    "rest": Rest,
    "clasp": Clasp,
    "guide_plane": GuidePlane,
    "relief": ReliefArea,
    "impression": Impression,
    "returned_die": ReturnedDie,
    "scan": Scan,
    "region": Region,
}
"""What an item of each table may state."""
