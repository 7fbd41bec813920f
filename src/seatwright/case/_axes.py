"""How far the rigid attachments of a case point apart, and what their play admits. Closed forms; no mesh."""

import math
from dataclasses import dataclass, replace
from itertools import combinations

from seatwright.case._document import Case
from seatwright.case._terms import AttachmentKind, Motion
from seatwright.case._units import Attachment
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Finding, Severity, Source, SourceKind, Verdict, judge_upper_limit

__all__ = ["AxisPair", "RunOut", "admitted_tilt_deg", "lateral_run_out_um", "measure_axis_divergence"]

# judgement: standard uncertainty of one axis read with a surveyor mandrel; nothing published was found
U_AXIS_DEG = 0.1
_REVERSED_DEG = 90.0  # definition: beyond it the two males leave to opposite sides


@dataclass(frozen=True, slots=True)
class RunOut:
    """How far the other axis leads sideways over this attachment's guided length."""

    attachment: str
    length_mm: float
    run_out_um: float


@dataclass(frozen=True, slots=True)
class AxisPair:
    """Two rigid attachments, and whether one straight path can serve both.

    Attributes
    ----------
    one, other : str
        Ids of the attachments.
    divergence_deg, u_divergence_deg : float
        Angle between their withdraw directions, 0 to 180, and its standard uncertainty.
    run_outs : tuple of RunOut
        One for each of the two that states a guided length; empty from 90 degrees on.
    admitted_deg : float or None
        Tilt that the play of both admits together; None when that of one is not known.
    verdict : Verdict
        Whether the divergence stays within what is admitted.
    finding : Finding
    """

    one: str
    other: str
    divergence_deg: float
    u_divergence_deg: float
    run_outs: tuple[RunOut, ...]
    admitted_deg: float | None
    verdict: Verdict
    finding: Finding


def lateral_run_out_um(length_mm: float, angle_deg: float) -> float:
    """Return how far a path that leans by an angle leads sideways over a length, µm: L tan(angle).

    Raises
    ------
    ValueOutOfRange
        If the length is negative, or the angle not within 0 to below 90 degrees.

    Examples
    --------
    >>> round(lateral_run_out_um(5.0, 2.6))
    227
    """
    if not (length_mm >= 0 and 0 <= angle_deg < 90):
        raise ValueOutOfRange(f"need a length >= 0 and an angle in [0, 90), got {length_mm} mm, {angle_deg} deg")
    return length_mm * math.tan(math.radians(angle_deg)) * 1000.0


def admitted_tilt_deg(clearance_total_um: float, length_mm: float) -> float:
    """Return the tilt that a total clearance admits over a guided length, degrees: atan(c / L).

    Raises
    ------
    ValueOutOfRange
        If the clearance is negative or the length not positive.

    Examples
    --------
    >>> round(admitted_tilt_deg(20.0, 5.0), 2)
    0.23
    """
    if not (clearance_total_um >= 0 and length_mm > 0):
        raise ValueOutOfRange(f"need a clearance >= 0 and a length > 0, got {clearance_total_um} µm, {length_mm} mm")
    return math.degrees(math.atan2(clearance_total_um / 1000.0, length_mm))


def measure_axis_divergence(case: Case, *, u_axis_deg: float = U_AXIS_DEG) -> tuple[AxisPair, ...]:
    """Return every pair of rigid attachments that state their withdraw direction, in the order written.

    Parameters
    ----------
    case : Case
        A valid case; directions are in the reference scan's frame and are normalized here.
    u_axis_deg : float
        Standard uncertainty of the direction of one axis, per component, degrees.

    Returns
    -------
    tuple of AxisPair
        Empty when fewer than two such attachments are stated.

    Notes
    -----
    A straight path serves both when it leans from each axis by no more than that attachment admits; one exists when
    the divergence is at most the sum of the two (triangle inequality on the sphere). A slide, stud or clip admits
    atan(total clearance / guided length); a primary telescope or conus admits the taper of its wall. The angle's
    uncertainty is that of two independent axes, sqrt(2) u. The verdict has guard bands on both sides.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3 (guard bands). The geometry is a closed form.
    """
    stated = [a for a in case.attachment if a.motion is Motion.RIGID and a.withdraw_direction is not None]
    return tuple(_compare(case, one, other, u_axis_deg) for one, other in combinations(stated, 2))


def _compare(case: Case, one: Attachment, other: Attachment, u_axis_deg: float) -> AxisPair:
    angle = _angle_deg(one, other)
    u_angle = math.sqrt(2.0) * u_axis_deg
    run_outs = tuple(
        RunOut(a.id, a.length_mm, lateral_run_out_um(a.length_mm, angle))
        for a in (one, other)
        if a.length_mm is not None and angle < 90
    )
    tilts = {a.id: _tilt_of(case, a) for a in (one, other)}
    known = [tilt for tilt in tilts.values() if tilt is not None]
    admitted = sum(known) if len(known) == 2 else None
    verdict = Verdict.CANNOT_TELL if admitted is None else judge_upper_limit(angle, admitted, u_angle)
    unknown = [name for name, tilt in tilts.items() if tilt is None]
    finding = _find(one.id, other.id, angle_deg=angle, admitted_deg=admitted, verdict=verdict)
    if unknown:
        finding = replace(finding, do=f"state length_mm, clearance_um and clearance_is of {' and '.join(unknown)}")
    elif run_outs and verdict is not Verdict.CONFORMS:
        shown = ", ".join(f"{r.run_out_um:.0f} µm over the {r.length_mm:g} mm of {r.attachment}" for r in run_outs)
        finding = replace(finding, why=f"{finding.why}; sideways that is {shown}")
    return AxisPair(one.id, other.id, angle, u_angle, run_outs, admitted, verdict, finding)


def _angle_deg(one: Attachment, other: Attachment) -> float:
    ax, ay, az = one.withdraw_direction or (0.0, 0.0, 0.0)
    bx, by, bz = other.withdraw_direction or (0.0, 0.0, 0.0)
    cross = math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    return math.degrees(math.atan2(cross, ax * bx + ay * by + az * bz))


def _tilt_of(case: Case, attachment: Attachment) -> float | None:
    """Return the tilt that one attachment admits, degrees; None when the case does not tell."""
    if attachment.kind in (AttachmentKind.CONUS, AttachmentKind.TELESCOPE) and attachment.tooth is not None:
        return case.unit_at(attachment.tooth).wall_taper_deg
    if attachment.clearance_um is None or attachment.length_mm is None:
        return None
    factor = 2.0 if attachment.clearance_is == "per_side" else 1.0
    return admitted_tilt_deg(factor * attachment.clearance_um, attachment.length_mm)


def _find(one: str, other: str, *, angle_deg: float, admitted_deg: float | None, verdict: Verdict) -> Finding:
    apart = f"{one} and {other} point {angle_deg:.2f} degrees apart"
    source = Source(
        SourceKind.MEASURED, "angle between the stated withdraw directions; guard bands of JCGM 106:2012, 8.3"
    )
    if angle_deg > _REVERSED_DEG:
        do = "one withdraw_direction is probably reversed: both point out of the crown"
        return Finding("axes-divergence", Severity.WARNING, apart, "no path serves both", do, source, one)
    if admitted_deg is None:
        why = "what the play of both admits together is not known"
        return Finding("axes-divergence", Severity.CAUTION, f"Cannot tell: {apart}", why, source=source, about=one)
    why = f"the play of both admits {admitted_deg:.2f} degrees together"
    if verdict is Verdict.CONFORMS:
        return Finding(
            "axes-divergence", Severity.NOTE, f"One path serves both: {apart}", why, source=source, about=one
        )
    if verdict is Verdict.CANNOT_TELL:
        do = "measure both axes again, with a mandrel in each"
        return Finding("axes-divergence", Severity.CAUTION, f"Cannot tell: {apart}", why, do, source, one)
    do = "align one attachment with the other before the framework is made, or use a resilient one"
    return Finding("axes-divergence", Severity.WARNING, f"No path serves both: {apart}", why, do, source, one)
