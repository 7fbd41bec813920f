"""Step cards of dies that cure inside the crown: gel, masked gel, pattern resin.

Owns their minutes, resources and cautions. Knows no rule.
"""

from functools import partial

from seatwright.case import Duration, Intaglio, Skill, StepCard, UnitKind
from seatwright.dies import _cautions as caution
from seatwright.dies._facts import EdgeClass, UnitFacts
from seatwright.evidence import source_of

__all__ = ["gel_cards", "mask_card", "pattern_resin_cards", "post_film_card"]

_SEPARATOR = Duration(0.3, 0.5, 1)  # common practice
_GEL_LINING = Duration(1, 1.5, 2)  # common practice
_GEL_FILL = Duration(1.5, 2, 4)  # common practice
_GEL_WIPE = Duration(0.2, 0.3, 0.5)  # common practice
_LUBRICATE = Duration(0.5, 1, 1)  # common practice
_BEAD_BRUSH = Duration(2, 3, 5)  # common practice
_HARDEN = Duration(4, 6, 10)  # common practice
_MASK = Duration(1, 2, 4)  # common practice
_PRIMARIES = (UnitKind.PRIMARY_TELESCOPE, UnitKind.PRIMARY_CONUS)


def gel_cards(facts: UnitFacts) -> list[StepCard]:
    """Separator where needed, lining, filling round a bent pin, wiping; all in the batch of their impression."""
    card = partial(
        StepCard,
        impression=facts.impression,
        tooth=facts.tooth,
        skill=Skill.DIES,
        batch=f"gel-dies:{facts.impression}",
    )
    oven = (caution.NO_OVEN,) if facts.is_hydrocolloid else ()
    metal = "; in metal the light enters from the open end only" if facts.is_metal else ""
    steps = [_separator_card(facts, card.keywords["batch"])] if facts.gel_needs_separator else []
    steps += [
        card(
            id="gel-lining",
            title="Gel: line and cure",
            do=f"A thin first increment over the inside, {_reach(facts)}; cure{metal}. Probe the bottom: hard.",
            duration=_GEL_LINING,
            equipment=("curing_light",),
            resources=("light-cured die gel",),
            cautions=(*oven, caution.BLUE_LIGHT, caution.METHACRYLATE, caution.MAKER),
            source=source_of("die_doc"),
        ),
        card(
            id="gel-fill",
            title=f"Gel: fill round pin {facts.tooth}",
            do=f"Within 10 min of the lining: fill, set in a bent pin of 1 mm or more numbered {facts.tooth}, cure. "
            "The pin touches neither crown nor tray.",
            duration=_GEL_FILL,
            equipment=("curing_light",),
            resources=("light-cured die gel", "retention pin, bent", f"label {facts.tooth}"),
            cautions=(*oven, caution.NUMBER, caution.BLUE_LIGHT),
        ),
        card(
            id="gel-wipe",
            title="Wipe the gel",
            do="Wipe off the uncured film; look for flash over the edge and remove it.",
            duration=_GEL_WIPE,
            resources=("gauze",),
            cautions=(caution.METHACRYLATE, *((caution.LIFT_ONCE,) if facts.has_brittle_edge else ())),
        ),
    ]
    return steps


def mask_card(facts: UnitFacts) -> StepCard:
    """Wax over the brittle edges, before any resin."""
    brittle = facts.surfaces_with(EdgeClass.BUTT, EdgeClass.GLASS_CERAMIC)
    where = ", ".join(brittle) or "ceramic"
    has_metal_stop = len(brittle) < len(facts.edges) and facts.is_metal
    stop = "leave the metal bare as a stop" if has_metal_stop else "leave the floor bare: it is the only stop"
    return StepCard(
        id="mask-wax",
        title=f"Mask the ceramic: {where}",
        do=f"Wax over the {where} edge and 2 mm past its line angles; {stop}.",
        impression=facts.impression,
        tooth=facts.tooth,
        skill=Skill.MASK,
        duration=_MASK,
        equipment=("electric_waxer",),
        resources=("masking wax",),
        cautions=(
            "No bare ceramic edge may show: a hard resin die that touches it breaks it.",
            "The curing light warms the wax: cure in short bursts.",
            caution.FLAME,
            caution.WAX_HEAT,
        ),
    )


def post_film_card(facts: UnitFacts) -> StepCard:
    """Wax film on a post that came out inside its crown."""
    return StepCard(
        id="post-film",
        title="Film the post",
        do="Thin wax film on the whole bare post, so that the die lets go of it.",
        impression=facts.impression,
        tooth=facts.tooth,
        skill=Skill.MASK,
        duration=_MASK,
        equipment=("electric_waxer",),
        resources=("wax",),
        cautions=(caution.FLAME, caution.WAX_HEAT),
    )


def pattern_resin_cards(facts: UnitFacts) -> list[StepCard]:
    """Lubricant, bead-brush build-up round a pin, hardening."""
    card = partial(StepCard, impression=facts.impression, tooth=facts.tooth, skill=Skill.DIES)
    oven = (caution.NO_OVEN,) if facts.is_hydrocolloid else ()
    separator = [_separator_card(facts, "")] if facts.intaglio is not Intaglio.CLEAN else []
    return [
        *separator,
        card(
            id="lubricate",
            title="Lubricate",
            do="Thin film of lubricant over the whole inside and the edge.",
            duration=_LUBRICATE,
            resources=("lubricant",),
            cautions=(caution.LUBRICANT,),
        ),
        card(
            id="resin-build",
            title=f"Pattern resin round pin {facts.tooth}",
            do=f"Bead and brush, {_reach(facts)}; set in a bent pin numbered {facts.tooth}.",
            duration=_BEAD_BRUSH,
            resources=("pattern resin", "retention pin, bent", f"label {facts.tooth}"),
            cautions=(caution.NUMBER, caution.METHACRYLATE, caution.FLAME, caution.MAKER),
        ),
        card(
            id="resin-harden",
            title="Let it harden",
            do="Do not touch. Pour 17 min or more after the mix if the impression allows.",
            duration=_HARDEN,
            attended=False,
            cautions=(*oven, "Most of its shrinkage comes in the first 17 min."),
            source=source_of("die_mojon_t"),
        ),
    ]


def _separator_card(facts: UnitFacts, batch: str) -> StepCard:
    treated = (caution.TREATED,) if facts.intaglio is not Intaglio.CLEAN else ()
    return StepCard(
        id="separator",
        title="Separator",
        do="Separator over the whole inside, on a dry wall.",
        impression=facts.impression,
        tooth=facts.tooth,
        skill=Skill.DIES,
        duration=_SEPARATOR,
        resources=("separator",),
        cautions=(*treated, caution.SEPARATOR, caution.MAKER),
        batch=batch,
    )


def _reach(facts: UnitFacts) -> str:
    """Say how far the resin may go."""
    limits = []
    if facts.has_brittle_edge:
        limits.append("up to the wax, never onto the ceramic edge")
    if facts.surfaces_with(EdgeClass.KNIFE_EDGE):
        limits.append("0.5 to 1 mm short of the knife edge")
    if facts.kind in _PRIMARIES:
        limits.append("nothing on the outer wall")
    return ", ".join(limits) or "up to the edge, never over it"
