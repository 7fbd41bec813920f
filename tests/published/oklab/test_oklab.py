"""Our OKLab against the values that the CSS specification gives for red."""

import tomllib
from pathlib import Path

import numpy as np

from seatwright.figures._colors import srgb_to_oklab


def test_srgb_red_has_the_published_oklab_coordinates() -> None:
    printed = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))["red"]
    expected = [float(printed[name]) for name in ("lightness", "a", "b")]
    # Half the last printed digit.
    np.testing.assert_allclose(srgb_to_oklab(np.array([[1.0, 0, 0]]))[0], expected, atol=0.5e-5, rtol=0)
