"""What the decision table looks at: facts about one unit, drawn from the case and from what happened.

Owns the reading of margins, moisture, crown count and returned dies. Knows no technique and no rule.
"""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.case import (
    AttachmentKind,
    Body,
    Case,
    CaseState,
    CoreKind,
    Impression,
    ImpressionRole,
    ImpressionState,
    Intaglio,
    InternalFeatureKind,
    Margin,
    MarginKind,
    Stone,
    Surface,
    Unit,
    UnitKind,
)
from seatwright.dies._returned import DieValidity, check_returned_die

__all__ = ["EdgeClass", "EdgeFact", "LiftFault", "LiftFaultKind", "UnitFacts", "classify_edge", "derive_unit_facts"]

MIN_COLLAR_MM = 0.3  # common practice
MIN_ZIRCONIA_EDGE_MM = 0.4  # common practice
DEEP_SUBGINGIVAL_MM = 1.0  # common practice
MIN_NECK_MM = 4.0  # common practice
_INCISOR_POSITIONS = (1, 2)  # ISO 3950: second digit of central and lateral incisors
BLOCK_OUT_STEP = "block-out"
"""Step that closes internal features, as it is logged."""
PLUG_STEP = "plug-screw-channel"
"""Step that closes an abutment's screw channel, as it is logged."""


class EdgeClass(StrEnum):
    """What the table calls the edge at one surface, mildest first."""

    COLLAR = "metal collar"
    KNIFE_EDGE = "metal knife edge"
    ZIRCONIA = "zirconia edge"
    BUTT = "porcelain edge"
    """Feldspathic porcelain to the edge, zirconia veneered to the edge, or zirconia too thin to stand."""
    GLASS_CERAMIC = "glass-ceramic edge"


@dataclass(frozen=True, slots=True)
class EdgeFact:
    """The edge at one surface."""

    surface: Surface
    edge_class: EdgeClass
    thickness_mm: float
    subgingival_mm: float


class LiftFaultKind(StrEnum):
    """What went wrong with a crown when the impression was lifted."""

    LOOSE = "loose in the impression"
    LEFT_ON_TOOTH = "left on its tooth"
    MISSING = "neither in the tray nor on its tooth"
    UNSEATED = "not seated when the impression was taken"


@dataclass(frozen=True, slots=True)
class LiftFault:
    """A fault of this unit, or of another one that is rigidly joined to it."""

    tooth: int
    kind: LiftFaultKind


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """All that the decision table asks about one unit."""

    tooth: int
    kind: UnitKind
    body: Body
    has_composite_veneer: bool
    edges: tuple[EdgeFact, ...]
    """Four, or none where the case states no margin."""
    neck_mm: float | None
    intaglio: Intaglio
    core: CoreKind
    core_cemented: bool
    is_core_in_crown: bool
    open_features: tuple[InternalFeatureKind, ...]
    is_screw_channel_open: bool
    impression: str
    """Pick-up that lifts the unit; empty when none does."""
    is_hydrocolloid: bool
    stone: Stone | None
    is_out: bool
    """The impression has left the mouth."""
    is_dried: bool
    faults: tuple[LiftFault, ...]
    dies: tuple[DieValidity, ...]
    attachments: tuple[AttachmentKind, ...]
    partners: tuple[int, ...]
    """Units rigidly joined to this one, by bridge, splint or bar."""
    partners_with_brittle_edge: tuple[int, ...]

    @property
    def needs_die(self) -> bool:
        """Whether the unit has an inside that stone must fill: not a pontic, not on an implant's own screw."""
        return self.kind not in (UnitKind.PONTIC, UnitKind.IMPLANT_SCREWED)

    @property
    def is_moist(self) -> bool:
        """Whether the inside is wet: hydrocolloid, and nobody logged that it was dried."""
        return self.is_hydrocolloid and not self.is_dried

    @property
    def is_metal(self) -> bool:
        """Whether the structure is metal, so that light enters from the open end only."""
        return self.body in (Body.NOBLE_ALLOY, Body.BASE_METAL_ALLOY)

    @property
    def valid_die(self) -> DieValidity | None:
        """The returned die that may be used, the best fitting when there are several."""
        valid = [die for die in self.dies if die.is_valid]
        return min(valid, key=lambda die: (die.gap_um or 0.0, die.die), default=None)

    @property
    def subgingival_max_mm(self) -> float:
        """Depth of the deepest edge below the gingival crest; 0 or less when all stand above it."""
        return max((edge.subgingival_mm for edge in self.edges), default=0.0)

    @property
    def is_deep(self) -> bool:
        """Whether an edge lies so deep that flash reaches inside it."""
        return self.subgingival_max_mm > DEEP_SUBGINGIVAL_MM

    @property
    def has_thin_neck(self) -> bool:
        """Whether a stone post would snap: neck under 4 mm, or an incisor whose neck nobody measured."""
        if self.neck_mm is None:
            return self.needs_die and self.tooth % 10 in _INCISOR_POSITIONS
        return self.neck_mm < MIN_NECK_MM

    def surfaces_with(self, *classes: EdgeClass) -> tuple[Surface, ...]:
        """Return the surfaces whose edge is of one of these classes."""
        return tuple(edge.surface for edge in self.edges if edge.edge_class in classes)

    @property
    def has_brittle_edge(self) -> bool:
        """Whether some edge breaks under a resin flash or a pry."""
        return bool(self.surfaces_with(EdgeClass.BUTT, EdgeClass.GLASS_CERAMIC))

    @property
    def gel_needs_separator(self) -> bool:
        """Whether gel needs a separator: it does without only in a clean, moist metal crown.

        A partner with a brittle edge asks for one as well: a tight die here is a pull there.
        """
        is_clean_metal = self.is_metal and self.intaglio is Intaglio.CLEAN
        return not (is_clean_metal and self.is_moist) or bool(self.partners_with_brittle_edge)


def classify_edge(margin: Margin, body: Body) -> EdgeClass:
    """Return what the table calls this edge.

    A glass-ceramic body has no metal stop anywhere, so all its edges are glass-ceramic. On a zirconia body a margin
    written as metal is read as zirconia: there is no metal to be there.

    Examples
    --------
    >>> classify_edge(Margin(kind=MarginKind.METAL_COLLAR, thickness_mm=0.25), Body.NOBLE_ALLOY)
    <EdgeClass.KNIFE_EDGE: 'metal knife edge'>
    """
    if body is Body.GLASS_CERAMIC or margin.kind is MarginKind.GLASS_CERAMIC:
        return EdgeClass.GLASS_CERAMIC
    if margin.kind in (MarginKind.CERAMIC_BUTT, MarginKind.ZIRCONIA_VENEERED):
        return EdgeClass.BUTT
    if body is Body.ZIRCONIA or margin.kind is MarginKind.ZIRCONIA:
        return EdgeClass.ZIRCONIA if margin.thickness_mm >= MIN_ZIRCONIA_EDGE_MM else EdgeClass.BUTT
    if margin.kind is MarginKind.METAL_COLLAR and margin.thickness_mm >= MIN_COLLAR_MM:
        return EdgeClass.COLLAR
    return EdgeClass.KNIFE_EDGE


def derive_unit_facts(case: Case, state: CaseState, unit: Unit) -> UnitFacts:
    """Return what the table asks about one unit.

    Of several pick-ups that lift the unit, the last one written counts: it is the retake.
    """
    impression = _pick_up_of(case, unit.tooth)
    done = state.impressions.get(impression.id, ImpressionState("")) if impression else ImpressionState("")
    partners = _rigid_body(case, unit.tooth)
    return UnitFacts(
        tooth=unit.tooth,
        kind=unit.kind,
        body=unit.body,
        has_composite_veneer=unit.veneer.value == "composite",
        edges=_edges_of(unit),
        neck_mm=unit.neck_mm,
        intaglio=unit.intaglio,
        core=unit.core,
        core_cemented=unit.core_cemented,
        is_core_in_crown=unit.tooth in done.cores_in_crown,
        open_features=_open_features(unit, done),
        is_screw_channel_open=_is_screw_channel_open(unit, done),
        impression=impression.id if impression else "",
        is_hydrocolloid=impression is not None and impression.material.is_hydrocolloid,
        stone=impression.pour.stone if impression else None,
        is_out=done.out_at is not None,
        is_dried=unit.tooth in done.dried,
        faults=_lift_faults(case, impression, done, (unit.tooth, *partners)),
        dies=_returned_dies(case, state, unit),
        attachments=tuple(a.kind for a in case.attachment if a.tooth == unit.tooth),
        partners=partners,
        partners_with_brittle_edge=tuple(t for t in partners if _is_brittle(case, t)),
    )


def _edges_of(unit: Unit) -> tuple[EdgeFact, ...]:
    if unit.margin is None:
        return ()
    return tuple(
        EdgeFact(surface, classify_edge(margin, unit.body), margin.thickness_mm, margin.subgingival_mm)
        for surface, margin in unit.margin.by_surface().items()
    )


def _pick_up_of(case: Case, tooth: int) -> Impression | None:
    lifting = [i for i in case.impression if i.role is ImpressionRole.PICK_UP and tooth in i.lifts]
    return lifting[-1] if lifting else None


def _rigid_body(case: Case, tooth: int) -> tuple[int, ...]:
    """Return the other units of the body: bars join as rigidly as bridges and splints do."""
    links = [*(joined.units for joined in case.join), *((bar.from_tooth, bar.to_tooth) for bar in case.bar)]
    body = [tooth]
    for member in body:
        for link in links:
            if member in link:
                body.extend(t for t in link if t not in body)
    return tuple(sorted(t for t in body if t != tooth))


def _is_brittle(case: Case, tooth: int) -> bool:
    units = [unit for unit in case.unit if unit.tooth == tooth]
    brittle = (EdgeClass.BUTT, EdgeClass.GLASS_CERAMIC)
    return any(edge.edge_class in brittle for unit in units for edge in _edges_of(unit))


def _open_features(unit: Unit, done: ImpressionState) -> tuple[InternalFeatureKind, ...]:
    if (BLOCK_OUT_STEP, unit.tooth) in done.steps_done:
        return ()
    return tuple(feature.kind for feature in unit.internal_features if not feature.blocked_out)


def _is_screw_channel_open(unit: Unit, done: ImpressionState) -> bool:
    is_plugged = unit.abutment_screw_plugged is True or (PLUG_STEP, unit.tooth) in done.steps_done
    return unit.kind is UnitKind.ON_ABUTMENT and not is_plugged


def _lift_faults(
    case: Case, impression: Impression | None, done: ImpressionState, teeth: tuple[int, ...]
) -> tuple[LiftFault, ...]:
    """Return the faults of a rigid body: what moved at one of its units moved at all of them."""
    if impression is None or not done.counted:
        return ()
    pontics = {unit.tooth for unit in case.unit if unit.kind is UnitKind.PONTIC}
    found = []
    for tooth in teeth:
        expected = tooth in impression.lifts and tooth not in pontics
        if tooth in done.left_on_tooth:
            found.append(LiftFault(tooth, LiftFaultKind.LEFT_ON_TOOTH))
        elif expected and tooth not in done.in_tray:
            found.append(LiftFault(tooth, LiftFaultKind.MISSING))
        elif tooth in done.loose:
            found.append(LiftFault(tooth, LiftFaultKind.LOOSE))
        elif expected and tooth not in done.seated:
            found.append(LiftFault(tooth, LiftFaultKind.UNSEATED))
    return tuple(found)


def _returned_dies(case: Case, state: CaseState, unit: Unit) -> tuple[DieValidity, ...]:
    checked = []
    for die in case.returned_die:
        if die.tooth != unit.tooth:
            continue
        trials = [t for t in state.die_trials if t.die == die.id and t.tooth == unit.tooth]
        checked.append(check_returned_die(die, max(trials, key=lambda t: t.at, default=None), unit))
    return tuple(checked)
