"""The invented case as planned: what stands in its case document. Places come from the generated arch."""

import math
from collections.abc import Mapping
from datetime import datetime

from seatwright.case import (
    Arch,
    Attachment,
    AttachmentKind,
    Bar,
    Body,
    Case,
    CoreKind,
    Impression,
    ImpressionMaterial,
    ImpressionRole,
    Intaglio,
    Join,
    JoinKind,
    LengthUnit,
    MakerWindow,
    MaleJoin,
    Margin,
    MarginKind,
    Margins,
    Motion,
    PourPlan,
    Region,
    ReturnedDie,
    Route,
    Scan,
    ScanOf,
    ScanRole,
    Stone,
    Surface,
    Teeth,
    Tolerance,
    Tray,
    Unit,
    UnitKind,
    Veneer,
)
from seatwright.demo._holds import make_clasps, make_guide_planes, make_rests

__all__ = [
    "CONUS_LEAN_DEG",
    "OPPOSING",
    "OPPOSING_AGAIN",
    "PICK_UP",
    "POURED_FILE",
    "REFERENCE_FILE",
    "RETURNED_DIE",
    "UNITS",
    "make_plan",
]

PICK_UP, OPPOSING, OPPOSING_AGAIN, RETURNED_DIE = "pickup-1", "opposing-1", "opposing-2", "die-43"
REFERENCE_FILE, POURED_FILE = "scans/reference.ply", "scans/poured.ply"
UNITS = (37, 35, 34, 33, 42, 43, 44, 45)
CONUS_LEAN_DEG = 0.2
_REGION_RADIUS_MM = {37: 4.6, 42: 3.6}
_DEFAULT_RADIUS_MM = 4.0


def make_plan(
    as_of: datetime,
    seeds_mm: Mapping[int, tuple[float, float, float]],
    places_mm: Mapping[str, tuple[float, float, float]],
    margins_mm: Mapping[int, tuple[float, float, float]],
) -> Case:
    """Return the case document; seeds and middles of margins by tooth, other places by id, in the reference's frame."""
    return Case(
        schema=1,
        code="DEMO-1",
        title="Extension partial on a conus, a rigid slide, a bar and a stud",
        arch=Arch.MANDIBLE,
        as_of=as_of,
        teeth=Teeth(
            present=(37, 35, 33, 42, 43, 44),
            implants=(45,),
            missing_fixed=(34,),
            missing_partial=(36, 32, 31, 41, 46, 47),
            missing_not_replaced=(38, 48),
        ),
        unit=tuple(u.model_copy(update={"margin_center_mm": margins_mm.get(u.tooth)}) for u in _units()),
        join=(
            Join(id="bridge-33-35", kind=JoinKind.BRIDGE, units=(33, 34, 35)),
            Join(id="splint-42-43", kind=JoinKind.SPLINT, units=(42, 43)),
        ),
        attachment=_attachments(places_mm),
        bar=(Bar(id="bar-front", from_tooth=33, to_tooth=42, length_mm=17.0, ridge_gap_mm=2.0, stops=2),),
        rest=make_rests(places_mm),
        clasp=make_clasps(places_mm),
        guide_plane=make_guide_planes(places_mm),
        impression=_impressions(),
        returned_die=(
            ReturnedDie(
                id=RETURNED_DIE,
                tooth=43,
                engraved="33",
                current_preparation=True,
                over_ditched=False,
                keyed_root=True,
            ),
        ),
        scan=_scans(),
        region=tuple(
            Region(tooth=t, seed_mm=seeds_mm[t], radius_mm=_REGION_RADIUS_MM.get(t, _DEFAULT_RADIUS_MM)) for t in UNITS
        ),
        tolerance=Tolerance(
            unit_shift_um=50.0,
            reason="Dentist and technician for this case: play in the cement space takes up about 50 µm. Judgement.",
        ),
    )


def _edge(kind: MarginKind, thickness_mm: float, subgingival_mm: float = -0.7) -> Margin:
    return Margin(kind=kind, thickness_mm=thickness_mm, subgingival_mm=subgingival_mm)


def _edges(all_round: Margin, *, facial: Margin | None = None, lingual: Margin | None = None) -> Margins:
    return Margins(facial=facial or all_round, mesial=all_round, lingual=lingual or all_round, distal=all_round)


def _units() -> tuple[Unit, ...]:
    collar = _edge(MarginKind.METAL_COLLAR, 0.4)
    butt = _edge(MarginKind.CERAMIC_BUTT, 1.0)
    knife = _edge(MarginKind.METAL_KNIFE_EDGE, 0.2, -0.8)
    deep = _edge(MarginKind.METAL_COLLAR, 0.4, 1.5)
    ceramic = {"kind": UnitKind.CROWN, "body": Body.NOBLE_ALLOY, "veneer": Veneer.FELDSPATHIC}
    return (
        Unit(
            tooth=37,
            kind=UnitKind.PRIMARY_CONUS,
            body=Body.NOBLE_ALLOY,
            margin=_edges(knife),
            neck_mm=8.0,
            wall_taper_deg=6.0,
        ),
        Unit(tooth=35, margin=_edges(collar), neck_mm=5.6, core=CoreKind.POST_AND_CORE, core_cemented=True, **ceramic),
        Unit(tooth=34, kind=UnitKind.PONTIC, body=Body.NOBLE_ALLOY, veneer=Veneer.FELDSPATHIC),
        Unit(tooth=33, margin=_edges(collar, facial=butt, lingual=deep), neck_mm=5.5, **ceramic),
        Unit(tooth=42, margin=_edges(collar, facial=butt), neck_mm=3.6, **ceramic),
        Unit(tooth=43, margin=_edges(collar, facial=butt), neck_mm=5.5, **ceramic),
        Unit(
            tooth=44,
            kind=UnitKind.CROWN,
            body=Body.ZIRCONIA,
            margin=_edges(_edge(MarginKind.ZIRCONIA, 0.5)),
            neck_mm=5.0,
            intaglio=Intaglio.PRIMED,
        ),
        Unit(tooth=45, kind=UnitKind.IMPLANT_SCREWED, body=Body.NOBLE_ALLOY, veneer=Veneer.FELDSPATHIC),
    )


def _attachments(at_mm: Mapping[str, tuple[float, float, float]]) -> tuple[Attachment, ...]:
    lean = math.radians(CONUS_LEAN_DEG)
    return (
        Attachment(
            id="conus-37",
            kind=AttachmentKind.CONUS,
            tooth=37,
            motion=Motion.RIGID,
            male_joined=MaleJoin.LUTED_ON_CAST,
            withdraw_direction=(math.sin(lean), 0.0, math.cos(lean)),
            at_mm=at_mm["conus-37"],
        ),
        Attachment(
            id="slide-35",
            kind=AttachmentKind.SLIDE,
            tooth=35,
            surface=Surface.DISTAL,
            motion=Motion.RIGID,
            male_joined=MaleJoin.CAST_ON,
            withdraw_direction=(0.0, 0.0, 1.0),
            at_mm=at_mm["slide-35"],
            length_mm=5.0,
            clearance_um=20.0,
            clearance_is="total",
        ),
        Attachment(
            id="sleeve-front",
            kind=AttachmentKind.BAR_CLIP,
            bar="bar-front",
            motion=Motion.RIGID,
            male_joined=MaleJoin.LUTED_ON_CAST,
            withdraw_direction=(0.0, 0.0, 1.0),
            at_mm=at_mm["sleeve-front"],
            length_mm=4.0,
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
            at_mm=at_mm["stud-45"],
        ),
    )


def _impressions() -> tuple[Impression, ...]:
    upper = {
        "role": ImpressionRole.OPPOSING,
        "arch": Arch.MAXILLA,
        "material": ImpressionMaterial.ALGINATE,
        "tray": Tray.RIGID_STOCK,
        "adhesive": True,
        "pour": PourPlan(stone=Stone.TYPE_3, used_after_h=24.0),
    }
    return (
        Impression(
            id=PICK_UP,
            role=ImpressionRole.PICK_UP,
            arch=Arch.MANDIBLE,
            material=ImpressionMaterial.POLYETHER,
            tray=Tray.RIGID_CUSTOM,
            adhesive=True,
            route=Route.OVERALL,
            lifts=UNITS,
            maker=MakerWindow(pour_from_min=30.0, pour_within_min=1440.0, disinfect_min=10.0, separate_after_min=45.0),
            pour=PourPlan(stone=Stone.TYPE_4, water_powder=0.20, base_stone=Stone.TYPE_3, used_after_h=46.0),
        ),
        Impression(id=OPPOSING, **upper),
        Impression(id=OPPOSING_AGAIN, replaces=OPPOSING, **upper),
    )


def _scans() -> tuple[Scan, ...]:
    lower = {"arch": Arch.MANDIBLE, "length_unit": LengthUnit.MILLIMETRE, "repeatability_um": 4.0}
    return (
        Scan(id="reference", role=ScanRole.REFERENCE, of=ScanOf.VERIFIED_CAST, file=REFERENCE_FILE, **lower),
        Scan(
            id="poured",
            role=ScanRole.POURED,
            of=ScanOf.POURED_CAST,
            file=POURED_FILE,
            impression=PICK_UP,
            **lower,
        ),
    )
