"""Small impressions, states, benches and cards for the tests of the pour; each field can be replaced by name."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.examples import demo_case

from seatwright.case import (
    Arch,
    Bench,
    CaseState,
    Duration,
    Equipment,
    Impression,
    ImpressionMaterial,
    ImpressionRole,
    ImpressionState,
    Person,
    PourPlan,
    Route,
    Skill,
    StepCard,
    Stone,
    Storage,
    StorageSpell,
    Tray,
)

OUT = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
LIFTS = (37, 35, 34, 33, 42, 43, 44, 45)
CROWNS = (37, 35, 33, 42, 43, 44, 45)


def at(minutes: float) -> datetime:
    return OUT + timedelta(minutes=minutes)


def impression(**other: Any) -> Impression:
    fields: dict[str, Any] = {
        "id": "pick",
        "role": ImpressionRole.PICK_UP,
        "arch": Arch.MANDIBLE,
        "material": ImpressionMaterial.ALGINATE,
        "tray": Tray.RIGID_CUSTOM,
        "adhesive": True,
        "route": Route.OVERALL,
        "lifts": LIFTS,
        "pour": PourPlan(stone=Stone.TYPE_4, water_powder=0.20),
    }
    return Impression(**(fields | other))


def opposing(**other: Any) -> Impression:
    fields: dict[str, Any] = {
        "id": "opp",
        "role": ImpressionRole.OPPOSING,
        "arch": Arch.MAXILLA,
        "route": None,
        "lifts": (),
        "tray": Tray.RIGID_STOCK,
    }
    return impression(**(fields | other))


def case_with(*impressions: Impression) -> Any:
    return demo_case(impression=impressions, scan=(), returned_die=())


def spells(*parts: tuple[Storage, float]) -> tuple[StorageSpell, ...]:
    """Return contiguous spells from (storage, minutes); the last one is open-ended."""
    found, start = [], 0.0
    for index, (storage, minutes) in enumerate(parts):
        until = None if index == len(parts) - 1 else at(start + minutes)
        found.append(StorageSpell(storage, at(start), until))
        start += minutes
    return tuple(found)


def out(*parts: tuple[Storage, float], **other: Any) -> ImpressionState:
    """Return the state of an impression out at `OUT`: counted, disinfected, kept as told."""
    fields: dict[str, Any] = {
        "id": "pick",
        "out_at": OUT,
        "spells": spells(*(parts or ((Storage.SEALED_BAG, 0.0),))),
        "rinsed": True,
        "disinfected_at": at(0),
        "disinfection_method": "spray",
        "counted": True,
        "seated": frozenset(LIFTS),
        "in_tray": frozenset(LIFTS),
    }
    return ImpressionState(**(fields | other))


def state_of(*states: ImpressionState) -> CaseState:
    return CaseState({state.id: state for state in states})


def person(name: str, *skills: Skill) -> Person:
    return Person(id=name, role="tester", skills=skills or tuple(Skill))


def bench(*people: Person, **other: Any) -> Bench:
    fields: dict[str, Any] = {
        "schema": 1,
        "person": people or (person("one"),),
        "equipment": (
            Equipment(id="m", kind="vacuum_mixer"),
            Equipment(id="v", kind="vibrator"),
            Equipment(id="l", kind="curing_light"),
            Equipment(id="b", kind="balance", resolution_g=1.0),
        ),
    }
    return Bench(**(fields | other))


def gel_cards(tooth: int, name: str = "pick") -> list[StepCard]:
    """Return a gel die's cards with the durations of common practice."""
    steps = (
        ("gel-lining", Duration(1.0, 1.5, 2.0), ("curing_light",)),
        ("gel-fill", Duration(1.5, 2.0, 4.0), ("curing_light",)),
        ("gel-wipe", Duration(0.2, 0.3, 0.5), ()),
    )
    return [
        StepCard(step, step, "", name, tooth, Skill.DIES, duration, equipment=equipment, batch=f"gel:{name}")
        for step, duration, equipment in steps
    ]


def seven_gel_dies(teeth: Sequence[int] = CROWNS) -> dict[str, list[StepCard]]:
    return {"pick": [card for tooth in teeth for card in gel_cards(tooth)]}
