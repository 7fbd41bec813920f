"""The places that must fit at once: males in their females, rests in their seats.

Owns where they are and how much room each has. Refuses to know which errors reach them.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.case import Attachment, AttachmentKind, Case, Clasp, MaleJoin, Motion, Rest
from seatwright.errors import CaseError, Fault
from seatwright.forecast._bodies import Body, nominal_place, place_teeth
from seatwright.forecast._choices import Choices
from seatwright.forecast._levels import read_record, take_level
from seatwright.forecast._vectors import across
from seatwright.quantities import FloatArray

__all__ = ["Feature", "allowed_gap_mm", "find_features", "find_path"]

_DEFAULT_LENGTH_MM = 4.0  # judgement: guided length where the case names none
_SLIDE_HALF_WIDTH_MM = 1.25  # evidence: attach_box_width
_CAP_RADIUS_MM = 3.5  # judgement: radius of a primary crown at mid height when its neck is not given


@dataclass(frozen=True, slots=True)
class Feature:
    """One place that must fit.

    Attributes
    ----------
    id : str
    kind : str
        ``slide``, ``stud``, ``bar_clip``, ``conus``, ``telescope``, ``rest`` or ``clasp``.
    body : int
        Index of the body that carries the female, the seat or the undercut.
    at_mm : ndarray of shape (3,)
        Middle of the guided length, the rest's contact, or where a clasp's tip touches.
    axis : ndarray of shape (3,)
        Unit vector the male leaves along; of a rest and a clasp the path.
    length_mm : float
    gap_mm : float
        Room per side across the axis; 0 for a cone, which wedges.
    radius_mm : float
        Half width of a slide, radius of a cap.
    taper_rad : float
        Of a cone's wall to its axis.
    joined : MaleJoin or None
        None for a rest and a clasp: they are part of the framework.
    is_rigid : bool
    allowed_mm : float or None
        Gap under a stop that the case still calls seated; None: a published limit.
    outward : ndarray of shape (3,) or None
        Of a clasp: across the path, from the middle of its tooth to its tip.
    """

    id: str
    kind: str
    body: int
    at_mm: FloatArray
    axis: FloatArray
    length_mm: float
    gap_mm: float
    radius_mm: float
    taper_rad: float
    joined: MaleJoin | None
    is_rigid: bool
    allowed_mm: float | None = None
    outward: FloatArray | None = None

    @property
    def is_guided(self) -> bool:
        """Whether a male slides into a female here."""
        return self.kind not in ("rest", "clasp")

    @property
    def has_to_seat(self) -> bool:
        """Whether the seating program asks for it; a clasp springs and is only reported."""
        return self.kind != "clasp"

    @property
    def is_picked_up(self) -> bool:
        """Whether the male is joined in the mouth, which cancels the cast's error here."""
        return self.joined is MaleJoin.PICKED_UP_IN_MOUTH

    @property
    def has_stop(self) -> bool:
        """Whether it also carries load along the path."""
        return self.is_rigid and self.has_to_seat


def allowed_gap_mm(feature: Feature, choices: Choices) -> float:
    """Return the largest gap at a stop that still counts as seated."""
    if choices.rest_gap_um is not None:
        return choices.rest_gap_um / 1000
    if feature.allowed_mm is not None:
        return feature.allowed_mm
    return read_record("fc_rest_gap", choices).require_value() / 1000


def find_path(case: Case) -> FloatArray:
    """Return the way the partial leaves: mean of the rigid attachments' directions, +z when none is given."""
    known = [a.withdraw_direction for a in case.attachment if a.withdraw_direction and a.motion is Motion.RIGID]
    if not known:
        return np.array([0.0, 0.0, 1.0])
    mean = np.mean([np.array(d) / np.linalg.norm(d) for d in known], axis=0)
    if np.linalg.norm(mean) < 0.5:
        raise CaseError(
            "the attachments' withdraw directions oppose each other",
            hint="withdraw_direction is the way a male leaves its female; check the signs",
        )
    path: FloatArray = mean / np.linalg.norm(mean)
    return path


def find_features(case: Case, bodies: tuple[Body, ...], choices: Choices) -> tuple[Feature, ...]:
    """Return attachments, rests and clasp tips in the case's order.

    Raises
    ------
    CaseError
        If a rigid slide, telescope or bar sleeve has no clearance or none at all; lists every fault.
    """
    path = find_path(case)
    faults = [f for a in case.attachment if (f := _clearance_fault(a)) is not None]
    if faults:
        raise CaseError("the forecast needs a clearance for every guided attachment", faults=faults)
    found = [_attachment(case, a, bodies, path, choices) for a in case.attachment]
    found += [_rest(case, rest, bodies, path) for rest in case.rest]
    found += [_clasp(case, clasp, bodies, path) for clasp in case.clasp]
    return tuple(found)


def _rest(case: Case, rest: Rest, bodies: tuple[Body, ...], path: FloatArray) -> Feature:
    allowed = rest.gap_allowed_um
    return Feature(
        id=rest.id,
        kind="rest",
        body=_body_index(bodies, rest.tooth),
        at_mm=nominal_place(case, rest.tooth) if rest.at_mm is None else np.array(rest.at_mm, dtype=float),
        axis=path,
        length_mm=0.0,
        gap_mm=0.0,
        radius_mm=0.0,
        taper_rad=0.0,
        joined=None,
        is_rigid=True,
        allowed_mm=None if allowed is None else allowed / 1000,
    )


def _clasp(case: Case, clasp: Clasp, bodies: tuple[Body, ...], path: FloatArray) -> Feature:
    body = _body_index(bodies, clasp.tooth)
    tooth = next((a.at_mm for a in bodies[body].abutments if a.tooth == clasp.tooth), bodies[body].center_mm)
    tip = nominal_place(case, clasp.tooth) if clasp.tip_mm is None else np.array(clasp.tip_mm, dtype=float)
    return Feature(
        id=clasp.id,
        kind="clasp",
        body=body,
        at_mm=tip,
        axis=path,
        length_mm=0.0,
        gap_mm=0.0,
        radius_mm=0.0,
        taper_rad=0.0,
        joined=None,
        is_rigid=False,
        outward=across(path, tip - tooth)[0],
    )


def _clearance_fault(attachment: Attachment) -> Fault | None:
    if attachment.kind in (AttachmentKind.CONUS, AttachmentKind.STUD) or attachment.motion is Motion.RESILIENT:
        return None
    where = f"case.toml: attachment {attachment.id}.clearance_um"
    if attachment.clearance_um is None or attachment.clearance_is is None:
        return Fault(where, "no clearance is given", "state it with clearance_is: 'total' or 'per_side'")
    if attachment.clearance_um == 0:
        return Fault(where, "a clearance of zero admits no error at all", "give the maker's or the measured clearance")
    return None


def _attachment(
    case: Case, attachment: Attachment, bodies: tuple[Body, ...], path: FloatArray, choices: Choices
) -> Feature:
    axis = path if attachment.withdraw_direction is None else np.array(attachment.withdraw_direction, dtype=float)
    axis = axis / np.linalg.norm(axis)
    length = attachment.length_mm or _DEFAULT_LENGTH_MM
    opening = np.array(attachment.at_mm, dtype=float) if attachment.at_mm else _fallback_place(case, attachment)
    is_cap = attachment.kind in (AttachmentKind.CONUS, AttachmentKind.TELESCOPE)
    unit = case.unit_at(attachment.tooth) if attachment.tooth is not None else None
    neck = unit.neck_mm if unit is not None else None
    taper = unit.wall_taper_deg if is_cap and unit is not None and unit.wall_taper_deg else 0.0
    return Feature(
        id=attachment.id,
        kind=attachment.kind.value,
        body=_body_index(bodies, _carrier(case, attachment)),
        at_mm=opening - axis * length / 2,
        axis=axis,
        length_mm=length,
        gap_mm=_gap_mm(attachment, choices),
        radius_mm=(neck / 2 if neck else _CAP_RADIUS_MM) if is_cap else _SLIDE_HALF_WIDTH_MM,
        taper_rad=math.radians(taper),
        joined=choices.male_joined.get(attachment.id, attachment.male_joined),
        is_rigid=attachment.motion is Motion.RIGID,
    )


def _gap_mm(attachment: Attachment, choices: Choices) -> float:
    if attachment.clearance_um is not None:
        per_side = attachment.clearance_um / 2 if attachment.clearance_is == "total" else attachment.clearance_um
        return per_side / 1000
    if attachment.motion is Motion.RESILIENT:
        return take_level("fc_stud_give", choices, more_is_better=True) / 1000
    return 0.0


def _carrier(case: Case, attachment: Attachment) -> int:
    if attachment.tooth is not None:
        return attachment.tooth
    bars = {bar.id: bar for bar in case.bar}
    if attachment.bar not in bars:
        raise CaseError(f"attachment {attachment.id} names neither a unit nor a bar of this case")
    return bars[attachment.bar].from_tooth


def _fallback_place(case: Case, attachment: Attachment) -> FloatArray:
    places, _ = place_teeth(case)
    if attachment.tooth is not None:
        return places[attachment.tooth]
    bar = next(b for b in case.bar if b.id == attachment.bar)
    middle: FloatArray = (places[bar.from_tooth] + places[bar.to_tooth]) / 2
    return middle


def _body_index(bodies: tuple[Body, ...], tooth: int) -> int:
    for index, body in enumerate(bodies):
        if tooth in body.teeth:
            return index
    raise CaseError(f"tooth {tooth} carries an attachment or a rest but is no fixed unit of this case")
