"""How much powder and water for a pour: mass balance from the cast's volume, rounded to what a person can weigh.

Owns volumes, powder, water, batches, expansion. Knows no clock.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from seatwright.arch import nominal_layout
from seatwright.case import Arch, Bench, Impression, ImpressionRole, Stone, StoneStock
from seatwright.evidence import find_evidence, source_of
from seatwright.findings import COMMON_PRACTICE, JUDGEMENT, Finding, Severity, Source, SourceKind
from seatwright.pour._naming import lower_first
from seatwright.pour._result import CostBasis, Mix, SpanCost
from seatwright.pour._spans import Span, uses_whole_cast
from seatwright.quantities import Measured

__all__ = ["average_cast_volume_ml", "estimate_volumes_ml", "plan_mixes", "powder_for_volume_g"]

_BAND_MM = 20.0  # judgement: width of cast along the arch, sulcus to lingual border
_POUR_HEIGHT_MM = 18.0  # judgement: mean height of stone above the base, crowns and ridge
_U_ESTIMATED = 0.30  # judgement: arches and trays differ by about a third
_U_MEASURED = 0.05  # judgement: water displacement or a scanned surface, closed by hand
_LEAST_FIRST = 1 / 3  # judgement: the crowns' part of a cast whose base was taken off its volume
_BOWL_G = 300.0  # judgement: powder that a bench mixer's bowl takes in one mix
_RATIO_SLIP = 0.01  # judgement: g/g that rounding may move the ratio unsaid
_LATE_H = 72.0  # evidence: gyp_mich_peak
_FIRST_DAY_H = 24.0  # evidence: exp_t4_day
_PERCENT = 100.0  # definition: per hundred
_RATIO_RECORD = {Stone.TYPE_3: "gyp_wp_t3", Stone.TYPE_4: "gyp_wp_t4", Stone.TYPE_5: "gyp_wp_t4"}
_EXPANSION = {
    (Stone.TYPE_3, False): "exp_t3",
    (Stone.TYPE_3, True): "exp_t3",
    (Stone.TYPE_4, False): "exp_t4_day",
    (Stone.TYPE_4, True): "exp_t4_late",
    (Stone.TYPE_5, False): "exp_t5_day",
    (Stone.TYPE_5, True): "exp_t5_late",
}
NAMES = {Stone.TYPE_3: "Type 3", Stone.TYPE_4: "Type 4", Stone.TYPE_5: "Type 5"}  # definition: ISO 6873 type numbers


def powder_for_volume_g(volume_ml: float, water_powder: float) -> float:
    """Powder whose mix with water fills a volume, no air and no waste: m = V / (1/rho + W/P).

    Parameters
    ----------
    volume_ml : float
        Volume of mixed stone, ml, >= 0.
    water_powder : float
        Water/powder ratio, g/g, > 0.

    Returns
    -------
    float
        Powder, g. The density of hemihydrate is evidence gyp_rho_hemi (2.76 g/cm3, from memory).

    Examples
    --------
    >>> round(powder_for_volume_g(100.0, 0.20))
    178
    """
    return volume_ml / (1 / find_evidence("gyp_rho_hemi").require_value() + water_powder)


def average_cast_volume_ml(impression: Impression) -> float:
    """Volume of a whole average cast for this impression, its base included, ml; a judgement."""
    height_mm = _POUR_HEIGHT_MM + impression.pour.base_height_mm
    return _footprint_mm2(impression.arch) * height_mm / 1000


def estimate_volumes_ml(impression: Impression, scanned_ml: float | None) -> tuple[Measured, Measured, Source]:
    """Return (first pour, base, source of the volume), ml, before waste.

    A volume from the scan or the plan is the whole cast's; the base is taken off it when it is mixed apart. Without
    one, both come from an average arch. The base is 0 ml when it belongs to the first pour.
    """
    footprint_mm2 = _footprint_mm2(impression.arch)
    base_ml = footprint_mm2 * impression.pour.base_height_mm / 1000
    is_apart = impression.pour.base_stone is not None
    whole_ml = scanned_ml if scanned_ml is not None else impression.pour.cast_volume_ml
    base = Measured(base_ml if is_apart else 0.0, _U_ESTIMATED * base_ml if is_apart else 0.0, "ml")
    if whole_ml is None:
        first_ml = footprint_mm2 * _POUR_HEIGHT_MM / 1000 + (0.0 if is_apart else base_ml)
        return Measured(first_ml, _U_ESTIMATED * first_ml, "ml"), base, JUDGEMENT
    kind = SourceKind.MEASURED if scanned_ml is not None else SourceKind.CASE
    source = Source(kind, "volume of the cast")
    if not is_apart:
        return Measured(whole_ml, _U_MEASURED * whole_ml, "ml"), base, source
    first_ml = max(whole_ml - base_ml, whole_ml * _LEAST_FIRST)
    u = math.hypot(_U_MEASURED * whole_ml, base.u)
    return Measured(first_ml, u, "ml"), Measured(whole_ml - first_ml, base.u, "ml"), source


def plan_mixes(
    impression: Impression, bench: Bench, spans: Sequence[Span], *, name: str, scanned_ml: float | None = None
) -> tuple[Mix, ...]:
    """Return the first pour and, where the plan wants a base of its own, the base.

    Powder is rounded up to the balance's step or to whole sachets, water to the cylinder's step.
    """
    first_ml, base_ml, source = estimate_volumes_ml(impression, scanned_ml)
    stone = impression.pour.stone
    mixes = [_mix("first pour", stone, first_ml, impression, bench, source=source, spans=spans, name=name)]
    base_stone = impression.pour.base_stone
    if base_stone is not None:
        mixes.append(_mix("base", base_stone, base_ml, impression, bench, source=source, spans=(), name=name))
    return tuple(mixes)


def _footprint_mm2(arch: Arch) -> float:
    """Plan area of an average cast: a band along a lower arch; a filled palate for an upper one."""
    places = sorted(nominal_layout(arch).values(), key=lambda p: p.x_mm)
    length = sum(p.width_md_mm for p in places)
    if arch is Arch.MANDIBLE:
        return length * _BAND_MM
    x, y = [p.x_mm for p in places], [p.y_mm for p in places]
    inside = abs(sum(x[i - 1] * y[i] - x[i] * y[i - 1] for i in range(len(x)))) / 2
    return inside + length * _BAND_MM / 2


def _mix(
    what: str,
    stone: Stone,
    volume: Measured,
    impression: Impression,
    bench: Bench,
    *,
    source: Source,
    spans: Sequence[Span],
    name: str,
) -> Mix:
    is_first = what == "first pour"
    stock = next((s for s in bench.stone if s.stone is stone), None)
    ratio, ratio_source = _ratio(impression if is_first else None, stone, stock)
    low, high = find_evidence("mix_waste").require_range()
    with_waste = 1 + (low + high) / 2 / _PERCENT
    needed_g = powder_for_volume_g(volume.value * with_waste, ratio)
    planned = impression.pour.sachet_g if is_first else None
    sachet_g = planned or (stock.sachet_g if stock else None)
    powder_g, n_batches = _round_powder(needed_g, sachet_g, bench)
    water_ml = n_batches * _round_water(powder_g / n_batches, ratio, bench.water_resolution_ml)
    expansion = _expansion(impression, stone, stock, spans[0]) if spans else None
    is_inside = is_first and bool(spans) and expansion is None
    findings = _mix_findings(impression, stone, ratio, ratio_source, is_first=is_first)
    bound_ml = powder_g * find_evidence("gyp_stoich").require_value() / _PERCENT
    if source.kind is SourceKind.JUDGEMENT:
        findings.append(_guessed(powder_for_volume_g(volume.interval()[1] * with_waste, ratio), powder_g))
    if is_inside:
        findings.append(_inside())
    if abs(water_ml / powder_g - ratio) > _RATIO_SLIP:
        findings.append(_slip(water_ml, powder_g, ratio, bench))
    if expansion is not None and impression.material.is_hydrocolloid:
        findings.append(_inside_fresh())
    head = f"{name}, {what}"
    about = tuple(replace(f, what=f"{head}: {lower_first(f.what)}", about=impression.id) for f in findings)
    return Mix(what, stone, volume, ratio, powder_g, water_ml, n_batches, bound_ml, expansion, source, about)


def _ratio(impression: Impression | None, stone: Stone, stock: StoneStock | None) -> tuple[float, Source]:
    """Return the ratio to use: the plan's, else the stock's, else the middle of the textbook range."""
    if impression is not None and impression.pour.water_powder is not None:
        return impression.pour.water_powder, Source(SourceKind.CASE, "water/powder of the pour plan")
    if stock is not None:
        return stock.water_powder, Source(SourceKind.MAKER, "water/powder of the bench stock")
    low, high = find_evidence(_RATIO_RECORD[stone]).require_range()
    return (low + high) / 2, source_of(_RATIO_RECORD[stone])


def _round_powder(needed_g: float, sachet_g: float | None, bench: Bench) -> tuple[float, int]:
    """Return (powder, batches): equal batches of whole sachets or of whole steps of the balance, rounded up."""
    steps = [e.resolution_g for e in bench.equipment if e.kind == "balance" and e.resolution_g]
    step_g = sachet_g or (min(steps) if steps else 1.0)
    bowl_g = max(_BOWL_G, step_g)
    n_batches = max(math.ceil(needed_g / bowl_g - 1e-9), 1)
    if sachet_g is None:
        per_batch = math.ceil(needed_g / n_batches / step_g - 1e-9) * step_g
        return round(per_batch * n_batches, 6), n_batches
    n_sachets = max(math.ceil(needed_g / sachet_g - 1e-9), 1)
    n_batches = math.ceil(n_sachets / max(int(bowl_g // sachet_g), 1))
    return math.ceil(n_sachets / n_batches) * n_batches * sachet_g, n_batches


def _round_water(powder_g: float, ratio: float, step_ml: float) -> float:
    """Return the water of one bowl on the cylinder's step; rounding alone never goes below what the powder binds."""
    bound_g = powder_g * min(ratio, find_evidence("gyp_stoich").require_value() / _PERCENT)
    return max(round(powder_g * ratio / step_ml), math.ceil(bound_g / step_ml - 1e-9), 1) * step_ml


def _expansion(impression: Impression, stone: Stone, stock: StoneStock | None, span: Span) -> SpanCost | None:
    """Return the stone's expansion over the longest span; None where whole-cast figures hold it already."""
    is_maker_change = impression.maker.linear_change_percent is not None
    if uses_whole_cast(impression.material, span) and not is_maker_change:
        return None
    is_late = impression.pour.used_after_h >= _LATE_H
    record = find_evidence(_EXPANSION[stone, is_late])
    percent, u_percent = record.require_value(), record.sd or 0.0
    if stock is not None and stock.setting_expansion_percent is not None:
        percent = max(stock.setting_expansion_percent, percent) if is_late else stock.setting_expansion_percent
    u = math.hypot(10 * span.length_mm * u_percent, 10 * percent * span.u_mm)
    change = Measured(10 * span.length_mm * percent, u, "µm")
    return SpanCost(span.named(), span.length_mm, change, CostBasis.STONE, span.is_nominal)


def _mix_findings(
    impression: Impression, stone: Stone, ratio: float, ratio_source: Source, *, is_first: bool
) -> list[Finding]:
    found: list[Finding] = []
    name = NAMES[stone]
    is_pick_up = impression.role is ImpressionRole.PICK_UP and is_first
    if ratio_source.kind not in (SourceKind.CASE, SourceKind.MAKER):
        what = f"No maker's water/powder ratio for {name}: {ratio:.3g} is the middle of a textbook range."
        do = "Read the ratio off the packet and put it in the bench file."
        found.append(Finding("mix-ratio-from-table", Severity.CAUTION, what, "Products differ.", do, ratio_source))
    low, high = find_evidence(_RATIO_RECORD[stone]).require_range()
    bound = find_evidence("gyp_stoich").require_value() / _PERCENT
    direction = source_of("gyp_wp_dir")
    if ratio < bound:
        what = f"Ratio {ratio:g} is below the {bound:.3f} that the powder binds: part of it stays unset."
        found.append(
            Finding("mix-too-dry", Severity.WARNING, what, "Stoichiometry.", "Add water.", source_of("gyp_stoich"))
        )
    elif not low <= ratio <= high:
        way = "less expansion, weaker, slower" if ratio > high else "more expansion, stronger, faster"
        what = f"Ratio {ratio:g} is outside {low:g} to {high:g} for {name}: {way}."
        do = "Check the packet. How much it changes is not known here."
        found.append(Finding("mix-ratio-unusual", Severity.CAUTION, what, "Direction from memory.", do, direction))
    if stone is Stone.TYPE_5 and is_first:
        record = find_evidence("gyp_iso_t5_exp")
        what = f"Stone of Type 5 expands {record.low:g} to {record.high:g} %: too much where positions must be true."
        do = "Pour Type 4 unless the expansion is wanted to make good a casting shrinkage."
        found.append(Finding("mix-type-5", Severity.WARNING, what, "Allowed range.", do, source_of(record.id)))
    if stone is Stone.TYPE_3 and is_pick_up:
        what = "Stone of Type 3 round finished crowns is softer than Type 4."
        found.append(Finding("mix-type-3", Severity.WARNING, what, "It must last months.", "Pour Type 4."))
    if is_pick_up:
        what = "More water sets slower, expands less, is weaker; less water or longer mixing does the reverse."
        found.append(
            Finding("mix-ratio-effect", Severity.NOTE, what, "Direction only.", "Weigh, do not guess.", direction)
        )
        if impression.pour.used_after_h > _FIRST_DAY_H:
            found.append(_late_use(impression.pour.used_after_h))
    return found


def _late_use(used_after_h: float) -> Finding:
    if used_after_h < _LATE_H:
        what = (
            f"Used at {used_after_h:g} h: the first day's expansion is taken; from 24 h to 72 h nothing is tabulated."
        )
        return Finding("mix-second-day", Severity.NOTE, what, "Stone grows for days.", source=source_of("exp_t4_day"))
    what = "Used after 72 h, so take the expansion of three to five days, the lowest known or more."
    do = "Use it before 72 h, or measure it again then."
    return Finding("mix-late-use", Severity.CAUTION, what, "Stone grows for days.", do, source_of("gyp_hes_low"))


def _guessed(most_g: float, powder_g: float) -> Finding:
    """Say how much more an arch larger than the average could take: running short in a pour is worse than waste."""
    told = f"The volume is that of an average arch; it may take up to {most_g:.0f} g, not {powder_g:g} g."
    do = "Keep the rest of the powder and water weighed beside the bowl, or give the cast's volume."
    return Finding("mix-volume-guessed", Severity.CAUTION, told, "Judgement.", do, JUDGEMENT)


def _inside() -> Finding:
    what = "The stone's expansion is part of the figure measured on whole casts; add nothing for it."
    return Finding("mix-expansion-inside", Severity.NOTE, what, source=source_of("cost_elastomer_cast"))


def _inside_fresh() -> Finding:
    what = "Add the stone's expansion only past the strict window; inside it casts were measured, stone included."
    return Finding("mix-expansion-fresh", Severity.NOTE, what, source=source_of("cost_alg_fresh"))


def _slip(water_ml: float, powder_g: float, ratio: float, bench: Bench) -> Finding:
    what = f"Rounding turns the ratio {ratio:g} into {water_ml / powder_g:.3f}."
    why = f"The cylinder is read to {bench.water_resolution_ml:g} ml."
    return Finding("mix-rounding", Severity.CAUTION, what, why, "Measure the water with a syringe.", COMMON_PRACTICE)
