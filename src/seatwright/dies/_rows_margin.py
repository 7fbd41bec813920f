"""Rows on the crown's edge: each class of edge present adds its row, and the worst one counts per technique."""

from collections.abc import Callable

from seatwright.dies._facts import EdgeClass, UnitFacts
from seatwright.dies._rules import Rule, Stage, cells
from seatwright.evidence import source_of

__all__ = ["MARGIN_ROWS"]


def _has(*classes: EdgeClass) -> Callable[[UnitFacts], bool]:
    return lambda facts: bool(facts.surfaces_with(*classes))


def _where(*classes: EdgeClass) -> Callable[[UnitFacts], str]:
    def words(facts: UnitFacts) -> str:
        surfaces = facts.surfaces_with(*classes)
        return "all round" if len(surfaces) == len(facts.edges) else ", ".join(surfaces)

    return words


def _is_metal_all_round(facts: UnitFacts) -> bool:
    metal = facts.surfaces_with(EdgeClass.COLLAR, EdgeClass.KNIFE_EDGE)
    return bool(facts.edges) and len(metal) == len(facts.edges)


MARGIN_ROWS: tuple[Rule, ...] = (
    Rule(
        id="margin-metal-collar",
        stage=Stage.MARGIN,
        condition="metal collar of 0.3 mm or more",
        applies=_has(EdgeClass.COLLAR),
        cells=cells(g="C", p="A", e="C", s="A"),
        reason="a metal collar bears a rigid die",
        do="Pattern resin needs a lubricant.",
        detail=_where(EdgeClass.COLLAR),
        remark="a returned die is chosen only where it is valid; gel and a valid returned die are equals",
    ),
    Rule(
        id="margin-knife-edge",
        stage=Stage.MARGIN,
        condition="metal knife edge, or a collar under 0.3 mm",
        applies=_has(EdgeClass.KNIFE_EDGE),
        cells=cells(g="C", p="W", e="A", s="A"),
        reason="a burnished edge bends when it is levered or gripped; gel kept short of it does neither",
        do="Keep resin 0.5 to 1 mm short of the edge; never lever.",
        detail=_where(EdgeClass.KNIFE_EDGE),
    ),
    Rule(
        id="margin-porcelain-edge",
        stage=Stage.MARGIN,
        condition="feldspathic porcelain to the edge, zirconia veneered to the edge, or zirconia under 0.4 mm",
        applies=_has(EdgeClass.BUTT),
        cells=cells(g="V", p="V", e="C", m="A|C", s="A"),
        reason="flash locks over an unsupported ceramic edge and an outward pull breaks it at a small part of its "
        "strength along the axis",
        do="Mask that surface and 2 mm past its line angles with wax; the metal edge keeps the stop. Lift once, along "
        "the axis.",
        source=source_of("cer_leh_6"),
        detail=_where(EdgeClass.BUTT),
        remark="the paper supports 'never pry'; the choice of technique is common practice",
    ),
    Rule(
        id="margin-glass-ceramic",
        stage=Stage.MARGIN,
        condition="glass-ceramic crown or edge",
        applies=_has(EdgeClass.GLASS_CERAMIC),
        cells=cells(g="V", p="V", e="C", m="W", s="A|C"),
        reason="there is no metal stop, and a brittle edge all round",
        do="Separator over the whole inside; etch after, not before.",
        detail=_where(EdgeClass.GLASS_CERAMIC),
    ),
    Rule(
        id="margin-zirconia",
        stage=Stage.MARGIN,
        condition="zirconia edge of 0.4 mm or more, no porcelain edge beside it",
        applies=lambda f: _has(EdgeClass.ZIRCONIA)(f) and not _has(EdgeClass.BUTT)(f),
        cells=cells(g="A|C", p="W", e="C", m="W", s="A"),
        reason="zirconia is strong but chips at a thin edge; a mask only takes the stop away",
        do="Separator inside; no flash over the edge.",
        detail=_where(EdgeClass.ZIRCONIA),
        remark="holds for a primed inside as well; the row on treated insides adds the separator",
    ),
    Rule(
        id="margin-zirconia-beside-porcelain",
        stage=Stage.MARGIN,
        condition="zirconia edge of 0.4 mm or more, porcelain edge on another surface",
        applies=lambda f: _has(EdgeClass.ZIRCONIA)(f) and _has(EdgeClass.BUTT)(f),
        cells=cells(g="A|C", p="W", e="C", s="A"),
        reason="zirconia is strong but chips at a thin edge; unmasked, it is the stop of the masked die",
        do="Separator inside; mask the porcelain edge only.",
        detail=_where(EdgeClass.ZIRCONIA),
        remark="our reading: masking the porcelain is no reason to warn of the zirconia",
    ),
    Rule(
        id="margin-nothing-to-mask",
        stage=Stage.MARGIN,
        condition="metal edges all round",
        applies=_is_metal_all_round,
        cells=cells(m="V"),
        reason="there is no ceramic edge to mask: a masked die would be gel by another name, without gel's vetoes",
        remark="our reading: the table leaves masking open for metal edges",
    ),
)
