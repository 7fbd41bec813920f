"""Contradictions in attachments and bars: what they hang on, which way they leave, what they must state. Pure."""

import math
from collections.abc import Iterator

from seatwright.case._document import Case
from seatwright.case._faults import closest_hint, find_repeated
from seatwright.case._terms import AttachmentKind, Motion, ScanRole, UnitKind
from seatwright.case._units import Attachment
from seatwright.errors import Fault

__all__ = ["check_attachments"]

_UNIT_TOLERANCE = 1e-3  # judgement: three written digits; 0.06 degrees at worst, and the direction is normalized on use
_CARRIERS = {
    AttachmentKind.CONUS: UnitKind.PRIMARY_CONUS,
    AttachmentKind.TELESCOPE: UnitKind.PRIMARY_TELESCOPE,
}


def check_attachments(case: Case) -> Iterator[Fault]:
    """Yield what is wrong with attachments and bars."""
    yield from find_repeated("attachment", "id", [a.id for a in case.attachment])
    has_reference = any(s.role is ScanRole.REFERENCE for s in case.scan)
    for i, attachment in enumerate(case.attachment):
        where = f"attachment[{i}]"
        yield from _check_carrier(case, attachment, where)
        yield from _check_direction(attachment, where, has_reference=has_reference)
        yield from _check_play(attachment, where)
    yield from find_repeated("bar", "id", [b.id for b in case.bar])
    yield from _check_bars(case)


def _check_carrier(case: Case, attachment: Attachment, where: str) -> Iterator[Fault]:
    units = {u.tooth: u for u in case.unit}
    bars = [b.id for b in case.bar]
    if (attachment.tooth is None) == (attachment.bar is None):
        said = "neither a tooth nor a bar" if attachment.tooth is None else "both a tooth and a bar"
        yield Fault(where, f"attachment {attachment.id} names {said}", "name the one thing that it hangs on")
        return
    if attachment.bar is not None and attachment.bar not in bars:
        yield Fault(f"{where}.bar", f"there is no bar {attachment.bar}", closest_hint(attachment.bar, bars, noun="bar"))
    if attachment.kind is AttachmentKind.BAR_CLIP and attachment.bar is None:
        yield Fault(f"{where}.bar", f"bar clip {attachment.id} names no bar", "name the bar instead of the tooth")
    if attachment.tooth is None:
        return
    unit = units.get(attachment.tooth)
    if unit is None:
        yield Fault(
            f"{where}.tooth",
            f"{attachment.tooth} is no unit of this case",
            closest_hint(attachment.tooth, units, noun="unit"),
        )
        return
    needed = _CARRIERS.get(attachment.kind)
    if needed is not None and unit.kind is not needed:
        yield Fault(
            f"{where}.kind",
            f"a {attachment.kind} sits on a {needed}, but unit {unit.tooth} is a {unit.kind}",
            "correct the attachment's kind or the unit's",
        )


def _check_direction(attachment: Attachment, where: str, *, has_reference: bool) -> Iterator[Fault]:
    direction = attachment.withdraw_direction
    if direction is None:
        if attachment.motion is Motion.RIGID and has_reference:
            yield Fault(
                f"{where}.withdraw_direction",
                f"rigid attachment {attachment.id} does not say which way its male leaves",
                "give the unit vector in the reference scan's frame, pointing out of the crown",
            )
        return
    length = math.hypot(*direction)
    if abs(length - 1.0) > _UNIT_TOLERANCE:
        yield Fault(
            f"{where}.withdraw_direction",
            f"its length is {length:.4g}, not 1",
            "divide x, y and z by that length" if length > 0 else "give the direction in which the male leaves",
        )


def _check_play(attachment: Attachment, where: str) -> Iterator[Fault]:
    if attachment.kind is AttachmentKind.SLIDE and attachment.length_mm is None:
        yield Fault(
            f"{where}.length_mm",
            f"slide {attachment.id} has no guided length",
            "state the length over which male and female guide each other, mm",
        )
    if attachment.clearance_um is not None and attachment.clearance_is is None:
        yield Fault(
            f"{where}.clearance_is",
            f"the clearance of {attachment.id} does not say what it counts",
            "say total or per_side; the two differ by a factor of two",
        )
    if attachment.clearance_um is None and attachment.clearance_is is not None:
        yield Fault(
            f"{where}.clearance_um",
            f"the clearance of {attachment.id} has no number",
            "give it in µm, or remove clearance_is",
        )


def _check_bars(case: Case) -> Iterator[Fault]:
    units = {u.tooth for u in case.unit}
    for i, bar in enumerate(case.bar):
        for field, tooth in (("from_tooth", bar.from_tooth), ("to_tooth", bar.to_tooth)):
            if tooth not in units:
                yield Fault(
                    f"bar[{i}].{field}",
                    f"{tooth} is no unit of this case",
                    closest_hint(tooth, sorted(units), noun="unit"),
                )
        if bar.from_tooth == bar.to_tooth:
            yield Fault(f"bar[{i}].to_tooth", f"bar {bar.id} begins and ends at {bar.to_tooth}", "name its two ends")
