"""Small units, cases and states for the tests of the die rules; each field can be replaced by name."""

from datetime import UTC, datetime, timedelta
from typing import Any

from seatwright.case import (
    Arch,
    Attachment,
    AttachmentKind,
    Bar,
    Body,
    Case,
    CaseState,
    CoreKind,
    DieTrial,
    Impression,
    ImpressionMaterial,
    ImpressionRole,
    ImpressionState,
    Intaglio,
    Join,
    JoinKind,
    MaleJoin,
    Margin,
    MarginKind,
    Margins,
    Motion,
    PourPlan,
    ReturnedDie,
    Route,
    Seating,
    Stone,
    Surface,
    Teeth,
    Tolerance,
    Tray,
    Unit,
    UnitKind,
    Veneer,
)
from seatwright.dies import UnitFacts, derive_unit_facts

START = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
PICK_UP = "pickup"
COLLAR = Margin(kind=MarginKind.METAL_COLLAR, thickness_mm=0.4)
KNIFE = Margin(kind=MarginKind.METAL_KNIFE_EDGE, thickness_mm=0.15)
BUTT = Margin(kind=MarginKind.CERAMIC_BUTT, thickness_mm=1.0)
GLASS = Margin(kind=MarginKind.GLASS_CERAMIC, thickness_mm=0.8)
ZIRCONIA = Margin(kind=MarginKind.ZIRCONIA, thickness_mm=0.5)
_MANDIBLE = (48, 47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37, 38)


def edges(edge: Margin = COLLAR, **surfaces: Margin) -> Margins:
    """Return four equal edges, some replaced by name."""
    return Margins(**(dict.fromkeys(Surface, edge) | surfaces))


def crown(tooth: int = 35, **fields: Any) -> Unit:
    """Return a clean noble-alloy crown with collars all round and a sturdy neck."""
    base: dict[str, Any] = {
        "tooth": tooth,
        "kind": UnitKind.CROWN,
        "body": Body.NOBLE_ALLOY,
        "veneer": Veneer.FELDSPATHIC,
        "margin": edges(),
        "neck_mm": 5.0,
    }
    return Unit(**(base | fields))


def pick_up(lifts: tuple[int, ...], **fields: Any) -> Impression:
    """Return a polyether pick-up, to be poured in Type 4."""
    base: dict[str, Any] = {
        "id": PICK_UP,
        "role": ImpressionRole.PICK_UP,
        "arch": Arch.MANDIBLE,
        "material": ImpressionMaterial.POLYETHER,
        "tray": Tray.RIGID_CUSTOM,
        "adhesive": True,
        "route": Route.OVERALL,
        "lifts": lifts,
        "pour": PourPlan(stone=Stone.TYPE_4),
    }
    return Impression(**(base | fields))


def case_of(*units: Unit, impression: Impression | None = None, **fields: Any) -> Case:
    """Return a case with these units, all lifted by one pick-up."""
    lifts = tuple(unit.tooth for unit in units)
    base: dict[str, Any] = {
        "schema": 1,
        "code": "T-1",
        "arch": Arch.MANDIBLE,
        "teeth": Teeth(present=_MANDIBLE),
        "unit": units,
        "impression": (impression or pick_up(lifts),),
        "tolerance": Tolerance(unit_shift_um=50.0, reason="test"),
    }
    return Case(**(base | fields))


def good_die(tooth: int = 35, **fields: Any) -> ReturnedDie:
    """Return a die that meets every criterion."""
    base: dict[str, Any] = {
        "id": f"die-{tooth}",
        "tooth": tooth,
        "engraved": str(tooth),
        "fit_gap_um": 30.0,
        "seating": Seating.FREELY,
        "current_preparation": True,
        "over_ditched": False,
        "keyed_root": True,
    }
    return ReturnedDie(**(base | fields))


def trial(tooth: int = 35, **fields: Any) -> DieTrial:
    """Return a logged trial that went well."""
    base: dict[str, Any] = {
        "die": f"die-{tooth}",
        "tooth": tooth,
        "seating": Seating.FREELY,
        "gap_um": 30.0,
        "short_by_mm": 0.0,
        "at": START + timedelta(minutes=10),
    }
    return DieTrial(**(base | fields))


def out(*teeth: int, trials: tuple[DieTrial, ...] = (), **fields: Any) -> CaseState:
    """Return a state with the pick-up out of the mouth and all these crowns counted in it."""
    base: dict[str, Any] = {
        "id": PICK_UP,
        "out_at": START,
        "counted": True,
        "seated": frozenset(teeth),
        "in_tray": frozenset(teeth),
    }
    return CaseState(impressions={PICK_UP: ImpressionState(**(base | fields))}, die_trials=trials)


def facts_of(
    unit: Unit | None = None,
    *,
    state: CaseState | None = None,
    material: ImpressionMaterial = ImpressionMaterial.POLYETHER,
    stone: Stone = Stone.TYPE_4,
    die: ReturnedDie | None = None,
) -> UnitFacts:
    """Return the facts of one unit that stands alone in its case."""
    unit = unit or crown()
    impression = pick_up((unit.tooth,), material=material, pour=PourPlan(stone=stone))
    case = case_of(unit, impression=impression, returned_die=(die,) if die else ())
    return derive_unit_facts(case, state or CaseState(), unit)


def scenario() -> tuple[Case, CaseState]:
    """Return the eight units of an extension case, the die for 43 engraved 33, everything out and counted."""
    units = (
        crown(37, kind=UnitKind.PRIMARY_CONUS, veneer=Veneer.NONE, margin=edges(KNIFE), wall_taper_deg=6.0),
        crown(35, core=CoreKind.POST_AND_CORE),
        crown(34, kind=UnitKind.PONTIC, margin=None, neck_mm=None),
        crown(33, margin=edges(facial=BUTT, lingual=COLLAR.model_copy(update={"subgingival_mm": 1.5}))),
        crown(42, margin=edges(facial=BUTT), neck_mm=3.6),
        crown(43, margin=edges(facial=BUTT)),
        crown(44, body=Body.ZIRCONIA, veneer=Veneer.NONE, margin=edges(ZIRCONIA), intaglio=Intaglio.PRIMED),
        crown(45, kind=UnitKind.IMPLANT_SCREWED, margin=None, neck_mm=None),
    )
    teeth = tuple(unit.tooth for unit in units)
    case = case_of(
        *units,
        join=(
            Join(id="bridge", kind=JoinKind.BRIDGE, units=(33, 34, 35)),
            Join(id="splint", kind=JoinKind.SPLINT, units=(42, 43)),
        ),
        attachment=(
            Attachment(
                id="slide-35",
                kind=AttachmentKind.SLIDE,
                tooth=35,
                surface=Surface.DISTAL,
                motion=Motion.RIGID,
                male_joined=MaleJoin.CAST_ON,
                length_mm=5.0,
            ),
        ),
        bar=(Bar(id="front", from_tooth=33, to_tooth=42, length_mm=17.0, ridge_gap_mm=2.0),),
        returned_die=(good_die(43, engraved="33", fit_gap_um=None, seating=None),),
    )
    tried = trial(43, seating=Seating.SHORT, gap_um=180.0, short_by_mm=0.4)
    return case, out(*teeth, trials=(tried,))
