"""What the survey of paths remarks on: axes that cannot be entered together, a fixed path, planes that lean in."""

import math

from seatwright.arch import OcclusalFrame
from seatwright.evidence import find_evidence, source_of
from seatwright.findings import COMMON_PRACTICE, JUDGEMENT, Finding, Severity, Source, SourceKind, Verdict
from seatwright.survey._entry import RigidEntry
from seatwright.survey._result import PathAnswer, PlaneFit

__all__ = ["remark_on_path", "remark_on_window"]

_GEOMETRY = Source(SourceKind.MEASURED, "intersection of cones and half-spaces; float by linear program")


def remark_on_window(entry: RigidEntry, frame: OcclusalFrame) -> tuple[Finding, ...]:
    """Return what is to be said about the window alone."""
    notes = []
    if not entry.guides:
        notes.append(
            Finding(
                "survey-nothing-rigid",
                Severity.NOTE,
                "No rigid attachment limits the path here.",
                "Clasps, studs and guide planes leave a choice.",
                source=_GEOMETRY,
            )
        )
    elif entry.window.is_empty:
        notes.append(_no_path(entry))
    elif entry.verdict is Verdict.CANNOT_TELL:
        notes.append(
            Finding(
                "survey-path-uncertain",
                Severity.CAUTION,
                f"Cannot tell whether one path serves {_names(entry)}: "
                f"{entry.window.in_radius_deg:.2f} degree is left, less than the axes are known to.",
                _apart(entry),
                "Read both axes again, with a mandrel in each.",
                _GEOMETRY,
            )
        )
    if frame.u_deg >= 1.0:
        notes.append(
            Finding(
                "survey-plane-uncertain",
                Severity.NOTE,
                f"Tilts are told from {frame.how}: to about {frame.u_deg:.1f} degrees.",
                "The path itself does not depend on it; only how its tilt is worded.",
                "State the occlusal normal where the table's reading matters.",
                JUDGEMENT,
            )
        )
    return tuple(notes)


def _no_path(entry: RigidEntry) -> Finding:
    gaps = ", ".join(f"{name} {gap:.0f} µm" for name, gap in entry.window.openings_um.items())
    needed = f"If all opened alike, the gap per side would have to be: {gaps}." if gaps else ""
    inwards = [g.id for g in entry.guides if float(g.axis @ entry.cones[-1].pole) < 0]
    if inwards or any(a.angle_deg > 90 for a in entry.angles):
        return Finding(
            "survey-axes-opposed",
            Severity.WARNING,
            f"No path serves all: {' and '.join(inwards) or _names(entry)} leaves towards the jaw, or against another.",
            _apart(entry),
            "Its withdraw_direction is probably reversed: all point out of the crown.",
            _GEOMETRY,
            inwards[0] if inwards else "",
        )
    if len(entry.deciding) == 1:
        return Finding(
            "survey-axis-beyond-search",
            Severity.WARNING,
            f"{entry.deciding[0]} leaves beyond the tilt searched: "
            f"{-entry.window.in_radius_deg:.1f} degrees would be missing.",
            "",
            "Check its withdraw_direction and the occlusal plane, or search to a larger tilt.",
            _GEOMETRY,
            entry.deciding[0],
        )
    if entry.floating is not None and not entry.floating.is_empty:
        return Finding(
            "survey-float-only",
            Severity.CAUTION,
            f"{_names(entry)} are entered together only if the partial may seat against one side. {_apart(entry)}",
            f"Centered, {-entry.window.in_radius_deg:.2f} degree is missing at each. {needed}",
            "Expect a tight entry and wear at the walls named; align the axes where that can still be done.",
            _GEOMETRY,
        )
    floating = ""
    if entry.floating is not None and entry.floating.openings_um:
        widest = ", ".join(f"{name} {gap:.0f} µm" for name, gap in entry.floating.openings_um.items())
        floating = f" With the partial free to sit to one side: {widest}."
    sure = "No path serves" if entry.verdict is Verdict.DOES_NOT_CONFORM else "Probably no path serves"
    return Finding(
        "survey-no-path",
        Severity.WARNING,
        f"{sure} {_names(entry)}. {_apart(entry)}",
        f"{needed}{floating}",
        "Align one with the other before the framework is made, or use a resilient one. No compromise is offered.",
        _GEOMETRY,
        entry.deciding[0] if entry.deciding else "",
    )


def _names(entry: RigidEntry) -> str:
    return " and ".join(entry.deciding) or "the guides"


def _apart(entry: RigidEntry) -> str:
    return " ".join(f"{a.one} and {a.other} point {a.angle_deg:.2f} degrees apart." for a in entry.angles[:3])


def remark_on_path(path: PathAnswer, entry: RigidEntry) -> tuple[Finding, ...]:
    """Return what is to be said about a path: how it was fixed, what does not enter, which planes lean in."""
    notes = [*_fixed(path, entry), *_outside(path), *_tilted(path)]
    notes += [_plane(p, is_fixed=path.how == "fixed") for p in path.planes if p.says in ("opens", "leans in")]
    notes += [_not_read(p) for p in path.planes if p.says == "not read"]
    return tuple(notes)


def _fixed(path: PathAnswer, entry: RigidEntry) -> list[Finding]:
    if path.how != "fixed":
        return []
    left = [w for w in (entry.window, entry.floating) if w is not None and not w.is_empty]
    room = " or ".join(f"{w.in_radius_deg:.2f} degree {w.seat}" for w in left)
    return [
        Finding(
            "survey-path-fixed",
            Severity.NOTE,
            f"The path is fixed by {_names(entry)}: {path.tilt.words}.",
            f"What is left around it: {room}.",
            f"Put the mandrel in {entry.deciding[0] if entry.deciding else 'the slide'} and lock the table there; "
            "read what follows for each clasp and guide plane instead of searching.",
            _GEOMETRY,
        )
    ]


def _outside(path: PathAnswer) -> list[Finding]:
    return [
        Finding(
            "survey-does-not-enter" if a.says == "does not enter" else "survey-enters-to-one-side",
            Severity.WARNING if a.says == "does not enter" else Severity.CAUTION,
            f"Along this path {a.id} {a.says}: the path leans {a.angle_deg:.2f} degrees from its axis.",
            f"Over its length that leads {a.side_shift_um:.0f} µm sideways.",
            "Take the path of the attachments.",
            _GEOMETRY,
            a.id,
        )
        for a in path.attachments
        if a.says != "enters centered"
    ]


def _tilted(path: PathAnswer) -> list[Finding]:
    careful = find_evidence("survey_009").require_value()
    usual = find_evidence("survey_008").require_range()[1]
    if path.tilt.total_deg <= careful:
        return []
    beyond = path.tilt.total_deg > usual
    return [
        Finding(
            "survey-tilt-large",
            Severity.WARNING if beyond else Severity.CAUTION,
            f"The path leans {path.tilt.total_deg:.1f} degrees from the occlusal normal.",
            "An undercut made by tilt alone does not hold along the bite.",
            "Check the retention with the cast level too.",
            source_of("survey_008" if beyond else "survey_009"),
        )
    ]


def _not_read(plane: PlaneFit) -> Finding:
    return Finding(
        "survey-plane-not-read",
        Severity.NOTE,
        f"The lean of {plane.id} on {plane.tooth} is not known: it neither narrows the window nor is it judged.",
        do="Mark it on the reference scan (at_mm), state its outward normal, or read a gauge at its foot (--gauge).",
        source=COMMON_PRACTICE,
        about=plane.id,
    )


def _plane(plane: PlaneFit, *, is_fixed: bool) -> Finding:
    if plane.says == "leans in":
        do = "Recut the plane to the path" if is_fixed else "Recut the plane, or tilt towards it"
        return Finding(
            "survey-plane-leans-in",
            Severity.CAUTION,
            f"{plane.id} on {plane.tooth} leans {-plane.opens_deg:.1f} degrees into the path: "
            f"{plane.undercut_mm:.2f} mm of undercut at its foot.",
            "A plate against it would not go in.",
            f"{do}, or block out {plane.undercut_mm:.2f} mm.",
            COMMON_PRACTICE,
            plane.id,
        )
    severity = Severity.CAUTION if math.isfinite(plane.opens_deg) and plane.opens_deg > 6.0 else Severity.NOTE
    return Finding(
        "survey-plane-opens",
        severity,
        f"{plane.id} on {plane.tooth} opens {plane.opens_deg:.1f} degrees along the path: it guides at its foot only.",
        f"Its upper edge stands {plane.contact_lost_mm:.2f} mm off.",
        "Recut it parallel to the path if it shall guide.",
        source_of("survey_014"),
        plane.id,
    )
