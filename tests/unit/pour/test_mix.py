"""Volumes, rounding to sachets and balance, bowls, expansion."""

import math

import pytest
from tests.unit.pour.builders import assess, bench_without_maker, opposing, pick_up

from seatwright.case import Arch, Equipment, ImpressionMaterial, PourPlan, Stone, StoneStock
from seatwright.findings import Severity, SourceKind
from seatwright.pour import CostBasis, Mix, average_cast_volume_ml, powder_for_volume_g

T3, T4, T5 = Stone.TYPE_3, Stone.TYPE_4, Stone.TYPE_5
WASTE = 1.15


def mixes(
    plan: PourPlan, *, scanned_ml: float | None = None, material=ImpressionMaterial.POLYETHER, **bench
) -> tuple[Mix, ...]:
    impression = pick_up(material, pour=plan)
    volumes = {} if scanned_ml is None else {impression.id: scanned_ml}
    return assess(impression, bench=bench_without_maker(**bench), cast_volumes_ml=volumes).impressions[0].mixes


def ids(mix: Mix) -> set[str]:
    return {f.id for f in mix.findings}


def test_measured_volume_is_poured_with_its_waste() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=80.0), stone=())
    needed = powder_for_volume_g(80.0 * WASTE, 0.20)
    assert needed <= mix.powder_g < needed + 0.5  # the balance reads half grams
    assert mix.source.kind is SourceKind.CASE
    assert "mix-volume-guessed" not in ids(mix)


def test_scanned_volume_goes_before_the_plans() -> None:
    (mix,) = mixes(PourPlan(stone=T4, cast_volume_ml=80.0), scanned_ml=100.0)
    assert (mix.volume_ml.value, mix.source.kind) == (100.0, SourceKind.MEASURED)


def test_base_mixed_apart_is_taken_off_a_measured_volume() -> None:
    first, base = mixes(PourPlan(stone=T4, base_stone=T3, cast_volume_ml=90.0))
    assert first.volume_ml.value + base.volume_ml.value == pytest.approx(90.0)
    assert (first.what, base.what, base.stone) == ("first pour", "base", T3)


def test_base_never_eats_the_crowns_part_of_a_small_cast() -> None:
    first, base = mixes(PourPlan(stone=T4, base_stone=T3, base_height_mm=40.0, cast_volume_ml=60.0))
    assert first.volume_ml.value == pytest.approx(20.0)
    assert base.volume_ml.value == pytest.approx(40.0)


def test_guessed_volume_says_how_much_more_it_may_take() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20), stone=())
    finding = next(f for f in mix.findings if f.id == "mix-volume-guessed")
    most = powder_for_volume_g(mix.volume_ml.interval()[1] * WASTE, 0.20)
    assert f"up to {most:.0f} g, not {mix.powder_g:g} g" in finding.what


@pytest.mark.parametrize("arch", Arch)
def test_average_cast_is_of_a_believable_size(arch) -> None:
    # common practice: a full-arch cast takes about 100 to 250 g of stone, so 50 to 150 ml
    assert 50 < average_cast_volume_ml(opposing(arch=arch)) < 150


@pytest.mark.parametrize(
    ("volume_ml", "n_sachets", "n_batches"),
    [(20.0, 1, 1), (35.0, 2, 1), (140.0, 5, 1), (160.0, 6, 2), (190.0, 8, 2), (350.0, 12, 3)],
)
def test_whole_sachets_are_shared_equally_among_bowls(volume_ml, n_sachets, n_batches) -> None:
    # 60 g sachets, bowl of 300 g; needed powder = V * 1.15 / (1/2.76 + 0.20)
    stock = (StoneStock(stone=T4, water_powder=0.20, sachet_g=60.0),)
    (mix,) = mixes(PourPlan(stone=T4, cast_volume_ml=volume_ml), stone=stock)
    needed = powder_for_volume_g(volume_ml * WASTE, 0.20)
    assert (mix.powder_g / 60.0, mix.n_batches) == (
        math.ceil(math.ceil(needed / 60) / n_batches) * n_batches,
        n_batches,
    )
    assert mix.powder_g / 60.0 == pytest.approx(n_sachets)
    assert (mix.powder_each_g / 60.0).is_integer()
    assert mix.powder_each_g <= 300.0
    assert mix.water_each_ml.is_integer()


def test_card_tells_one_bowl_at_a_time() -> None:
    plan = PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=190.0, sachet_g=60.0)
    clock = assess(pick_up(pour=plan)).impressions[0]
    weigh = next(c for c in clock.cards if c.id == "weigh")
    assert weigh.do.startswith(
        "Water first: 48 ml, then 240 g powder. The same again for each of 2 bowls, 480 g in all."
    )


def test_sachet_larger_than_the_bowl_is_one_bowl_each() -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=250.0, sachet_g=400.0))
    assert (mix.powder_g, mix.n_batches, mix.powder_each_g) == (800.0, 2, 400.0)


def test_coarse_cylinder_that_moves_the_ratio_is_said() -> None:
    plan = PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=25.0, sachet_g=60.0)
    (fine,) = mixes(plan)
    assert (fine.water_ml, "mix-rounding" in ids(fine)) == (12.0, False)
    (mix,) = mixes(plan, water_resolution_ml=5.0)
    assert (mix.water_ml, "mix-rounding" in ids(mix)) == (15.0, True)  # 10 ml would be less than the 11.2 it binds


def test_ratio_order_is_plan_then_stock_then_table() -> None:
    stock = (StoneStock(stone=T4, water_powder=0.23),)
    assert mixes(PourPlan(stone=T4, water_powder=0.21), stone=stock)[0].water_powder == 0.21
    assert mixes(PourPlan(stone=T4), stone=stock)[0].water_powder == 0.23
    assert mixes(PourPlan(stone=T4), stone=())[0].water_powder == pytest.approx(0.215)


@pytest.mark.parametrize(
    ("ratio", "identifier"), [(0.185, "mix-too-dry"), (0.187, "mix-ratio-unusual"), (0.25, "mix-ratio-unusual")]
)
def test_ratio_outside_its_range_is_said(ratio, identifier) -> None:
    (mix,) = mixes(PourPlan(stone=T4, water_powder=ratio))
    assert identifier in ids(mix)


def test_type_5_and_type_3_round_finished_crowns_are_warned_of() -> None:
    finding = next(f for f in mixes(PourPlan(stone=T5))[0].findings if f.id == "mix-type-5")
    assert finding.severity is Severity.WARNING
    assert "0.16 to 0.3 %" in finding.what
    assert "mix-type-3" in ids(mixes(PourPlan(stone=T3))[0])
    assert "mix-type-3" not in ids(assess(opposing(pour=PourPlan(stone=T3))).impressions[0].mixes[0])


@pytest.mark.parametrize(
    ("used_after_h", "identifier", "percent", "u_percent"),
    [(24.0, None, 0.08, 0.04), (48.0, "mix-second-day", 0.08, 0.04), (72.0, "mix-late-use", 0.14, 0.05)],
)
def test_expansion_follows_the_age_at_use(used_after_h, identifier, percent, u_percent) -> None:
    (mix,) = mixes(PourPlan(stone=T4, used_after_h=used_after_h), material=ImpressionMaterial.ALGINATE, stone=())
    assert mix.expansion_um is not None
    span = mix.expansion_um.span_mm
    assert mix.expansion_um.change_um.value == pytest.approx(10 * percent * span)
    assert mix.expansion_um.change_um.u >= 10 * u_percent * span
    assert mix.expansion_um.basis is CostBasis.STONE
    assert ids(mix) & {"mix-second-day", "mix-late-use"} == ({identifier} if identifier else set())


def test_makers_expansion_prevails_and_never_hides_the_late_growth() -> None:
    stock = (StoneStock(stone=T4, water_powder=0.20, setting_expansion_percent=0.05),)
    early, late = (
        mixes(PourPlan(stone=T4, used_after_h=h), material=ImpressionMaterial.ALGINATE, stone=stock)[0].expansion_um
        for h in (24.0, 96.0)
    )
    assert early.change_um.value == pytest.approx(10 * 0.05 * early.span_mm)
    assert late.change_um.value == pytest.approx(10 * 0.14 * late.span_mm)


def test_stone_is_not_counted_twice_where_casts_were_measured() -> None:
    whole = mixes(PourPlan(stone=T4))[0]
    assert whole.expansion_um is None
    assert "mix-expansion-inside" in ids(whole)
    clock = assess(pick_up(pour=PourPlan(stone=T4))).impressions[0]
    assert "stone included" in clock.steps[0].basis.value
    assert "stone included" not in clock.steps[1].basis.value
    assert "mix-expansion-fresh" in ids(clock.mixes[0])


def test_balance_step_is_kept_and_rounded_up() -> None:
    balance = (Equipment(id="balance", kind="balance", resolution_g=5.0),)
    (mix,) = mixes(PourPlan(stone=T4, water_powder=0.20, cast_volume_ml=70.0), stone=(), equipment=balance)
    assert mix.powder_g % 5.0 == 0
    assert mix.powder_g >= powder_for_volume_g(70.0 * WASTE, 0.20)
