"""Invented example values that many tests share: one realistic case with its bench and its log.

Mandible, Kennedy class II modification 2. The mistake to catch: the returned die for 43 is engraved 33. Import as
``from tests.examples import demo_bench, demo_case, demo_events``. Every function returns a fresh, equal value.
"""

import math
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from seatwright.case import (
    Arch,
    Attachment,
    AttachmentKind,
    Bar,
    Bench,
    Body,
    Case,
    CoreKind,
    CrownsCounted,
    DieTried,
    Disinfected,
    Equipment,
    Event,
    Impression,
    ImpressionMaterial,
    ImpressionOut,
    ImpressionRole,
    ImpressionStock,
    Intaglio,
    Join,
    JoinKind,
    LengthUnit,
    MaleJoin,
    Margin,
    MarginKind,
    Margins,
    Motion,
    Person,
    PourPlan,
    Region,
    ReturnedDie,
    Rinsed,
    Route,
    Scan,
    ScanOf,
    ScanRole,
    Seating,
    Skill,
    Stone,
    StoneStock,
    Surface,
    Teeth,
    Tolerance,
    Tray,
    Unit,
    UnitKind,
    Veneer,
)

DEMO_NOW = datetime(2026, 3, 10, 9, 30, tzinfo=UTC)
"""The moment at which the example case is looked at."""

PICK_UP = "pickup-1"
OPPOSING = "opposing-1"
RETURNED_DIE = "die-43"


def margin(kind: MarginKind, thickness_mm: float, subgingival_mm: float = 0.0) -> Margin:
    """Return one edge."""
    return Margin(kind=kind, thickness_mm=thickness_mm, subgingival_mm=subgingival_mm)


def all_round(edge: Margin, **other: Margin) -> Margins:
    """Return four equal edges, some of them replaced by name: ``all_round(collar, facial=butt)``."""
    edges = dict.fromkeys(("facial", "mesial", "lingual", "distal"), edge) | other
    return Margins(**edges)


COLLAR = margin(MarginKind.METAL_COLLAR, 0.4)
KNIFE_EDGE = margin(MarginKind.METAL_KNIFE_EDGE, 0.15)
BUTT = margin(MarginKind.CERAMIC_BUTT, 1.0)
ZIRCONIA_EDGE = margin(MarginKind.ZIRCONIA, 0.5)


def metal_ceramic_crown(tooth: int, **other: Any) -> Unit:
    """Return a metal-ceramic crown with metal collars all round, fields replaced by name."""
    fields: dict[str, Any] = {
        "tooth": tooth,
        "kind": UnitKind.CROWN,
        "body": Body.NOBLE_ALLOY,
        "veneer": Veneer.FELDSPATHIC,
        "margin": all_round(COLLAR),
        "neck_mm": 5.0,
    }
    return Unit(**(fields | other))


def demo_units() -> tuple[Unit, ...]:
    """Return the eight fixed units, patient's left to right."""
    return (
        Unit(
            tooth=37,
            kind=UnitKind.PRIMARY_CONUS,
            body=Body.NOBLE_ALLOY,
            margin=all_round(KNIFE_EDGE),
            neck_mm=7.0,
            wall_taper_deg=6.0,
        ),
        metal_ceramic_crown(35, core=CoreKind.POST_AND_CORE, core_cemented=True),
        Unit(tooth=34, kind=UnitKind.PONTIC, body=Body.NOBLE_ALLOY, veneer=Veneer.FELDSPATHIC),
        metal_ceramic_crown(
            33,
            margin=all_round(COLLAR, facial=BUTT, lingual=margin(MarginKind.METAL_COLLAR, 0.4, 1.5)),
            neck_mm=5.5,
        ),
        metal_ceramic_crown(42, margin=all_round(COLLAR, facial=BUTT), neck_mm=3.6),
        metal_ceramic_crown(43, margin=all_round(COLLAR, facial=BUTT), neck_mm=5.4),
        Unit(
            tooth=44,
            kind=UnitKind.CROWN,
            body=Body.ZIRCONIA,
            margin=all_round(ZIRCONIA_EDGE),
            neck_mm=5.0,
            intaglio=Intaglio.PRIMED,
        ),
        Unit(tooth=45, kind=UnitKind.IMPLANT_SCREWED, body=Body.NOBLE_ALLOY, veneer=Veneer.FELDSPATHIC),
    )


def leaning(angle_deg: float) -> tuple[float, float, float]:
    """Return the unit vector that leans from +z towards the patient's left by an angle."""
    angle = math.radians(angle_deg)
    return (math.sin(angle), 0.0, math.cos(angle))


def demo_attachments(*, divergence_deg: float = 0.2) -> tuple[Attachment, ...]:
    """Return four attachments; the bar's sleeve diverges from the slide at 35 by the given angle."""
    return (
        Attachment(
            id="conus-37",
            kind=AttachmentKind.CONUS,
            tooth=37,
            motion=Motion.RIGID,
            male_joined=MaleJoin.LUTED_ON_CAST,
            withdraw_direction=(0.0, 0.0, 1.0),
            at_mm=(21.9, 24.1, 6.0),
        ),
        Attachment(
            id="slide-35",
            kind=AttachmentKind.SLIDE,
            tooth=35,
            surface=Surface.DISTAL,
            motion=Motion.RIGID,
            male_joined=MaleJoin.CAST_ON,
            withdraw_direction=(0.0, 0.0, 1.0),
            at_mm=(19.0, 11.5, 6.0),
            length_mm=5.0,
            clearance_um=20.0,
            clearance_is="total",
        ),
        Attachment(
            id="sleeve-front",
            kind=AttachmentKind.BAR_CLIP,
            bar="bar-front",
            motion=Motion.RIGID,
            male_joined=MaleJoin.PICKED_UP_IN_MOUTH,
            withdraw_direction=leaning(divergence_deg),
            at_mm=(1.0, -1.0, 3.0),
            length_mm=3.0,
            clearance_um=15.0,
            clearance_is="per_side",
        ),
        Attachment(
            id="stud-45",
            kind=AttachmentKind.STUD,
            tooth=45,
            surface=Surface.DISTAL,
            motion=Motion.RESILIENT,
            male_joined=MaleJoin.PICKED_UP_IN_MOUTH,
            at_mm=(-19.5, 11.5, 6.0),
        ),
    )


def demo_impressions() -> tuple[Impression, ...]:
    """Return the pick-up and the opposing impression."""
    return (
        Impression(
            id=PICK_UP,
            role=ImpressionRole.PICK_UP,
            arch=Arch.MANDIBLE,
            material=ImpressionMaterial.POLYETHER,
            tray=Tray.RIGID_CUSTOM,
            adhesive=True,
            route=Route.OVERALL,
            lifts=(37, 35, 34, 33, 42, 43, 44, 45),
            pour=PourPlan(stone=Stone.TYPE_4, water_powder=0.20, base_stone=Stone.TYPE_3),
        ),
        Impression(
            id=OPPOSING,
            role=ImpressionRole.OPPOSING,
            arch=Arch.MAXILLA,
            material=ImpressionMaterial.ALGINATE,
            tray=Tray.RIGID_STOCK,
            adhesive=True,
            pour=PourPlan(stone=Stone.TYPE_4),
        ),
    )


def demo_returned_die(**other: Any) -> ReturnedDie:
    """Return the die sent back for 43 and engraved 33, fields replaced by name."""
    fields: dict[str, Any] = {
        "id": RETURNED_DIE,
        "tooth": 43,
        "engraved": "33",
        "current_preparation": True,
        "over_ditched": False,
        "keyed_root": True,
    }
    return ReturnedDie(**(fields | other))


def demo_scans() -> tuple[Scan, ...]:
    """Return the reference and the poured scan; the files themselves are not part of the example."""
    return (
        Scan(
            id="reference",
            role=ScanRole.REFERENCE,
            of=ScanOf.VERIFIED_CAST,
            arch=Arch.MANDIBLE,
            file="scans/reference.ply",
            length_unit=LengthUnit.MILLIMETRE,
            repeatability_um=8.0,
        ),
        Scan(
            id="poured",
            role=ScanRole.POURED,
            of=ScanOf.POURED_CAST,
            arch=Arch.MANDIBLE,
            file="scans/poured.ply",
            length_unit=LengthUnit.MILLIMETRE,
            repeatability_um=8.0,
            impression=PICK_UP,
        ),
    )


_SEEDS_MM = {
    37: (21.9, 24.1, 6.0),
    35: (18.5, 8.0, 7.0),
    33: (11.7, 0.5, 9.0),
    42: (-7.7, -3.0, 8.0),
    43: (-12.0, 0.8, 9.0),
    44: (-15.9, 5.2, 8.0),
    45: (-18.7, 9.5, 7.0),
}


def demo_teeth(**other: Any) -> Teeth:
    """Return the state of the sixteen positions, lists replaced by name."""
    fields: dict[str, Any] = {
        "present": (37, 35, 33, 42, 43, 44),
        "implants": (45,),
        "missing_fixed": (34,),
        "missing_partial": (36, 32, 31, 41, 46, 47),
        "missing_not_replaced": (38, 48),
    }
    return Teeth(**(fields | other))


def demo_case(**other: Any) -> Case:
    """Return the example case, top-level fields replaced by name: ``demo_case(unit=())``."""
    fields: dict[str, Any] = {
        "schema": 1,
        "code": "DEMO-1",
        "title": "Extension partial on conus, slide, bar and stud",
        "arch": Arch.MANDIBLE,
        "as_of": DEMO_NOW,
        "teeth": demo_teeth(),
        "unit": demo_units(),
        "join": (
            Join(id="bridge-33-35", kind=JoinKind.BRIDGE, units=(33, 34, 35)),
            Join(id="splint-42-43", kind=JoinKind.SPLINT, units=(42, 43)),
        ),
        "attachment": demo_attachments(),
        "bar": (Bar(id="bar-front", from_tooth=33, to_tooth=42, length_mm=17.0, ridge_gap_mm=2.0, stops=2),),
        "impression": demo_impressions(),
        "returned_die": (demo_returned_die(),),
        "scan": demo_scans(),
        "region": tuple(Region(tooth=t, seed_mm=seed, radius_mm=3.0) for t, seed in _SEEDS_MM.items()),
        "tolerance": Tolerance(unit_shift_um=50.0, reason="agreed by dentist and technician; judgement"),
    }
    return Case(**(fields | other))


def demo_case_with_unit(tooth: int, **other: Any) -> Case:
    """Return the example case with some fields of one unit replaced by name."""
    units = tuple(Unit(**(dict(u) | other)) if u.tooth == tooth else u for u in demo_units())
    return demo_case(unit=units)


def twin_axes_case() -> Case:
    """Return the twin whose two rigid axes stand 2.6 degrees apart."""
    return demo_case(code="DEMO-2", attachment=demo_attachments(divergence_deg=2.6))


def minutes(count: float) -> datetime:
    """Return the moment so many minutes after 09:00 on the example's day."""
    return datetime(2026, 3, 10, 9, 0, tzinfo=UTC) + timedelta(minutes=count)


def demo_events() -> tuple[Event, ...]:
    """Return the log up to `DEMO_NOW`: both impressions out, crowns counted, the wrong die tried.

    The opposing alginate has lain unwrapped for 14 minutes.
    """
    lifted = (37, 35, 34, 33, 42, 43, 44, 45)
    return (
        ImpressionOut(seq=1, at=minutes(5), by="dentist", impression=PICK_UP),
        Rinsed(seq=2, at=minutes(6), by="assistant", impression=PICK_UP),
        ImpressionOut(seq=3, at=minutes(16), by="dentist", impression=OPPOSING),
        Rinsed(seq=4, at=minutes(17), by="assistant", impression=OPPOSING),
        Disinfected(
            seq=5, at=minutes(17), by="assistant", impression=PICK_UP, method="spray", contact_min=10.0, bagged=True
        ),
        CrownsCounted(seq=6, at=minutes(20), by="technician", impression=PICK_UP, seated=lifted, in_tray=lifted),
        DieTried(
            seq=7,
            at=minutes(24),
            by="technician",
            die=RETURNED_DIE,
            tooth=43,
            seating=Seating.SHORT,
            gap_um=180.0,
            short_by_mm=0.4,
        ),
    )


def demo_bench(**other: Any) -> Bench:
    """Return the example bench, top-level fields replaced by name."""
    fields: Mapping[str, Any] = {
        "schema": 1,
        "person": (
            Person(id="dentist", role="dentist", skills=(Skill.COUNT, Skill.DIES)),
            Person(id="assistant", role="dental assistant", skills=(Skill.DISINFECT, Skill.COUNT, Skill.MIX)),
            Person(id="technician", role="dental technician", skills=tuple(Skill)),
            Person(id="trainee", role="trainee", skills=(Skill.MIX,)),
        ),
        "equipment": (
            Equipment(id="mixer-1", kind="vacuum_mixer"),
            Equipment(id="vibrator-1", kind="vibrator"),
            Equipment(id="light-1", kind="curing_light"),
            Equipment(id="waxer-1", kind="electric_waxer"),
            Equipment(id="humid-1", kind="humid_box"),
            Equipment(id="balance-1", kind="balance", resolution_g=0.5),
        ),
        "stone": (
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
        "impression_material": (
            ImpressionStock(material=ImpressionMaterial.POLYETHER, disinfect_min=10.0),
            ImpressionStock(material=ImpressionMaterial.ALGINATE, pour_within_min=12.0, disinfect_min=3.0),
        ),
        "water_resolution_ml": 1.0,
    }
    return Bench(**(dict(fields) | other))
