"""Powder and bound water against hand arithmetic from densities and atomic weights; tolerance half the last digit."""

import tomllib
from pathlib import Path

import pytest

from seatwright.evidence import find_evidence
from seatwright.pour import powder_for_volume_g

SOURCE = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("ratio", "printed"), SOURCE["powder_g_per_100_cm3"].items())
def test_powder_for_a_hundred_cubic_centimetres_matches_the_printed_mass(ratio: str, printed: str) -> None:
    assert abs(powder_for_volume_g(100.0, float(ratio)) - float(printed)) <= 0.5
    record = find_evidence(f"gyp_powder_{ratio[2:]}")
    assert record.value == float(printed)


def test_water_that_hemihydrate_binds_follows_from_atomic_weights() -> None:
    weights = SOURCE["atomic_weights"]
    water = 2 * weights["H"] + weights["O"]
    hemihydrate = weights["Ca"] + weights["S"] + 4 * weights["O"] + water / 2
    # The third digit printed for the molar mass rests on an older weight of sulfur.
    assert abs(hemihydrate - float(SOURCE["water"]["hemihydrate_molar_mass_g"])) <= 0.01
    assert abs(1.5 * water - float(SOURCE["water"]["bound_molar_mass_g"])) <= 0.005
    assert abs(100 * 1.5 * water / hemihydrate - float(SOURCE["water"]["g_per_100_g"])) <= 0.05
    assert find_evidence("gyp_stoich").value == float(SOURCE["water"]["g_per_100_g"])
