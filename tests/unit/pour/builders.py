"""One impression that has been through something, and its clock; small enough to read in a test."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from tests.examples import demo_bench, demo_case, demo_impressions, minutes

from seatwright.case import (
    Bench,
    CaseState,
    Equipment,
    Impression,
    ImpressionMaterial,
    ImpressionState,
    ImpressionStock,
    Person,
    Skill,
    StepCard,
    Storage,
    StorageSpell,
)
from seatwright.findings import Finding
from seatwright.pour import ImpressionClock, PourResult, assess_pour

OUT = minutes(0)
FOREVER = timedelta(days=60)
LIFTS = (37, 35, 34, 33, 42, 43, 44, 45)
PLANNED = {ImpressionMaterial.ALGINATE: Storage.SEALED_BAG, ImpressionMaterial.EXTENDED_ALGINATE: Storage.SEALED_BAG}
Kept = Sequence[tuple[Storage, float]]


def pick_up(material: ImpressionMaterial = ImpressionMaterial.ALGINATE, **other: Any) -> Impression:
    """Return the example's pick-up in this material, fields replaced by name."""
    return Impression(**(dict(demo_impressions()[0]) | {"material": material} | other))


def opposing(material: ImpressionMaterial = ImpressionMaterial.ALGINATE, **other: Any) -> Impression:
    """Return the example's opposing impression in this material, fields replaced by name."""
    return Impression(**(dict(demo_impressions()[1]) | {"material": material} | other))


def bench_without_maker(**other: Any) -> Bench:
    """Return the example bench without any maker's window."""
    return demo_bench(**({"impression_material": ()} | other))


def alone(*skills: Skill) -> tuple[Person, ...]:
    """Return one person with these skills; with all of them when none is named."""
    return (Person(id="technician", role="dental technician", skills=skills or tuple(Skill)),)


def state_of(
    impression: Impression, kept: Kept = (), *, out_at: datetime = OUT, temperature_c: float | None = None, **other: Any
) -> ImpressionState:
    """Return an impression kept so, storage after storage with its minutes; the last one goes on.

    Disinfected by spray and all crowns in the tray, unless told otherwise.
    """
    spells, since = [], out_at
    for storage, length in kept or [(PLANNED.get(impression.material, Storage.DRY), 0.0)]:
        spells.append(StorageSpell(storage, since))
        since += timedelta(minutes=length)
    fields: dict[str, Any] = {
        "id": impression.id,
        "out_at": out_at,
        "spells": tuple(spells),
        "rinsed": True,
        "disinfected_at": out_at,
        "disinfection_method": "spray",
        "counted": True,
        "seated": frozenset(impression.lifts),
        "in_tray": frozenset(impression.lifts),
    }
    if temperature_c is not None:
        fields["temperatures_c"] = ((out_at, temperature_c),)
    return ImpressionState(**(fields | other))


def assess(
    *impressions: Impression,
    states: Sequence[ImpressionState] = (),
    at_min: float = 0.0,
    bench: Bench | None = None,
    cards: Mapping[str, Sequence[StepCard]] | None = None,
    **other: Any,
) -> PourResult:
    """Return the answer for these impressions, so many minutes after 09:00."""
    case = demo_case(impression=impressions, scan=(), region=(), returned_die=())
    state = CaseState(impressions={s.id: s for s in states})
    return assess_pour(case, state, bench or bench_without_maker(), die_cards=cards or {}, now=minutes(at_min), **other)


def clock_of(
    impression: Impression, kept: Kept = (), *, at_min: float, bench: Bench | None = None, **other: Any
) -> ImpressionClock:
    """Return the clock of one impression kept so, so many minutes after it left the mouth."""
    return assess(impression, states=[state_of(impression, kept, **other)], at_min=at_min, bench=bench).impressions[0]


def found(clock: ImpressionClock, identifier: str) -> Finding:
    """Return the one finding of this kind; a KeyError names those that are there."""
    matching = [f for f in clock.findings if f.id == identifier]
    if len(matching) != 1:
        raise KeyError(f"{identifier}: {len(matching)} among {[f.id for f in clock.findings]}")
    return matching[0]


def kinds(clock: ImpressionClock) -> set[str]:
    """Return the kinds of finding."""
    return {f.id for f in clock.findings}


def stock(material: ImpressionMaterial, **fields: Any) -> tuple[ImpressionStock, ...]:
    """Return the bench's stock of one material."""
    return (ImpressionStock(material=material, **fields),)


def tools(*kinds_: str) -> tuple[Equipment, ...]:
    """Return one of each kind of equipment."""
    return tuple(Equipment(id=f"{kind}-{i}", kind=kind) for i, kind in enumerate(kinds_))
