"""What the cast check noticed, in words: moved units, weak turns, scale, doubt about who moved."""

from dataclasses import replace

import numpy as np

from seatwright.cast._result import MIXED_SHARE, CastResult, UnitMovement
from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind, Verdict

__all__ = ["list_findings"]

_MEASURED = Source(SourceKind.MEASURED, "this comparison of two scans")
_SCALE_FACTOR = 3.0  # judgement: a scale is named when it exceeds three standard uncertainties


def list_findings(result: CastResult, rival: tuple[str, ...]) -> CastResult:
    """Return the result with its findings; where it is open who moved, the verdicts of the others become open too."""
    findings = [f for unit in result.units for f in _about_unit(unit)]
    n_measured = sum(unit.is_measured for unit in result.units)
    doubt = _about_majority(result.stable_units, rival, n_measured)
    if doubt is not None:
        findings.insert(0, doubt)
        units = tuple(replace(u, verdict=Verdict.CANNOT_TELL) if u.is_measured else u for u in result.units)
        result = replace(result, units=units)
    findings.extend(_about_scale(result))
    if not result.converged:
        findings.append(
            Finding(
                "cast-not-converged", Severity.WARNING, "A unit's fit did not come to rest.",
                why="its surface may be too smooth or too damaged", do="Scan the cast again before relying on it.",
                source=_MEASURED,
            )
        )  # fmt: skip
    return replace(result, findings=tuple(findings))


def _about_majority(stable: tuple[str, ...], rival: tuple[str, ...], n_measured: int) -> Finding | None:
    has_rival = len(rival) >= 2 and len(rival) >= len(stable) - 1
    if len(stable) >= 2 and 2 * len(stable) > n_measured and not has_rival:
        return None
    groups = f"{', '.join(stable)}" + (f" and {', '.join(rival)}" if rival else "")
    return Finding(
        "cast-no-majority",
        Severity.WARNING,
        f"It is open which units moved: the units that agree with each other are {groups}.",
        why="only movements between units can be seen, and no group is large enough to say that the others moved",
        do="Name more units (teeth of stone included) or check with an index which group is right.",
        source=JUDGEMENT,
    )


def _about_unit(unit: UnitMovement) -> list[Finding]:
    if not unit.is_measured or unit.shift_mm is None or unit.u_worst_mm is None:
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
    return [*_about_movement(unit, 1e3 * float(np.linalg.norm(unit.shift_mm))), *_about_surface(unit)]


def _about_movement(unit: UnitMovement, length_um: float) -> list[Finding]:
    if unit.is_moved and unit.u_worst_mm is not None:
        turn = float(np.linalg.norm(unit.turn_deg if unit.turn_deg is not None else 0.0))
        return [
            Finding(
                "cast-unit-moved",
                Severity.STOP if unit.verdict is Verdict.DOES_NOT_CONFORM else Severity.CAUTION,
                f"Unit {unit.tooth} moved: {length_um:.0f} µm and {turn:.2f} degrees.",
                why=f"standard uncertainty of the shift at most {1e3 * unit.u_worst_mm:.0f} µm along any axis",
                do="Make no framework on this cast yet. New pick-up, or cut the die out and reset it in a verification "
                "index, or pick its male up in the mouth (common practice)."
                if unit.verdict is Verdict.DOES_NOT_CONFORM
                else "Weigh it against the tolerance.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    if unit.verdict is Verdict.DOES_NOT_CONFORM:
        return [
            Finding(
                "cast-unit-off",
                Severity.WARNING,
                f"Unit {unit.tooth} stands {length_um:.0f} µm off, as the whole cast does; its die did not move.",
                why="it agrees with the other units once a uniform scale is taken out",
                do="Look to the pour and the impression, not to this die.",
                source=_MEASURED,
                about=unit.tooth,
            )
        ]
    return []


def _about_surface(unit: UnitMovement) -> list[Finding]:
    found = []
    if unit.inlier_share < MIXED_SHARE:
        found.append(
            Finding(
                "cast-region-mixed",
                Severity.CAUTION,
                f"Only {unit.inlier_share:.0%} of the surface in the region of unit {unit.tooth} moves as one.",
                why="the region holds another tooth or gum too, or the surface changed between the scans",
                do="Choose a smaller radius or the unit's own mesh, and check again before judging this unit.",
                source=_MEASURED,
                about=unit.tooth,
            )
        )
    if unit.weak_turn_axis is not None:
        found.append(
            Finding(
                "cast-turn-weak",
                Severity.NOTE,
                f"The turn of unit {unit.tooth} about one axis is hardly determined.",
                why="its surface is nearly round about that axis",
                do="Do not read that turn as a movement.",
                source=_MEASURED,
                about=unit.tooth,
            )
        )
    return found


def _about_scale(result: CastResult) -> list[Finding]:
    scale = result.scale_percent
    if scale is None or abs(scale.value) < _SCALE_FACTOR * scale.u:
        return []
    larger = "larger" if scale.value > 0 else "smaller"
    size = replace(scale, value=abs(scale.value))
    return [
        Finding(
            "cast-scale",
            Severity.CAUTION,
            f"The stable units stand as on a cast that is {size.shown()} {larger} than the reference.",
            why="stone expands and impressions shrink; single units need not have moved for this",
            do="Judge distances across the arch by this, and the units by what remains.",
            source=_MEASURED,
        )
    ]
