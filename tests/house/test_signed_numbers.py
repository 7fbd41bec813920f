"""A signed number is told in one place, so that what rounds to zero never carries a sign."""

import re
from pathlib import Path

import pytest

from seatwright.quantities import Measured, tell_signed

SRC = Path(__file__).parents[2] / "src" / "seatwright"
TELLER = SRC / "quantities" / "_told.py"
SIGNED = re.compile(r":\+\.\d+[fg]\}")


def test_signs_are_formatted_in_one_place_only() -> None:
    found = [
        f"{path.relative_to(SRC)}: {line.strip()}"
        for path in sorted(SRC.rglob("*.py"))
        if path != TELLER
        for line in path.read_text(encoding="utf-8").splitlines()
        if SIGNED.search(line)
    ]
    assert found == []


@pytest.mark.parametrize(("value", "told"), [(-0.004, "0.00"), (0.004, "0.00"), (-0.0, "0.00"), (-0.005001, "-0.01")])
def test_what_rounds_to_zero_has_no_sign(value: float, told: str) -> None:
    assert tell_signed(value, 2) == told


def test_exact_negative_zero_has_no_sign() -> None:
    assert Measured(-0.0, 0.0, "µm").shown() == "0 µm"
