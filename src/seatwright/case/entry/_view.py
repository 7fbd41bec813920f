"""A plan that is being entered, as a person sees it: what stands where, and what is still missing. Pure."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from seatwright.case._check_teeth import STATE_LISTS
from seatwright.case._notation import teeth_of_arch
from seatwright.case._parse import parse_case
from seatwright.case._terms import Arch, AttachmentKind, MarginKind, Motion, Surface, UnitKind
from seatwright.errors import Fault

__all__ = ["EntryAttachment", "EntryTooth", "EntryView", "view_entry"]

_PLACE = re.compile(r"^[^:]*: (?P<table>\w+)\[(?P<index>\d+)\]\.?(?P<field>.*)$")


@dataclass(frozen=True, slots=True)
class EntryTooth:
    """One place of the arch.

    Attributes
    ----------
    tooth : int
    state : str
        The list of ``teeth`` that it stands in.
    kind : UnitKind or None
        The unit on it; None for a natural tooth or a gap in the arch.
    margins : mapping of Surface to MarginKind
        Edges entered so far; a side that is absent is a gap.
    has_margin : bool
        Whether a unit of this kind has edges at all.
    unit : mapping
        All that was said of the unit, as in ``case.toml``; empty when there is none.
    gaps : tuple of Fault
        What is missing or wrong here.
    """

    tooth: int
    state: str
    kind: UnitKind | None
    margins: Mapping[Surface, MarginKind]
    has_margin: bool
    unit: Mapping[str, Any]
    gaps: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class EntryAttachment:
    """An attachment entered so far."""

    id: str
    kind: AttachmentKind | None
    tooth: int | None
    bar: str | None
    surface: Surface | None
    is_rigid: bool


@dataclass(frozen=True, slots=True)
class EntryView:
    """The whole plan.

    Attributes
    ----------
    teeth : tuple of EntryTooth
        All sixteen, from the patient's right to the left.
    joins : tuple of tuple of int
        Teeth of each bridge and splint.
    bars : tuple of (str, int, int)
        Name and ends of each bar whose ends are known.
    gaps : tuple of Fault
        What is missing or wrong and belongs to no tooth.
    """

    code: str
    title: str
    arch: Arch
    teeth: tuple[EntryTooth, ...]
    joins: tuple[tuple[int, ...], ...]
    bars: tuple[tuple[str, int, int], ...]
    attachments: tuple[EntryAttachment, ...]
    gaps: tuple[Fault, ...]

    @property
    def n_gaps(self) -> int:
        """How much is missing or wrong."""
        return len(self.gaps) + sum(len(tooth.gaps) for tooth in self.teeth)


def view_entry(document: Mapping[str, Any]) -> EntryView:
    """Return what a plan says so far; `document` is plain data as in ``case.toml`` and may have gaps."""
    arch = Arch(document["arch"])
    _, faults = parse_case(dict(document))
    by_tooth: dict[int, list[Fault]] = {}
    general = []
    for fault in faults:
        tooth = _tooth_of(document, fault)
        if tooth in teeth_of_arch(arch):
            by_tooth.setdefault(int(tooth or 0), []).append(fault)
        else:
            general.append(fault)
    units = {unit.get("tooth"): unit for unit in document.get("unit", [])}
    return EntryView(
        code=str(document.get("code", "")),
        title=str(document.get("title", "")),
        arch=arch,
        teeth=tuple(
            _view_tooth(document, t, units.get(t, {}), tuple(by_tooth.get(t, ()))) for t in teeth_of_arch(arch)
        ),
        joins=tuple(tuple(j.get("units", ())) for j in document.get("join", [])),
        bars=tuple(
            (str(b.get("id", "")), b["from_tooth"], b["to_tooth"])
            for b in document.get("bar", [])
            if {"from_tooth", "to_tooth"} <= b.keys()
        ),
        attachments=tuple(_view_attachment(a) for a in document.get("attachment", [])),
        gaps=tuple(general),
    )


def _view_tooth(
    document: Mapping[str, Any], tooth: int, unit: Mapping[str, Any], gaps: tuple[Fault, ...]
) -> EntryTooth:
    kind = UnitKind(unit["kind"]) if unit.get("kind") in set(UnitKind) else None
    edges = unit.get("margin") or {}
    return EntryTooth(
        tooth=tooth,
        state=next((name for name in STATE_LISTS if tooth in document["teeth"].get(name, [])), ""),
        kind=kind,
        margins={s: MarginKind(edges[s.value]["kind"]) for s in Surface if s.value in edges},
        has_margin=kind is not None and kind not in (UnitKind.PONTIC, UnitKind.IMPLANT_SCREWED),
        unit=unit,
        gaps=gaps,
    )


def _view_attachment(item: Mapping[str, Any]) -> EntryAttachment:
    kind, surface = item.get("kind"), item.get("surface")
    return EntryAttachment(
        id=str(item.get("id", "")),
        kind=AttachmentKind(kind) if kind in set(AttachmentKind) else None,
        tooth=item.get("tooth"),
        bar=item.get("bar"),
        surface=Surface(surface) if surface in set(Surface) else None,
        is_rigid=item.get("motion") == Motion.RIGID.value,
    )


def _tooth_of(document: Mapping[str, Any], fault: Fault) -> int | None:
    """Return the tooth that a fault concerns: its item's own, or the first end of its bar."""
    place = _PLACE.match(fault.where)
    if place is None:
        return None
    items = document.get(place["table"], [])
    index = int(place["index"])
    item = items[index] if index < len(items) else {}
    found = item.get("tooth", item.get("from_tooth"))
    return found if isinstance(found, int) else None
