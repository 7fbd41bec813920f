"""The one thing not to do to a unit: a ranked list of hazards, the first that applies is said.

Owns the wording and the order. Knows no step cards.
"""

from collections.abc import Callable
from dataclasses import dataclass

from seatwright.case import Intaglio, UnitKind
from seatwright.dies._facts import EdgeClass, UnitFacts
from seatwright.dies._result import Technique

__all__ = ["say_never"]

_RESINS = (Technique.GEL, Technique.PATTERN_RESIN, Technique.MASKED)


@dataclass(frozen=True, slots=True)
class _Hazard:
    applies: Callable[[UnitFacts, Technique | None], bool]
    words: Callable[[UnitFacts], str]


def _wrong_die(facts: UnitFacts) -> str:
    die = next(die for die in facts.dies if die.has_wrong_number)
    return f"Never put the die engraved {die.engraved} into {facts.tooth}"


def _brittle(facts: UnitFacts) -> str:
    surfaces = facts.surfaces_with(EdgeClass.BUTT)
    if not surfaces:
        return "glass-ceramic edge"
    where = "" if len(surfaces) == len(facts.edges) else " and ".join(surfaces) + " "
    return f"{where}porcelain edge"


# common practice: the order of hazards is a technician's
_HAZARDS: tuple[_Hazard, ...] = (
    _Hazard(lambda f, _: bool(f.faults), lambda f: f"Never pour while {f.faults[0].tooth} is {f.faults[0].kind}"),
    _Hazard(
        lambda f, _: f.kind is UnitKind.PRIMARY_CONUS and f.is_hydrocolloid,
        lambda _: "Never pick a smooth cone up in alginate",
    ),
    _Hazard(lambda f, _: f.kind is UnitKind.PONTIC, lambda _: "Never a die in a pontic, nor stone locked beside it"),
    _Hazard(
        lambda f, _: f.kind is UnitKind.IMPLANT_SCREWED,
        lambda _: "Never resin or stone in place of the analog, nor an analog that does not seat",
    ),
    _Hazard(lambda f, _: not f.edges, lambda _: "Never a die before the margin is known"),
    _Hazard(
        lambda f, chosen: any(die.has_wrong_number for die in f.dies) and chosen is not Technique.RETURNED_EPOXY,
        _wrong_die,
    ),
    _Hazard(
        lambda f, chosen: f.has_brittle_edge and chosen is Technique.RETURNED_EPOXY,
        lambda f: f"Never pry the {_brittle(f)} off its die: lift once, along the axis",
    ),
    _Hazard(lambda f, _: f.has_brittle_edge, lambda f: f"Never a hard resin die against the {_brittle(f)}"),
    _Hazard(lambda f, _: f.is_screw_channel_open, lambda _: "Never a die while the screw channel is open"),
    _Hazard(lambda f, _: bool(f.open_features), lambda f: f"Never a die while the {f.open_features[0]} inside is open"),
    _Hazard(lambda f, _: f.is_core_in_crown, lambda _: "Never resin on the bare post: wax film first"),
    _Hazard(
        lambda f, chosen: f.intaglio is not Intaglio.CLEAN and chosen in _RESINS,
        lambda f: f"Never resin without separator: the {f.intaglio.replace('_', '-')} inside bonds to it",
    ),
    _Hazard(
        lambda _, chosen: chosen is Technique.RETURNED_EPOXY,
        lambda _: "Never more than a trace of cyanoacrylate, and only in a dry crown",
    ),
    _Hazard(
        lambda f, _: f.kind in (UnitKind.PRIMARY_CONUS, UnitKind.PRIMARY_TELESCOPE),
        lambda _: "Never resin or wax on the outer wall",
    ),
    _Hazard(
        lambda f, _: bool(f.surfaces_with(EdgeClass.ZIRCONIA)),
        lambda _: "Never resin over the zirconia edge, nor without separator",
    ),
    _Hazard(lambda f, _: bool(f.surfaces_with(EdgeClass.KNIFE_EDGE)), lambda _: "Never lever against the knife edge"),
    _Hazard(lambda f, _: f.has_thin_neck, lambda _: "Never a stone post in this thin neck"),
    _Hazard(
        lambda f, chosen: chosen is Technique.GEL and f.is_hydrocolloid,
        lambda _: "Never a light or heat oven while resin is in the alginate",
    ),
    _Hazard(lambda _, chosen: chosen is Technique.PATTERN_RESIN, lambda _: "Never pattern resin without lubricant"),
    _Hazard(
        lambda f, chosen: chosen is Technique.GEL and f.is_metal,
        lambda _: "Never fill gel in one go: line and cure first",
    ),
    _Hazard(lambda _f, _chosen: True, lambda _: "Never a die without its tooth number"),
)


def say_never(facts: UnitFacts, chosen: Technique | None) -> str:
    """Return the gravest thing not to do to this unit, short and imperative."""
    return next(hazard.words(facts) for hazard in _HAZARDS if hazard.applies(facts, chosen))
