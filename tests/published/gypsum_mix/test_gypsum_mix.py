"""Powder and water against worked values, molar masses and the textbook's ratios; tolerance: half the last digit."""

import tomllib
from pathlib import Path

import pytest
from tests.unit.pour.builders import assess, bench_without_maker, pick_up

from seatwright.case import ImpressionMaterial, PourPlan, Stone
from seatwright.evidence import find_evidence
from seatwright.pour import powder_for_volume_g

SOURCE = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("ratio", "printed"), SOURCE["powder_per_100_cm3_g"].items())
def test_powder_for_100_cm3_is_as_printed(ratio: str, printed: str) -> None:
    assert abs(powder_for_volume_g(100.0, float(ratio)) - float(printed)) <= 0.5


def test_binding_water_follows_from_atomic_weights() -> None:
    weight = {name: float(value) for name, value in SOURCE["atomic_weights"].items()}
    water = 1.5 * (2 * weight["H"] + weight["O"])
    hemihydrate = weight["Ca"] + weight["S"] + 4 * weight["O"] + 0.5 * (2 * weight["H"] + weight["O"])
    printed = SOURCE["binding_water"]
    assert abs(water - float(printed["water_g_per_mol_x_1_5"])) <= 0.005
    assert abs(hemihydrate - float(printed["hemihydrate_g_per_mol"])) <= 0.01  # the atomic weights carry 0.005 of it
    assert abs(100 * water / hemihydrate - float(printed["per_100_g"])) <= 0.05
    assert abs(find_evidence("gyp_stoich").value - 100 * water / hemihydrate) <= 0.05


def test_reported_binding_water_is_the_printed_share_of_the_powder() -> None:
    mix = assess(pick_up(ImpressionMaterial.POLYETHER)).impressions[0].mixes[0]
    assert abs(100 * mix.stoichiometric_water_ml / mix.powder_g - float(SOURCE["binding_water"]["per_100_g"])) <= 0.05


@pytest.mark.parametrize(("stone", "limits"), SOURCE["textbook_ratio"].items())
def test_ratio_without_a_maker_is_the_middle_of_the_textbook_range(stone: str, limits: list[str]) -> None:
    low, high = map(float, limits)
    plan = PourPlan(stone=Stone(stone))
    mix = assess(pick_up(pour=plan), bench=bench_without_maker(stone=())).impressions[0].mixes[0]
    assert mix.water_powder == pytest.approx((low + high) / 2)
    said = {f.id for f in mix.findings}
    assert "mix-ratio-from-table" in said
    for ratio, is_said in ((low, False), (high, False), (low - 0.002, True), (high + 0.002, True)):
        own = PourPlan(stone=Stone(stone), water_powder=ratio)
        ids = {f.id for f in assess(pick_up(pour=own)).impressions[0].mixes[0].findings}
        assert bool(ids & {"mix-ratio-unusual", "mix-too-dry"}) is is_said
