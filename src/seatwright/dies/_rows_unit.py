"""Rows on the kind of unit and on its condition."""

from seatwright.case import Intaglio, InternalFeatureKind, Stone, UnitKind
from seatwright.dies._facts import EdgeClass, UnitFacts
from seatwright.dies._rules import Rule, Stage, cells

__all__ = ["CONDITION_ROWS", "KIND_ROWS"]

_CUT_FEATURES = (InternalFeatureKind.GROOVE, InternalFeatureKind.BOX, InternalFeatureKind.PINHOLE)


def _open_cuts(facts: UnitFacts) -> tuple[InternalFeatureKind, ...]:
    return tuple(kind for kind in facts.open_features if kind in _CUT_FEATURES)


def _neck_in_words(facts: UnitFacts) -> str:
    return "neck not measured" if facts.neck_mm is None else f"neck {facts.neck_mm:g} mm"


def _is_porcelain_all_round(facts: UnitFacts) -> bool:
    return bool(facts.edges) and len(facts.surfaces_with(EdgeClass.BUTT)) == len(facts.edges)


KIND_ROWS: tuple[Rule, ...] = (
    Rule(
        id="primary-telescope",
        stage=Stage.KIND,
        condition="primary telescope crown, 0 to 2 degrees",
        applies=lambda f: f.kind is UnitKind.PRIMARY_TELESCOPE,
        cells=cells(g="C", p="A", e="C", s="W"),
        reason="the die fills the inside only; the friction wall stays bare, and stone wears under many removals",
        do="Nothing on the friction wall.",
    ),
    Rule(
        id="primary-conus",
        stage=Stage.KIND,
        condition="primary conus crown, 4 to 6 degrees, smooth",
        applies=lambda f: f.kind is UnitKind.PRIMARY_CONUS,
        cells=cells(g="C", p="W", e="C", s="W"),
        reason="the die fills the inside only; a smooth cone is held by its transfer cap",
        do="Nothing on the cone's wall.",
    ),
    Rule(
        id="core-in-crown",
        stage=Stage.KIND,
        condition="post and core came out inside its crown",
        applies=lambda f: f.is_core_in_crown,
        cells=cells(g="C", p="W", e="V", s="V"),
        reason="the bare post is gripped by resin and breaks out of stone, and no returned die fits over it",
        do="Wax film on the post, then gel. Next time cement the core first.",
        remark="pattern resin and the returned die are our own reading",
    ),
    Rule(
        id="on-abutment",
        stage=Stage.KIND,
        condition="crown on an implant abutment",
        applies=lambda f: f.kind is UnitKind.ON_ABUTMENT,
        cells=cells(g="W", p="V", e="C", m="W", s="A"),
        reason="the crown fits a machined post: a shrinking resin is a poor copy of it",
        do="Duplicate the abutment first; screw channel plugged.",
    ),
    Rule(
        id="abutment-screw-open",
        stage=Stage.KIND,
        condition="crown on an implant abutment, screw channel not plugged or not stated",
        applies=lambda f: f.is_screw_channel_open,
        cells=cells(g="V", p="V", e="A", m="V", s="V"),
        reason="what runs into the screw channel locks there, and the crown is cut to free it",
        do="Plug the screw channel first.",
        remark="our reading of 'screw channel plugged'",
    ),
)

CONDITION_ROWS: tuple[Rule, ...] = (
    Rule(
        id="brittle-edge-needs-type-4",
        stage=Stage.CONDITION,
        condition="porcelain or glass-ceramic edge, and the pour is not planned in Type 4 stone",
        applies=lambda f: f.has_brittle_edge and f.stone not in (None, Stone.TYPE_4),
        cells=cells(s="V"),
        reason="Type 5 expands against a brittle edge, Type 3 is too weak for a post",
        do="Plan the first pour in Type 4 stone.",
        remark="the table says it of porcelain edges; extended to glass-ceramic",
    ),
    Rule(
        id="deep-subgingival",
        stage=Stage.CONDITION,
        condition="an edge more than 1 mm below the gingival crest",
        applies=lambda f: f.is_deep,
        cells=cells(g="W", p="W", e="C", m="W", s="A"),
        reason="impression flash reaches inside the edge, and the die's neck is lost in the ridge",
        do="Cut the flash inside first; soft-tissue mask. A returned die must not be ditched.",
        detail=lambda f: f"{f.subgingival_max_mm:g} mm",
    ),
    Rule(
        id="thin-neck",
        stage=Stage.CONDITION,
        condition="neck under 4 mm, or an incisor whose neck was not measured",
        applies=lambda f: f.has_thin_neck,
        cells=cells(g="C", p="W", e="C", m="C", s="V"),
        reason="a stone post this thin snaps",
        do="Pin of 1 mm or more, well up into the crown.",
        detail=_neck_in_words,
        remark="the margin row still vetoes",
    ),
    Rule(
        id="cut-feature-open",
        stage=Stage.CONDITION,
        condition="groove, box or pinhole inside the crown not blocked out",
        applies=lambda f: bool(_open_cuts(f)),
        cells=cells(g="V", p="V", e="A", m="W", s="W"),
        reason="what cures in it locks the crown, what is thin in it breaks off",
        do="Block it out first; then the margin decides.",
        detail=lambda f: ", ".join(_open_cuts(f)),
    ),
    Rule(
        id="cut-feature-open-nothing-brittle",
        stage=Stage.CONDITION,
        condition="groove, box or pinhole not blocked out, and no porcelain or glass-ceramic edge",
        applies=lambda f: bool(_open_cuts(f)) and bool(f.edges) and not f.has_brittle_edge,
        cells=cells(m="V"),
        reason="with nothing brittle to mask, a masked die is gel in an open cut",
        do="Block it out first; then the margin decides.",
        remark="our own row: masking is no way round the veto on gel",
    ),
    Rule(
        id="undercut-open",
        stage=Stage.CONDITION,
        condition="undercut inside the crown not blocked out",
        applies=lambda f: InternalFeatureKind.UNDERCUT in f.open_features,
        cells=cells(g="V", p="V", e="A", m="V", s="V"),
        reason="any die formed in an undercut locks the crown on the cast",
        do="Block it out first; then the margin decides.",
        remark="our reading: stricter than a groove, since the whole die is held",
    ),
    Rule(
        id="treated-intaglio",
        stage=Stage.CONDITION,
        condition="inside primed, etched or lined with resin",
        applies=lambda f: f.needs_die and f.intaglio is not Intaglio.CLEAN,
        cells=cells(g="A", p="A", e="A", m="A", s="A"),
        reason="resin bonds to a treated inside unless a separator keeps it off",
        do="Separator over the whole inside before any resin: mandatory.",
        detail=lambda f: str(f.intaglio),
    ),
    Rule(
        id="moist-in-hydrocolloid",
        stage=Stage.CONDITION,
        condition="in hydrocolloid, out of the mouth, inside not yet logged as dried",
        applies=lambda f: f.needs_die and f.is_moist and f.is_out,
        cells=cells(g="A", p="A", e="V", m="A", s="A"),
        reason="cyanoacrylate needs a dry crown",
        do="Dry the inside with pellets, never with an air jet; log it. No oven, no accelerator spray.",
        remark="before the impression is taken the plan counts on the drying step, so nothing is vetoed yet",
    ),
    Rule(
        id="composite-veneer",
        stage=Stage.CONDITION,
        condition="composite veneer",
        applies=lambda f: f.has_composite_veneer,
        cells=cells(g="A", p="W", e="A", m="A", s="A"),
        reason="monomer crazes the veneer",
        do="No liquid monomer near the veneer.",
    ),
    Rule(
        id="porcelain-all-round",
        stage=Stage.CONDITION,
        condition="porcelain edge on all four surfaces",
        applies=_is_porcelain_all_round,
        cells=cells(m="W"),
        reason="once all edges are masked none is left as a stop",
        do="Keep the wax off the coping's floor: the gel stops there.",
        remark="our own row",
    ),
)
