"""What is legal in a case, but unlikely: findings to look at, never errors. Pure; decides nothing."""

from collections.abc import Iterator

from seatwright.case._document import Case
from seatwright.case._terms import Body, ImpressionRole, MarginKind, ScanRole, Surface, Tray, UnitKind, Veneer
from seatwright.case._units import Margin, Unit
from seatwright.findings import Finding, Severity

__all__ = ["review_case"]

_TAPERS_DEG = {UnitKind.PRIMARY_TELESCOPE: (0.0, 2.0), UnitKind.PRIMARY_CONUS: (4.0, 6.0)}  # common practice
_COLLAR_MM = 0.3  # common practice: a thinner metal edge behaves as a knife edge
_ALLOYS = (Body.NOBLE_ALLOY, Body.BASE_METAL_ALLOY)
_BODIES_OF_EDGE = {
    MarginKind.METAL_COLLAR: _ALLOYS,
    MarginKind.METAL_KNIFE_EDGE: _ALLOYS,
    MarginKind.GLASS_CERAMIC: (Body.GLASS_CERAMIC,),
    MarginKind.ZIRCONIA: (Body.ZIRCONIA,),
    MarginKind.ZIRCONIA_VENEERED: (Body.ZIRCONIA,),
}
_VENEERED_EDGES = (MarginKind.CERAMIC_BUTT, MarginKind.ZIRCONIA_VENEERED)


def review_case(case: Case) -> tuple[Finding, ...]:
    """Return what a second reader would ask about a valid case, in the order of the document."""
    findings: list[Finding] = []
    for unit in case.unit:
        findings += _review_taper(unit)
        if unit.margin is not None:
            for surface, margin in unit.margin.by_surface().items():
                findings += _review_margin(unit, surface, margin)
    findings += _review_impressions(case)
    findings += _review_regions(case)
    return tuple(findings)


def _review_taper(unit: Unit) -> Iterator[Finding]:
    if unit.kind not in _TAPERS_DEG or unit.wall_taper_deg is None:
        return
    low, high = _TAPERS_DEG[unit.kind]
    if not low <= unit.wall_taper_deg <= high:
        yield Finding(
            "review-wall-taper",
            Severity.WARNING,
            f"A wall of {unit.wall_taper_deg:g} degrees is unusual for a {_plain(unit.kind)}",
            f"usual is {low:g} to {high:g} degrees, measured from the axis to one wall",
            "check that the angle is to the axis, not between opposite walls, and that the kind is right",
            about=str(unit.tooth),
        )


def _review_margin(unit: Unit, surface: Surface, margin: Margin) -> Iterator[Finding]:
    about = str(unit.tooth)
    edge = f"The {surface} edge of {unit.tooth}"
    if margin.kind is MarginKind.METAL_COLLAR and margin.thickness_mm < _COLLAR_MM:
        yield Finding(
            "review-thin-collar",
            Severity.CAUTION,
            f"{edge} is called a collar, but is {margin.thickness_mm:g} mm thick",
            f"under {_COLLAR_MM:g} mm a metal edge bends like a knife edge",
            "measure again, or call it metal_knife_edge",
            about=about,
        )
    if margin.kind is MarginKind.METAL_KNIFE_EDGE and margin.thickness_mm >= _COLLAR_MM:
        yield Finding(
            "review-thick-knife-edge",
            Severity.CAUTION,
            f"{edge} is called a knife edge, but is {margin.thickness_mm:g} mm thick",
            f"from {_COLLAR_MM:g} mm on a metal edge is a collar",
            "measure again, or call it metal_collar",
            about=about,
        )
    bodies = _BODIES_OF_EDGE.get(margin.kind, tuple(Body))
    if unit.body not in bodies:
        yield Finding(
            "review-edge-material",
            Severity.WARNING,
            f"{edge} is {_plain(margin.kind)}, but the crown is of {_plain(unit.body)}",
            "edge and body contradict each other, and the edge decides the die",
            "correct body or margin kind",
            about=about,
        )
    if margin.kind in _VENEERED_EDGES and unit.veneer is not Veneer.FELDSPATHIC:
        yield Finding(
            "review-edge-veneer",
            Severity.WARNING,
            f"{edge} is {_plain(margin.kind)}, but the crown has no feldspathic veneer",
            "the edge would be of that veneer",
            "correct veneer or margin kind",
            about=about,
        )


def _review_impressions(case: Case) -> Iterator[Finding]:
    for impression in case.current_impressions():
        if impression.role is not ImpressionRole.PICK_UP:
            continue
        if not impression.adhesive:
            yield Finding(
                "review-no-adhesive",
                Severity.WARNING,
                f"Pick-up {impression.id} has no tray adhesive",
                "the material may part from the tray while it carries the crowns out",
                "use the maker's adhesive and let it dry",
                about=impression.id,
            )
        if impression.tray is Tray.FLEXIBLE_STOCK:
            yield Finding(
                "review-flexible-tray",
                Severity.WARNING,
                f"Pick-up {impression.id} is in a flexible tray",
                "the tray springs back and takes the crowns with it",
                "use a rigid custom tray",
                about=impression.id,
            )


def _review_regions(case: Case) -> Iterator[Finding]:
    roles = {scan.role for scan in case.scan}
    if not {ScanRole.REFERENCE, ScanRole.POURED} <= roles:
        return
    located = {region.tooth for region in case.region}
    for unit in case.unit:
        if unit.tooth not in located and unit.kind is not UnitKind.PONTIC:
            yield Finding(
                "review-no-region",
                Severity.CAUTION,
                f"The case does not say where {unit.tooth} is on the reference scan",
                "the cast check cannot tell whether it moved",
                "add a [[region]] with seed_mm and radius_mm",
                about=str(unit.tooth),
            )


def _plain(term: str) -> str:
    return str(term).replace("_", " ")
