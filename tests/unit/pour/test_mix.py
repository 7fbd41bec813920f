"""Powder, water, batches, expansion."""

import pytest
from tests.unit.pour.builders import bench, case_with, impression, opposing

from seatwright.case import Arch, Equipment, ImpressionMaterial, PourPlan, Stone, StoneStock
from seatwright.findings import Severity, SourceKind
from seatwright.pour import CostBasis, powder_for_volume_g
from seatwright.pour._mix import estimate_volumes_ml, plan_mixes
from seatwright.pour._spans import find_spans

T4, T3, T5 = Stone.TYPE_4, Stone.TYPE_3, Stone.TYPE_5


def mixes(plan: PourPlan, *, scanned_ml: float | None = None, on=None, **other):
    taken = impression(pour=plan, **other)
    return plan_mixes(taken, on or bench(), find_spans(case_with(taken), taken), scanned_ml=scanned_ml)


def ids(mix) -> set[str]:
    return {finding.id for finding in mix.findings}


def test_a_hundred_millilitres_take_powder_waste_and_water_rounded_to_what_is_read() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=100.0))
    exact = 1.15 * 100 / (1 / 2.76 + 0.20)
    assert exact == pytest.approx(204.5, abs=0.1)
    assert (mix.powder_g, mix.water_ml, mix.n_batches) == (205.0, 41.0, 1)
    assert mix.stoichiometric_water_ml == pytest.approx(205 * 0.186)
    assert mix.stoichiometric_water_ml < mix.water_ml


def test_powder_comes_in_whole_sachets_and_is_never_short() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=100.0, sachet_g=60.0))
    assert mix.powder_g == 240.0
    assert mix.water_ml == 48.0


def test_more_than_a_bowl_is_mixed_in_equal_batches() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=200.0))
    assert (mix.n_batches, mix.powder_g) == (2, 410.0)


def test_the_scanned_volume_goes_before_the_plans() -> None:
    plan = PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=100.0)
    (mix,) = mixes(plan, scanned_ml=50.0)
    assert (mix.volume_ml.value, mix.source.kind) == (50.0, SourceKind.MEASURED)
    assert mix.volume_ml.u == pytest.approx(2.5)


def test_a_base_of_its_own_is_taken_off_the_whole_cast() -> None:
    plan = PourPlan(stone=T4, base_stone=T3, water_powder=0.20, cast_volume_ml=100.0, base_height_mm=15.0)
    first, base = mixes(plan)
    assert (first.what, base.what, base.stone) == ("first pour", "base", T3)
    assert first.volume_ml.value + base.volume_ml.value == pytest.approx(100.0)
    assert base.expansion_um is None


def test_a_base_larger_than_the_cast_leaves_a_third_for_the_crowns() -> None:
    plan = PourPlan(stone=T4, base_stone=T3, water_powder=0.20, cast_volume_ml=30.0, base_height_mm=40.0)
    assert mixes(plan)[0].volume_ml.value == pytest.approx(10.0)


def test_without_a_volume_an_average_arch_is_taken_and_said_with_the_most_it_may_need() -> None:
    volume, base, source = estimate_volumes_ml(impression(), None)
    assert source.kind is SourceKind.JUDGEMENT
    assert volume.u == pytest.approx(0.3 * volume.value)
    assert 50 < volume.value < 120
    assert base.value == 0.0
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20))
    assert "mix-volume-guessed" in ids(mix)
    assert "mix-volume-guessed" not in ids(mixes(PourPlan(stone=T4, water_powder=0.2, cast_volume_ml=90.0))[0])


def test_an_upper_arch_with_its_palate_takes_more_than_a_lower_one() -> None:
    lower, _, _ = estimate_volumes_ml(impression(), None)
    upper, _, _ = estimate_volumes_ml(opposing(arch=Arch.MAXILLA), None)
    assert upper.value > lower.value


def test_the_ratio_comes_from_plan_then_stock_then_the_textbooks_middle_with_a_caution() -> None:
    stock = bench(stone=(StoneStock(stone=T4, water_powder=0.21),))
    assert mixes(PourPlan(stone=T4, water_powder=0.20), on=stock)[0].water_powder == 0.20
    assert mixes(PourPlan(stone=T4), on=stock)[0].water_powder == 0.21
    bare = mixes(PourPlan(stone=T4))[0]
    assert bare.water_powder == pytest.approx(0.215)
    assert "mix-ratio-from-table" in ids(bare)


@pytest.mark.parametrize(
    ("ratio", "found"),
    [(0.185, "mix-too-dry"), (0.187, "mix-ratio-unusual"), (0.19, None), (0.24, None), (0.25, "mix-ratio-unusual")],
)
def test_ratios_outside_the_range_are_said_and_below_stoichiometry_warned(ratio: float, found: str | None) -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=ratio, cast_volume_ml=100.0))
    assert ids(mix) & {"mix-too-dry", "mix-ratio-unusual"} == ({found} if found else set())


def test_the_direction_of_a_changed_ratio_is_said_both_ways() -> None:
    wet = mixes(PourPlan(stone=T4, water_powder=0.30, cast_volume_ml=100.0))[0]
    dry = mixes(PourPlan(stone=T4, water_powder=0.187, cast_volume_ml=100.0))[0]
    assert "less expansion" in next(f for f in wet.findings if f.id == "mix-ratio-unusual").what
    assert "more expansion" in next(f for f in dry.findings if f.id == "mix-ratio-unusual").what


def test_rounding_that_moves_the_ratio_is_said() -> None:
    coarse = bench(water_resolution_ml=10.0)
    assert "mix-rounding" in ids(mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=60.0), on=coarse)[0])
    assert "mix-rounding" not in ids(mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=60.0))[0])


def test_the_balance_sets_the_step() -> None:
    fine = bench(equipment=(Equipment(id="b", kind="balance", resolution_g=0.1),))
    powder = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=100.0), on=fine)[0].powder_g
    assert powder == pytest.approx(204.6, abs=0.05)


def test_type_5_is_warned_of_and_type_3_round_crowns_too() -> None:
    five = mixes(PourPlan(stone=T5, water_powder=0.20))[0]
    assert next(f for f in five.findings if f.id == "mix-type-5").severity is Severity.WARNING
    assert "mix-type-3" in ids(mixes(PourPlan(stone=T3, water_powder=0.30))[0])


@pytest.mark.parametrize(
    ("stone", "hours", "percent", "found"),
    [
        (T4, 24.0, 0.08, None),
        (T4, 24.1, 0.08, "mix-second-day"),
        (T4, 71.9, 0.08, "mix-second-day"),
        (T4, 72.0, 0.14, "mix-late-use"),
        (T5, 24.0, 0.23, None),
        (T5, 72.0, 0.35, "mix-late-use"),
    ],
)
def test_expansion_over_the_longest_span(stone: Stone, hours: float, percent: float, found: str | None) -> None:
    (mix,) = mixes(PourPlan(stone=stone, water_powder=0.20, used_after_h=hours))
    cost = mix.expansion_um
    assert cost is not None
    assert cost.basis is CostBasis.STONE
    assert cost.change_um.value == pytest.approx(10 * percent * cost.span_mm)
    assert ids(mix) & {"mix-second-day", "mix-late-use"} == ({found} if found else set())


def test_the_makers_expansion_rules_on_the_first_day_and_never_lowers_the_late_one() -> None:
    stock = bench(stone=(StoneStock(stone=T4, water_powder=0.20, setting_expansion_percent=0.05),))
    day = mixes(PourPlan(stone=T4), on=stock)[0].expansion_um
    late = mixes(PourPlan(stone=T4, used_after_h=96.0), on=stock)[0].expansion_um
    assert day.change_um.value == pytest.approx(10 * 0.05 * day.span_mm)
    assert late.change_um.value == pytest.approx(10 * 0.14 * late.span_mm)


def test_an_elastomer_cast_gives_no_stone_expansion_to_add() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20), material=ImpressionMaterial.POLYETHER)
    assert mix.expansion_um is None
    assert "mix-expansion-inside" in ids(mix)


def test_powder_of_no_volume_is_none() -> None:
    assert powder_for_volume_g(0.0, 0.2) == 0.0
