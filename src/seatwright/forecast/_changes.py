"""What to change: every choice still open is tried on the same random trials, and the best one again with each other.

Owns the list of changes and what each costs. The costs are common practice, not measured.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from seatwright.case import Case, ImpressionMaterial, ImpressionRole, MaleJoin, Route, Stone, Tray
from seatwright.evidence import find_evidence
from seatwright.forecast._choices import Choices, FrameworkRoute, Stage
from seatwright.forecast._features import Rest
from seatwright.forecast._result import Change
from seatwright.forecast._seating import Setup, build_setup
from seatwright.forecast._trials import draw_errors
from seatwright.forecast._update import MeasuredUnit
from seatwright.quantities import FloatArray, Measured

__all__ = ["search_changes"]

_N_TRIALS = 2000  # judgement: standard error of a gain about .01 with common random numbers
_N_DAYS_SHORT = 7.0  # judgement: a short stay of the crowns away


@dataclass(frozen=True, slots=True)
class _Option:
    id: str
    what: str
    extra_min: float
    extra_visits: int
    why: str
    apply: Callable[[Case, Choices], tuple[Case, Choices]]


def search_changes(
    case: Case,
    choices: Choices,
    setup: Setup,
    *,
    seed: int,
    rests: tuple[Rest, ...] = (),
    measured: tuple[MeasuredUnit, ...] = (),
    n_trials: int = _N_TRIALS,
) -> tuple[Change, ...]:
    """Return every open change, alone and on top of the best one, by gain, largest first."""

    def seats(there: Case, chosen: Choices) -> FloatArray:
        made = build_setup(there, chosen, rests=rests, measured=measured, pool_of=setup)
        errors = draw_errors(made.chain, seed, n_trials)
        return (made.program.solve(errors, sign_only=True).slack_mm >= 0).astype(float)

    planned = seats(case, choices)
    options = list(_options(case, choices))
    found = [_weigh(option, seats(*option.apply(case, choices)), planned) for option in options]
    if found:
        best = options[int(np.argmax([c.gain for c in found]))]
        for option in options:
            # What moves the same thing as the best one replaces it and is no second step.
            if option.id.rsplit(":", 1)[-1] == best.id.rsplit(":", 1)[-1]:
                continue
            both = _join(best, option)
            found.append(_weigh(both, seats(*both.apply(case, choices)), planned))
    return tuple(sorted(found, key=lambda c: (-round(c.gain, 3), c.extra_visits, c.extra_min)))


def _weigh(option: _Option, there: FloatArray, planned: FloatArray) -> Change:
    gain = there - planned
    u_gain = float(gain.std() / np.sqrt(gain.size))
    return Change(
        option.id, option.what, float(there.mean()), float(gain.mean()), u_gain, option.extra_min, option.extra_visits,
        option.why,
    )  # fmt: skip


def _join(first: _Option, second: _Option) -> _Option:
    return _Option(
        f"{first.id}+{second.id}",
        f"{first.what}; and {second.what[0].lower()}{second.what[1:]}",
        first.extra_min + second.extra_min,
        first.extra_visits + second.extra_visits,
        f"{first.why} {second.why}",
        lambda case, choices: second.apply(*first.apply(case, choices)),
    )


def _options(case: Case, choices: Choices) -> Iterator[_Option]:
    yield from _male_options(case, choices)
    if not choices.index_in_mouth:
        yield _Option(
            "verification-index", "Verify the cast on a rigid index made in the mouth", 30.0, 1,
            "The units are corrected to the mouth before the framework is made.",
            lambda c, k: (c, replace(k, index_in_mouth=True)),
        )  # fmt: skip
    if choices.framework is FrameworkRoute.CAST:
        yield _Option(
            "framework-additive", "Build the framework additively", 0.0, 0,
            "Reviews disagree on whether it fits better.",
            lambda c, k: (c, replace(k, framework=FrameworkRoute.ADDITIVE)),
        )  # fmt: skip
    if choices.days_away > _N_DAYS_SHORT:
        yield _Option(
            "shorter-stay", "Try the partial within a week", 0.0, 0,
            "Abutments drift less.",
            lambda c, k: (c, replace(k, days_away=_N_DAYS_SHORT)),
        )  # fmt: skip
    if choices.stage is not Stage.POURED:
        yield from _bench_options(case, choices)
    if choices.stage is Stage.PLANNED:
        yield from _chair_options(case)


def _male_options(case: Case, choices: Choices) -> Iterator[_Option]:
    def joined(attachment: str, way: MaleJoin) -> Callable[[Case, Choices], tuple[Case, Choices]]:
        return lambda c, k: (c, replace(k, male_joined={**k.male_joined, attachment: way}))

    for attachment in case.attachment:
        now = choices.male_joined.get(attachment.id, attachment.male_joined)
        if now is not MaleJoin.PICKED_UP_IN_MOUTH:
            yield _Option(
                f"pick-up:{attachment.id}", f"Pick the male of {attachment.id} up in the mouth", 20.0, 0,
                "The cast's error does not reach it.",
                joined(attachment.id, MaleJoin.PICKED_UP_IN_MOUTH),
            )  # fmt: skip
        if now in (MaleJoin.CAST_ON, MaleJoin.SOLDERED):
            yield _Option(
                f"lute:{attachment.id}", f"Lute the male of {attachment.id} on the cast", 15.0, 0,
                "The framework's error does not reach it; the cast's still does.",
                joined(attachment.id, MaleJoin.LUTED_ON_CAST),
            )  # fmt: skip


def _bench_options(case: Case, choices: Choices) -> Iterator[_Option]:
    pick_up = next(i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP)
    if pick_up.pour.stone is not Stone.TYPE_4:
        yield _Option("stone-type-4", "Pour in Type 4 stone", 0.0, 0, "It expands least.", _on_pour(stone=Stone.TYPE_4))
    if pick_up.pour.used_after_h > 72:  # evidence: gyp_mich_peak
        yield _Option(
            "use-earlier", "Use the cast within three days", 0.0, 0, "Stone goes on growing.",
            _on_pour(used_after_h=48.0),
        )  # fmt: skip
    fresh = find_evidence("fc_scale_alginate_fresh")
    if pick_up.material is ImpressionMaterial.ALGINATE and choices.impression_change is not None:
        least = Measured(fresh.require_value(), fresh.sd or 0.0, "%")
        yield _Option(
            "pour-now", "Pour within the strict window", 0.0, 0, "Alginate changes from the first minute.",
            lambda c, k: (c, replace(k, impression_change=least)),
        )  # fmt: skip
    for technique in ("returned_epoxy", "stone"):
        teeth = [t for t, ways in choices.open_dies.items() if technique in ways and _differs(choices, t, technique)]
        if teeth:
            named = ", ".join(str(t) for t in teeth)
            words = technique.replace("_", " ")
            yield _Option(
                f"die-{technique.replace('_', '-')}:dies", f"Use {words} dies for {named}", 0.0, 0,
                "The crowns rock less on them.", _on_dies(dict.fromkeys(teeth, technique)),
            )  # fmt: skip


def _differs(choices: Choices, tooth: int, technique: str) -> bool:
    return choices.die_technique.get(tooth) not in (None, technique)


def _chair_options(case: Case) -> Iterator[_Option]:
    pick_up = next(i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP)
    if pick_up.material.is_hydrocolloid:
        yield _Option(
            "elastomer:material", "Pick up in polyether instead of alginate", 10.0, 0,
            "It holds its size and the crowns' places.", _on_impression(material=ImpressionMaterial.POLYETHER),
        )  # fmt: skip
    if pick_up.tray is not Tray.RIGID_CUSTOM:
        yield _Option(
            "rigid-tray:tray", "Use a rigid custom tray", 45.0, 1, "A tray that bends moves the crowns.",
            _on_impression(tray=Tray.RIGID_CUSTOM),
        )  # fmt: skip
    if pick_up.route is not Route.TRANSFER_BASE:
        yield _Option(
            "transfer-base:route", "Lock the crowns in a rigid transfer base", 60.0, 1,
            "The base carries the crowns.", _on_impression(route=Route.TRANSFER_BASE),
        )  # fmt: skip
    if pick_up.route is Route.OVERALL:
        yield _Option(
            "planned-reline:route", "Plan a reline after cementation", 45.0, 1,
            "It serves the ridge; it moves no attachment.", _on_impression(route=Route.PLANNED_RELINE),
        )  # fmt: skip


def _on_dies(techniques: dict[int, str]) -> Callable[[Case, Choices], tuple[Case, Choices]]:
    return lambda c, k: (c, replace(k, die_technique={**k.die_technique, **techniques}))


def _on_impression(**changed: object) -> Callable[[Case, Choices], tuple[Case, Choices]]:
    def apply(case: Case, choices: Choices) -> tuple[Case, Choices]:
        current = next(i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP)
        new = current.model_copy(update=changed)
        impressions = tuple(new if i.id == current.id else i for i in case.impression)
        cleared = replace(choices, impression_change=None) if "material" in changed else choices
        return case.model_copy(update={"impression": impressions}), cleared

    return apply


def _on_pour(**changed: object) -> Callable[[Case, Choices], tuple[Case, Choices]]:
    def apply(case: Case, choices: Choices) -> tuple[Case, Choices]:
        current = next(i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP)
        return _on_impression(pour=current.pour.model_copy(update=changed))(case, choices)

    return apply
