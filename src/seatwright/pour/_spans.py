"""Spans of this arch that the cast must hold, and what a change of the impression costs over each.

Owns sites, spans and their cost in µm. Knows no clock. A rigid body (bridge, splint, bar) holds its own inside, so only
spans between different bodies count: the longest of each pair.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from seatwright.arch import nominal_layout
from seatwright.case import Arch, Case, Impression, ImpressionMaterial, ImpressionRole, UnitKind
from seatwright.evidence import find_evidence
from seatwright.pour._result import CostBasis, SpanCost
from seatwright.pour._rows import Rung
from seatwright.quantities import Measured

__all__ = ["Places", "Span", "cost_over_span", "find_spans", "uses_whole_cast"]

Places = Mapping[int, tuple[float, ...]]

_U_NOMINAL_SPAN = 0.10  # judgement: an average arch gives a span within about a tenth
_U_GIVEN_SPAN_MM = 0.2  # judgement: centers picked on a scan; no matter for a percent of a percent
_CROSS_ARCH_MM = 30.0  # judgement: the lengths that the whole-cast studies measured were not read
_WHOLE_CAST = (ImpressionMaterial.ADDITION_SILICONE, ImpressionMaterial.POLYETHER)
_LEFT = (2, 3)  # definition: ISO 3950 quadrants on the patient's left
_MOLARS = {Arch.MAXILLA: (16, 26), Arch.MANDIBLE: (46, 36)}  # definition: ISO 3950, first molars


@dataclass(frozen=True, slots=True)
class Span:
    """A distance between two teeth of an arch, in plan."""

    teeth: tuple[int, int]
    length_mm: float
    u_mm: float
    is_nominal: bool

    @property
    def crosses(self) -> bool:
        """Whether it runs across the arch, long enough for figures measured on whole casts."""
        sides = {tooth // 10 in _LEFT for tooth in self.teeth}
        return len(sides) == 2 and self.length_mm >= _CROSS_ARCH_MM

    def named(self) -> str:
        """Return its name as shown."""
        return f"{self.teeth[0]} to {self.teeth[1]}" + (" (average arch)" if self.is_nominal else "")


def find_spans(case: Case, impression: Impression, places: Places | None = None) -> tuple[Span, ...]:
    """Return the spans that matter in this impression, longest first.

    Between attachments where two rigid bodies carry one; else between abutment units; else, as on an opposing arch,
    between the first molars of an average arch. `places` holds centers in plan or in space, mm; a span with an end
    that has no place comes from the average arch and says so.
    """
    carries = impression.arch is case.arch and impression.role is not ImpressionRole.OPPOSING
    bodies = _bodies_with_sites(case) if carries else []
    pairs = [
        max(
            (_measure(case.arch, min(a, b), max(a, b), places) for a in one for b in other),
            key=lambda s: (s.length_mm, s.teeth),
        )
        for i, one in enumerate(bodies)
        for other in bodies[i + 1 :]
    ]
    if not pairs:
        right, left = _MOLARS[impression.arch]
        pairs = [_measure(impression.arch, right, left, places if carries else None)]
    return tuple(sorted(pairs, key=lambda s: (-s.length_mm, s.teeth)))


def _bodies_with_sites(case: Case) -> list[tuple[int, ...]]:
    """Return, body by body, the teeth between which distances matter."""
    bars = {bar.id: (bar.from_tooth, bar.to_tooth) for bar in case.bar}
    sites: set[int] = set()
    for attachment in case.attachment:
        if attachment.tooth is not None:
            sites.add(attachment.tooth)
        sites |= set(bars.get(attachment.bar or "", ()))
    if len({frozenset(case.body_of(tooth)) for tooth in sites}) < 2:
        sites = {unit.tooth for unit in case.unit if unit.kind is not UnitKind.PONTIC}
    bodies = sorted({frozenset(case.body_of(tooth)) for tooth in sites}, key=sorted)
    return [tuple(sorted(body & sites)) for body in bodies]


def _measure(arch: Arch, a: int, b: int, places: Places | None) -> Span:
    if places is not None and a in places and b in places:
        return Span((a, b), math.dist(places[a], places[b]), _U_GIVEN_SPAN_MM, is_nominal=False)
    layout = nominal_layout(arch)
    length = math.hypot(layout[a].x_mm - layout[b].x_mm, layout[a].y_mm - layout[b].y_mm)
    return Span((a, b), length, _U_NOMINAL_SPAN * length, is_nominal=True)


def uses_whole_cast(material: ImpressionMaterial, span: Span) -> bool:
    """Whether figures measured on whole casts, stone included, stand for this span."""
    return material in _WHOLE_CAST and span.crosses


def cost_over_span(span: Span, rung: Rung, material: ImpressionMaterial) -> SpanCost | None:
    """Return the cost over one span, or None where the rung supports no number.

    Percent of span, with u from both the percent and the span; across the arch an elastomer takes the figure measured
    on whole casts instead, stone included.

    Examples
    --------
    >>> from seatwright.findings import JUDGEMENT
    >>> from seatwright.pour._result import Band
    >>> rung = Rung(Band.STRETCHED, 120.0, -0.3, 0.5, CostBasis.SPECIMENS, JUDGEMENT, "")
    >>> span = Span((46, 36), 50.0, 0.0, is_nominal=False)
    >>> cost_over_span(span, rung, ImpressionMaterial.ALGINATE).change_um.shown()
    '-200 ± 500 µm'
    """
    if rung.bias_percent is None or rung.u_percent is None:
        return None
    if uses_whole_cast(material, span) and rung.basis is not CostBasis.MAKER:
        record = find_evidence("cost_elastomer_cast")
        change = Measured(record.require_value(), record.sd or 0.0, "µm")
        return SpanCost(span.named(), span.length_mm, change, CostBasis.WHOLE_CASTS, span.is_nominal)
    per_percent_um = 10 * span.length_mm  # definition: 1 % of 1 mm is 10 µm
    u = math.hypot(per_percent_um * rung.u_percent, 10 * rung.bias_percent * span.u_mm)
    change = Measured(per_percent_um * rung.bias_percent, u, "µm")
    return SpanCost(span.named(), span.length_mm, change, rung.basis, span.is_nominal)
