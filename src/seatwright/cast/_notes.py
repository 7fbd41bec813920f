"""What the cast check noticed, in words: moved units, weak turns, scale, doubt about who moved."""

from dataclasses import replace

import numpy as np

from seatwright.cast._points import PointKind
from seatwright.cast._question import CastQuestion
from seatwright.cast._result import MIXED_SHARE, CastResult, UnitMovement
from seatwright.cast._scale_notes import about_scale
from seatwright.cast._told_length import ToldLength
from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind, Verdict

__all__ = ["list_findings"]

_MEASURED = Source(SourceKind.MEASURED, "this comparison of scans")
_ALIGNED = 0.8  # judgement: within 37 degrees an axis goes by the tooth's
_GRAVE = (Severity.STOP, Severity.WARNING)
_REMEDY = (
    "Make no framework on this cast yet. New pick-up (alginate is never poured twice); or cut the die out, reset it in "
    "a verification index and relute; or pick its male up in the mouth (common practice)."
)


def list_findings(result: CastResult, broken: tuple[tuple[str, ...], ...], question: CastQuestion) -> CastResult:
    """Return the result with its findings; where it is open who moved, the verdicts of the others become open too."""
    result = replace(result, units=tuple(_leave_mixed_open(unit) for unit in result.units))
    findings = [f for unit in result.units for f in _about_unit(unit)]
    findings[:0] = [_about_broken(teeth) for teeth in broken]
    if question.stable:
        findings[:0] = _about_word(result)
    elif not result.is_unique:
        findings.insert(0, _about_majority(result))
        units = tuple(replace(u, verdict=Verdict.CANNOT_TELL) if u.is_measured else u for u in result.units)
        result = replace(result, units=units)
    findings.extend(_about_pairs(result))
    findings.extend(about_scale(result))
    if all(u.verdict is Verdict.CONFORMS for u in result.units) and not any(f.severity in _GRAVE for f in findings):
        findings.append(
            Finding(
                "cast-proceed", Severity.NOTE, "Every unit stands within its tolerance: proceed.",
                why=f"{result.tolerance_um:g} µm allowed; 5 % risk each way at the limit itself", source=_MEASURED,
            )
        )  # fmt: skip
    if not result.converged:
        findings.append(
            Finding(
                "cast-not-converged", Severity.WARNING, "A unit's fit did not come to rest.",
                why="its surface may be too smooth or too damaged", do="Scan the cast again before relying on it.",
                source=_MEASURED,
            )
        )  # fmt: skip
    return replace(result, findings=tuple(findings))


def _leave_mixed_open(unit: UnitMovement) -> UnitMovement:
    """Withhold the verdict where the region holds two bodies: the fit may have followed the other one."""
    if not unit.is_measured or unit.inlier_share >= MIXED_SHARE:
        return unit
    return replace(unit, verdict=Verdict.CANNOT_TELL, is_moved=False)


def _about_majority(result: CastResult) -> Finding:
    group = ", ".join(result.stable_units)
    rival = result.rival
    one = [u for u in result.units if u.is_measured and u.tooth not in result.stable_units]
    readings = f"If {group} stayed, {_farthest({u.tooth: u.told_shift for u in one})}"
    if rival is not None:
        others = {t: m for t, m in rival.shifts.items() if t not in rival.stable_units}
        readings += f"; if {', '.join(rival.stable_units)} stayed, {_farthest(dict(others))}"
    return Finding(
        "cast-no-majority",
        Severity.WARNING,
        f"It is open which units moved. {readings}.",
        why="only movements between units can be seen, and no group is large enough to say that the others moved",
        do="Name more units (teeth of stone included), or check with a verification index which group is right.",
        source=JUDGEMENT,
    )


def _farthest(shifts: dict[str, ToldLength | None]) -> str:
    known = {tooth: m for tooth, m in shifts.items() if m is not None}
    if not known:
        return "no other moved"
    tooth = max(known, key=lambda t: known[t].middle_um)
    return f"{', '.join(known)} moved, {tooth} by {known[tooth].shown()}"


def _about_broken(teeth: tuple[str, ...]) -> Finding:
    return Finding(
        "cast-body-broken",
        Severity.WARNING,
        f"Units {', '.join(teeth)} are said to be one rigid body, but did not move as one.",
        why="a splint cannot do that: a crown is not fully seated, the join gave way, or a region shows something else",
        do="Look at the seat of each crown and at the join; the units are judged one by one here.",
        source=_MEASURED,
        about=teeth[0],
    )


def _about_word(result: CastResult) -> list[Finding]:
    odd = [u.tooth for u in result.units if u.is_stable and u.is_moved]
    if not odd:
        return []
    return [
        Finding(
            "cast-told-stable-disagree",
            Severity.WARNING,
            f"Of the units said to be stable, {', '.join(odd)} moved against the others.",
            why="the frame is held by your word, not by what agrees",
            do="Check without naming the stable units, and compare.",
            source=_MEASURED,
        )
    ]


def _about_unit(unit: UnitMovement) -> list[Finding]:
    if not unit.is_measured:
        return [
            Finding(
                "cast-unit-not-found",
                Severity.WARNING,
                f"Unit {unit.tooth} cannot be judged: only {unit.coverage:.0%} of its region was found.",
                why="the poured scan misses it there, or it moved farther than is looked for",
                do="Scan this unit again.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    return [*_about_movement(unit), *_about_surface(unit)]


def _about_movement(unit: UnitMovement) -> list[Finding]:
    is_off = unit.verdict is Verdict.DOES_NOT_CONFORM
    if unit.is_moved:
        turn = unit.turn_size_deg
        return [
            Finding(
                "cast-unit-moved",
                Severity.STOP if is_off else Severity.CAUTION,
                f"Unit {unit.tooth} moved: {unit.shown_shift()}{_where(unit)}"
                + (f" and {turn.shown()}." if turn is not None else "."),
                why=f"{_odds(unit)}; a uniform scale of the cast does not explain it",
                do=_REMEDY if is_off else "Weigh it against the tolerance.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    if is_off:
        return [
            Finding(
                "cast-unit-off",
                Severity.WARNING,
                f"Unit {unit.tooth} stands {unit.shown_shift()} off{_where(unit)}, as the whole cast does; "
                "its die did not move.",
                why=f"{_odds(unit)}; it agrees with the other units once a uniform scale is taken out",
                do="Look to the pour and the impression, not to this die.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    if unit.verdict is Verdict.CANNOT_TELL and unit.points:
        return [
            Finding(
                "cast-unit-open",
                Severity.CAUTION,
                f"Unit {unit.tooth} cannot be told: {unit.shown_shift()}{_where(unit)}.",
                why=f"{_odds(unit)}; too little to say yes or no with 5 % risk",
                do="Scan the cast again two or three times and give all scans, or check this unit with an index.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    return []


def _where(unit: UnitMovement) -> str:
    return f" {unit.points[0].where()}" if unit.points and unit.points[0].kind is not PointKind.CENTROID else ""


def _odds(unit: UnitMovement) -> str:
    if not unit.points:
        return ""
    p = unit.points[0].p_conforms
    chance = "under 1 %" if p < 0.01 else "over 99 %" if p > 0.99 else f"{p:.0%}".replace("%", " %")
    return f"the chance that it stands within its tolerance is {chance}"


def _about_surface(unit: UnitMovement) -> list[Finding]:
    found = []
    if unit.inlier_share < MIXED_SHARE:
        found.append(
            Finding(
                "cast-region-mixed",
                Severity.WARNING,
                f"Unit {unit.tooth} is not judged: only {unit.inlier_share:.0%} of its region moves as one.",
                why="the region holds another tooth or gum too, or the surface changed between the scans; the fit may "
                "have followed the other body and hidden a die that moved",
                do="Choose a smaller radius or the unit's own mesh, and check again.",
                source=_MEASURED,
                about=unit.tooth,
            )
        )
    if unit.weak_turn_axis is not None:
        found.append(
            Finding(
                "cast-turn-weak",
                Severity.NOTE,
                f"The turn of unit {unit.tooth} about {_axis_name(unit)} is hardly determined.",
                why="its surface is nearly round about that axis",
                do="Do not read that turn as a movement.",
                source=_MEASURED,
                about=unit.tooth,
            )
        )
    return found


def _axis_name(unit: UnitMovement) -> str:
    if unit.weak_turn_axis is None or unit.tooth_axes is None:
        return "one axis"
    along = np.abs(unit.tooth_axes.directions @ unit.weak_turn_axis)
    if along.max() < _ALIGNED:
        return "one axis"
    return ("the mesio-distal axis", "the facio-lingual axis", "its long axis")[int(np.argmax(along))]


def _about_pairs(result: CastResult) -> list[Finding]:
    moved = {u.tooth for u in result.units if u.is_moved}
    wrong = [p for p in result.pairs if p.verdict is Verdict.DOES_NOT_CONFORM and not {p.one, p.other} & moved]
    if not wrong:
        return []
    worst = max(wrong, key=lambda p: abs(p.change_um.value))
    change = replace(worst.change_um, value=abs(worst.change_um.value))
    more = f" {len(wrong) - 1} more distances are wrong." if len(wrong) > 1 else ""
    return [
        Finding(
            "cast-distance-wrong",
            Severity.WARNING,
            f"The distance from {worst.one} to {worst.other} is {change.shown()} "
            f"{'long' if worst.change_um.value > 0 else 'short'}, though neither die moved by itself.{more}",
            why=f"{worst.distance_mm:.1f} mm on the reference; a rigid framework feels it, whatever the cause",
            do="Do not join both ends on this cast: section and index in the mouth, or pick one male up in the mouth.",
            source=_MEASURED,
        )
    ]
