"""The invented case's bench and log: three days in March, times in UTC, an hour behind the clock on the wall."""

from collections.abc import Sequence
from datetime import UTC, datetime

from seatwright.case import (
    Bench,
    CrownsCounted,
    CrownsDried,
    Decided,
    DieTried,
    Disinfected,
    Equipment,
    Event,
    ImpressionMaterial,
    ImpressionOut,
    ImpressionStock,
    MeasuredOnce,
    Person,
    Poured,
    Rinsed,
    Seating,
    Separated,
    SignedOff,
    Skill,
    StepFinished,
    StepStarted,
    Stone,
    StoneStock,
    Storage,
    StorageChanged,
)
from seatwright.demo._plan import OPPOSING, OPPOSING_AGAIN, PICK_UP, RETURNED_DIE, UNITS

__all__ = ["AS_OF", "make_bench", "make_log"]

AS_OF = datetime(2026, 3, 4, 9, 46, tzinfo=UTC)
_GEL = (37, 35, 33, 42, 43, 44)
_MASKED = (33, 42, 43)


def make_bench() -> Bench:
    """Return people, equipment and stock: one of each machine, and a trainee who may only mix."""
    return Bench(
        schema=1,
        person=(
            Person(id="dentist", role="dentist", skills=(Skill.COUNT, Skill.DIES, Skill.SEPARATE)),
            Person(id="assistant", role="dental assistant", skills=(Skill.DISINFECT, Skill.COUNT, Skill.SEPARATE)),
            Person(id="technician", role="dental technician", skills=tuple(Skill)),
            Person(id="trainee", role="trainee", skills=(Skill.MIX,)),
        ),
        equipment=(
            Equipment(id="mixer-1", kind="vacuum_mixer"),
            Equipment(id="vibrator-1", kind="vibrator"),
            Equipment(id="light-1", kind="curing_light"),
            Equipment(id="waxer-1", kind="electric_waxer"),
            Equipment(id="humid-1", kind="humid_box"),
            Equipment(id="balance-1", kind="balance", resolution_g=0.5),
        ),
        stone=(
            StoneStock(
                stone=Stone.TYPE_4,
                water_powder=0.20,
                sachet_g=60.0,
                setting_expansion_percent=0.09,
                working_time_min=6.0,
                lot="S4-0326",
            ),
            StoneStock(stone=Stone.TYPE_3, water_powder=0.30, setting_expansion_percent=0.15, lot="S3-0126"),
        ),
        impression_material=(
            ImpressionStock(material=ImpressionMaterial.POLYETHER, disinfect_min=10.0),
            ImpressionStock(material=ImpressionMaterial.ALGINATE, pour_within_min=12.0, disinfect_min=3.0),
        ),
        water_resolution_ml=1.0,
    )


def make_log() -> tuple[Event, ...]:
    """Return what happened up to `AS_OF`, numbered from 1 in order of time."""
    written = [*_verification(), *_pick_up(), *_first_opposing(), *_dies(), *_pour(), *_third_day()]
    written.sort(key=lambda event: event.at)
    return tuple(event.model_copy(update={"seq": i}) for i, event in enumerate(written, start=1))


def _at(day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def _verification() -> list[Event]:
    at = datetime(2026, 2, 27, 13, 20, tzinfo=UTC)
    return [
        SignedOff(
            seq=1,
            at=at,
            by="dentist",
            gate="verified-cast",
            accepted=True,
            note="Rigid index made in the mouth; foil held at every seat. This cast is the reference.",
        )
    ]


def _pick_up() -> list[Event]:
    return [
        ImpressionOut(seq=1, at=_at(2, 8, 40), by="dentist", impression=PICK_UP),
        Rinsed(seq=1, at=_at(2, 8, 41), by="assistant", impression=PICK_UP),
        CrownsCounted(seq=1, at=_at(2, 8, 44), by="technician", impression=PICK_UP, seated=UNITS, in_tray=UNITS),
        Disinfected(
            seq=1,
            at=_at(2, 8, 56),
            by="assistant",
            impression=PICK_UP,
            method="spray",
            contact_min=10.0,
            bagged=True,
        ),
        StorageChanged(seq=1, at=_at(2, 8, 57), by="assistant", impression=PICK_UP, storage=Storage.DRY),
    ]


def _first_opposing() -> list[Event]:
    return [
        ImpressionOut(seq=1, at=_at(2, 8, 59), by="dentist", impression=OPPOSING),
        Rinsed(seq=1, at=_at(2, 9, 0), by="assistant", impression=OPPOSING),
        Disinfected(
            seq=1, at=_at(2, 9, 4), by="assistant", impression=OPPOSING, method="spray", contact_min=3.0, bagged=True
        ),
        StorageChanged(seq=1, at=_at(2, 9, 4), by="assistant", impression=OPPOSING, storage=Storage.DAMP_WRAP),
        Poured(
            seq=1,
            at=_at(2, 9, 9),
            by="technician",
            impression=OPPOSING,
            stone=Stone.TYPE_3,
            powder_g=150.0,
            water_ml=45.0,
            lot="S3-0126",
        ),
        StorageChanged(seq=1, at=_at(2, 9, 10), by="assistant", impression=OPPOSING, storage=Storage.HUMID_BOX),
        Separated(seq=1, at=_at(2, 10, 2), by="assistant", impression=OPPOSING),
    ]


def _step(step: str, units: Sequence[int], start: tuple[int, int], end: tuple[int, int]) -> list[Event]:
    teeth = tuple(units)
    by = "trainee" if step == "mix" else "technician"
    return [
        StepStarted(seq=1, at=_at(2, *start), by=by, impression=PICK_UP, step=step, units=teeth),
        StepFinished(seq=1, at=_at(2, *end), by=by, impression=PICK_UP, step=step, units=teeth),
    ]


def _dies() -> list[Event]:
    return [
        DieTried(
            seq=1,
            at=_at(2, 9, 14),
            by="technician",
            die=RETURNED_DIE,
            tooth=43,
            seating=Seating.SHORT,
            gap_um=180.0,
            short_by_mm=0.4,
        ),
        Decided(
            seq=1,
            at=_at(2, 9, 16),
            by="dentist",
            decision="The returned die is not used: 43 is masked and gets a gel die.",
            reason="It is engraved 33, enters 0.4 mm short and gapes 180 µm.",
            about="43",
        ),
        *_step("flash-and-dry", _GEL, (9, 17), (9, 22)),
        CrownsDried(seq=1, at=_at(2, 9, 22), by="technician", impression=PICK_UP, units=_GEL),
        *_step("mask-wax", _MASKED, (9, 23), (9, 30)),
        *_step("separator", (44,), (9, 30), (9, 31)),
        *_step("gel-lining", _GEL, (9, 31), (9, 38)),
        *_step("gel-fill", _GEL, (9, 38), (9, 47)),
        *_step("gel-wipe", _GEL, (9, 47), (9, 49)),
        *_step("analog-seat", (45,), (9, 49), (9, 51)),
        *_step("pontic-block", (34,), (9, 51), (9, 53)),
        *_step("bar-stop", (33, 42), (9, 53), (9, 57)),
    ]


def _pour() -> list[Event]:
    return [
        *_step("box", (), (10, 3), (10, 11)),
        *_step("weigh", (), (10, 11), (10, 13)),
        *_step("mix", (), (10, 13), (10, 14)),
        Poured(
            seq=1,
            at=_at(2, 10, 17),
            by="technician",
            impression=PICK_UP,
            stone=Stone.TYPE_4,
            powder_g=120.0,
            water_ml=24.0,
            lot="S4-0326",
        ),
        *_step("pour-base", (), (10, 34), (10, 39)),
        Separated(seq=1, at=_at(2, 11, 25), by="technician", impression=PICK_UP),
    ]


def _third_day() -> list[Event]:
    return [
        MeasuredOnce(
            seq=1,
            at=_at(4, 8, 10),
            by="technician",
            quantity="age of the pick-up cast when scanned",
            value=45.9,
            unit="h",
            u=0.1,
            about="poured",
        ),
        Decided(
            seq=1,
            at=_at(4, 9, 12),
            by="dentist",
            decision="Take the opposing impression again while the patient is here.",
            reason="The cast of the first one has a bubble in the central fossa of 16.",
            about=OPPOSING,
        ),
        ImpressionOut(seq=1, at=_at(4, 9, 32), by="dentist", impression=OPPOSING_AGAIN),
        Rinsed(seq=1, at=_at(4, 9, 33), by="assistant", impression=OPPOSING_AGAIN),
    ]
