"""What could still be done differently, and what each change costs. The costs are common practice, not measured."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from seatwright.case import Case, Impression, ImpressionMaterial, ImpressionRole, MaleJoin, Route, Stone, Tray
from seatwright.forecast._choices import Choices, FrameworkRoute, PourBand, Stage

__all__ = ["Option", "list_options"]

_N_DAYS_SHORT = 7.0  # judgement: a short stay of the crowns away
_LATE_H, _SOON_H = 72.0, 48.0  # evidence: gyp_mich_peak
Change = Callable[[Case, Choices], tuple[Case, Choices]]


@dataclass(frozen=True, slots=True)
class Option:
    """One change.

    Attributes
    ----------
    id, what : str
        ``what`` is an order, as it is shown.
    moves : str
        What it settles; two changes that move the same are no two steps.
    extra_min, extra_visits : float, int
    why : str
    apply : callable
        (case, choices) -> the same, changed.
    keeps_check : bool
        Whether a cast check made before still holds afterwards: not when units are set anew.
    """

    id: str
    what: str
    moves: str
    extra_min: float
    extra_visits: int
    why: str
    apply: Change
    keeps_check: bool = True


def list_options(case: Case, choices: Choices) -> list[Option]:
    """Return the changes that the stage of the work still leaves open."""
    found = [*_male_options(case, choices), *_framework_options(choices)]
    if choices.stage is not Stage.POURED:
        found += [*_pour_options(case, choices), *_die_options(choices)]
    if choices.stage is Stage.PLANNED:
        found += _chair_options(case)
    if _pick_up(case).route is not Route.PLANNED_RELINE:
        found.append(
            Option(
                "planned-reline",
                "Plan a reline after cementation",
                "ridge",
                45.0,
                1,
                "It serves the ridge; it moves no attachment.",
                _on_impression(route=Route.PLANNED_RELINE),
            )
        )
    return found


def _pick_up(case: Case) -> Impression:
    return next(i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP)


def _male_options(case: Case, choices: Choices) -> Iterator[Option]:
    def joined(attachment: str, way: MaleJoin) -> Change:
        return lambda c, k: (c, replace(k, male_joined={**k.male_joined, attachment: way}))

    for attachment in case.attachment:
        now = choices.male_joined.get(attachment.id, attachment.male_joined)
        if now is not MaleJoin.PICKED_UP_IN_MOUTH:
            yield Option(
                f"pick-up:{attachment.id}",
                f"Pick the male of {attachment.id} up in the mouth",
                attachment.id,
                20.0,
                0,
                "The cast's error does not reach it.",
                joined(attachment.id, MaleJoin.PICKED_UP_IN_MOUTH),
            )
        if now in (MaleJoin.CAST_ON, MaleJoin.SOLDERED):
            yield Option(
                f"lute:{attachment.id}",
                f"Lute the male of {attachment.id} on the cast",
                attachment.id,
                15.0,
                0,
                "The framework's error does not reach it; the cast's still does.",
                joined(attachment.id, MaleJoin.LUTED_ON_CAST),
            )


def _framework_options(choices: Choices) -> Iterator[Option]:
    if not choices.index_in_mouth:
        yield Option(
            "verification-index",
            "Verify the cast on a rigid index made in the mouth",
            "units",
            30.0,
            1,
            "The units are corrected to the mouth before the framework is made.",
            lambda c, k: (c, replace(k, index_in_mouth=True)),
            keeps_check=False,
        )
    if choices.framework is FrameworkRoute.CAST:
        yield Option(
            "framework-additive",
            "Build the framework additively, where it fits better: reviews disagree",
            "framework",
            0.0,
            0,
            "Pooled gaps are smaller; a later review of rests finds no difference.",
            lambda c, k: (c, replace(k, framework=FrameworkRoute.ADDITIVE)),
        )
    if choices.days_away > _N_DAYS_SHORT:
        yield Option(
            "shorter-stay",
            "Try the partial within a week",
            "stay",
            0.0,
            0,
            "Abutments drift less.",
            lambda c, k: (c, replace(k, days_away=_N_DAYS_SHORT)),
        )


def _pour_options(case: Case, choices: Choices) -> Iterator[Option]:
    plan = _pick_up(case).pour
    if plan.stone is not Stone.TYPE_4:
        yield Option(
            "stone-type-4", "Pour in Type 4 stone", "stone", 0.0, 0, "It expands least.", _on_pour(stone=Stone.TYPE_4)
        )
    if plan.used_after_h > _LATE_H:
        yield Option(
            "use-earlier",
            "Use the cast within three days",
            "use",
            0.0,
            0,
            "Stone goes on growing.",
            _on_pour(used_after_h=_SOON_H),
        )

    def poured(band: PourBand) -> Change:
        return lambda c, k: (c, replace(k, pour=band))

    for band in (band for band in choices.other_pours if band.change is not None):
        yield Option(
            f"pour:{band.when}",
            f"Pour {band.when}",
            "pour",
            0.0,
            0,
            "The impression changes from the first minute.",
            poured(band),
        )


def _die_options(choices: Choices) -> Iterator[Option]:
    for technique in ("gel", "pattern_resin", "returned_epoxy", "stone"):
        teeth = [
            tooth
            for tooth, ways in choices.open_dies.items()
            if technique in ways and choices.die_technique.get(tooth) not in (None, technique)
        ]
        if teeth:
            words = technique.replace("_", " ")
            yield Option(
                f"die:{technique.replace('_', '-')}",
                f"Use {words} dies for {', '.join(str(t) for t in teeth)}",
                "dies",
                0.0,
                0,
                "The crowns rock differently on them.",
                _on_dies(dict.fromkeys(teeth, technique)),
            )


def _chair_options(case: Case) -> Iterator[Option]:
    pick_up = _pick_up(case)
    if pick_up.material.is_hydrocolloid:
        yield Option(
            "elastomer",
            "Pick up in polyether instead of alginate",
            "material",
            10.0,
            0,
            "It holds its size and the crowns' places.",
            _on_impression(material=ImpressionMaterial.POLYETHER),
        )
    if pick_up.tray is not Tray.RIGID_CUSTOM:
        yield Option(
            "rigid-tray",
            "Use a rigid custom tray",
            "tray",
            45.0,
            1,
            "A tray that bends moves the crowns.",
            _on_impression(tray=Tray.RIGID_CUSTOM),
        )
    if not pick_up.adhesive:
        yield Option(
            "adhesive",
            "Coat the tray with adhesive",
            "adhesive",
            10.0,
            0,
            "It holds the impression to the tray while the crowns are lifted.",
            _on_impression(adhesive=True),
        )
    if pick_up.route is not Route.TRANSFER_BASE:
        yield Option(
            "transfer-base",
            "Lock the crowns in a rigid transfer base",
            "route",
            60.0,
            1,
            "The base carries the crowns.",
            _on_impression(route=Route.TRANSFER_BASE),
        )


def _on_dies(techniques: dict[int, str]) -> Change:
    return lambda c, k: (c, replace(k, die_technique={**k.die_technique, **techniques}))


def _on_impression(**changed: object) -> Change:
    def apply(case: Case, choices: Choices) -> tuple[Case, Choices]:
        current = _pick_up(case)
        new = current.model_copy(update=changed)
        impressions = tuple(new if i.id == current.id else i for i in case.impression)
        cleared = replace(choices, pour=None) if "material" in changed else choices
        return case.model_copy(update={"impression": impressions}), cleared

    return apply


def _on_pour(**changed: object) -> Change:
    def apply(case: Case, choices: Choices) -> tuple[Case, Choices]:
        return _on_impression(pour=_pick_up(case).pour.model_copy(update=changed))(case, choices)

    return apply
