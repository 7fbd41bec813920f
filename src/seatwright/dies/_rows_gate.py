"""Rows that say whether a technique is possible at all: lifting faults, implants, pontics, returned dies."""

from seatwright.case import UnitKind
from seatwright.dies._facts import UnitFacts
from seatwright.dies._rules import Rule, Stage, cells

__all__ = ["GATE_ROWS"]


def _faults_in_words(facts: UnitFacts) -> str:
    return "; ".join(f"{fault.tooth} {fault.kind}" for fault in facts.faults)


def _dies_in_words(facts: UnitFacts) -> str:
    if not facts.dies:
        return "none came back"
    return "; ".join(f"die {die.die}: {', '.join(fault.what for fault in die.faults)}" for die in facts.dies)


_NOTHING = cells(g="V", p="V", e="V", m="V", s="V", analog="V", none="V")

GATE_ROWS: tuple[Rule, ...] = (
    Rule(
        id="crown-out-of-place-hydrocolloid",
        stage=Stage.GATE,
        condition="crown loose, unseated, missing or left on its tooth, or rigidly joined to one; hydrocolloid",
        applies=lambda f: bool(f.faults) and f.is_hydrocolloid,
        cells=_NOTHING,
        reason="a crown that is not where the mouth had it makes a false cast, and hydrocolloid takes none back",
        do="Take a new impression. Find a missing crown first: the airway comes before the cast.",
        detail=_faults_in_words,
        remark="what moved at one unit of a rigid body (bridge, splint, bar) moved at all of them",
    ),
    Rule(
        id="crown-out-of-place-elastomer",
        stage=Stage.GATE,
        condition="crown loose, unseated, missing or left on its tooth, or rigidly joined to one; elastomer",
        applies=lambda f: bool(f.faults) and not f.is_hydrocolloid,
        cells=_NOTHING,
        reason="a crown that is not where the mouth had it makes a false cast",
        do="Find a missing crown first: the airway comes before the cast. Reseat only where the seat is undamaged and "
        "positive, verify, count again and log it; otherwise take a new impression.",
        detail=_faults_in_words,
        remark="what moved at one unit of a rigid body (bridge, splint, bar) moved at all of them",
    ),
    Rule(
        id="conus-in-hydrocolloid",
        stage=Stage.GATE,
        condition="primary conus crown, pick-up in hydrocolloid",
        applies=lambda f: f.kind is UnitKind.PRIMARY_CONUS and f.is_hydrocolloid,
        cells=cells(g="V", p="V", e="V", m="V", s="V"),
        reason="a smooth cone slips out of hydrocolloid or turns in it",
        do="Use a transfer cap and pick up in elastomer.",
    ),
    Rule(
        id="implant-screw-retained",
        stage=Stage.GATE,
        condition="screw-retained crown on an implant",
        applies=lambda f: f.kind is UnitKind.IMPLANT_SCREWED,
        cells=cells(g="V", p="V", e="V", m="V", s="V", analog="C"),
        reason="only the matching analog repeats the implant's platform",
        do="Screw in the matching analog, check its seat all round, tighten to the maker's torque.",
    ),
    Rule(
        id="pontic",
        stage=Stage.GATE,
        condition="pontic",
        applies=lambda f: f.kind is UnitKind.PONTIC,
        cells=cells(g="V", p="V", e="V", m="V", s="V", none="C"),
        reason="a pontic has no inside: its undercut is blocked and the ridge keeps its form in stone",
        remark="stone under the pontic is the cast's ridge, not a die",
    ),
    Rule(
        id="analog-needs-implant",
        stage=Stage.GATE,
        condition="no screw-retained crown on an implant",
        applies=lambda f: f.kind is not UnitKind.IMPLANT_SCREWED,
        cells=cells(analog="V"),
        reason="an analog fits an implant's platform only",
    ),
    Rule(
        id="die-needed",
        stage=Stage.GATE,
        condition="no pontic",
        applies=lambda f: f.kind is not UnitKind.PONTIC,
        cells=cells(none="V"),
        reason="without a core the crown has nothing to sit on",
    ),
    Rule(
        id="epoxy-absent",
        stage=Stage.GATE,
        condition="no valid returned die: number, preparation, free seat, gap of 50 µm or less, ditching and key",
        applies=lambda f: f.needs_die and f.valid_die is None,
        cells=cells(e="V"),
        reason="no valid returned die",
        do="Use no other tooth's die and none that does not seat: make the die chosen here.",
        detail=_dies_in_words,
    ),
    Rule(
        id="margin-unknown",
        stage=Stage.GATE,
        condition="the case states no margin for a unit that needs a die",
        applies=lambda f: f.needs_die and not f.edges,
        cells=cells(g="V", p="V", m="V", s="V"),
        reason="the edge decides the die, and nobody has said what it is",
        do="Look at the four edges and state them in the case.",
        remark="nothing is guessed",
    ),
)
