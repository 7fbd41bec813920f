"""The deviation scale: equal steps, monotone in gray, blue against brown."""

import numpy as np

from seatwright.figures import diverging_color
from seatwright.figures._colors import oklab_to_srgb, srgb_to_oklab

LAB = srgb_to_oklab(diverging_color(np.linspace(-1, 1, 201)))


def test_equal_steps_of_value_are_equal_steps_of_color() -> None:
    steps = np.linalg.norm(np.diff(LAB, axis=0), axis=1)
    assert steps.max() / steps.min() < 1.02


def test_lightness_alone_tells_how_far_from_zero() -> None:
    low, high = LAB[:101, 0], LAB[100:, 0]
    assert (np.diff(low) > 0).all()
    assert (np.diff(high) < 0).all()
    assert abs(low[0] - high[-1]) < 0.01


def test_the_two_ends_differ_along_blue_and_yellow_and_hardly_along_red_and_green() -> None:
    first, last = LAB[0], LAB[-1]
    assert first[2] < -0.08 < 0.08 < last[2]
    assert abs(first[1] - last[1]) < 0.5 * abs(first[2] - last[2])


def test_no_color_of_the_scale_is_clipped() -> None:
    t = np.linspace(-1, 1, 41)
    np.testing.assert_allclose(oklab_to_srgb(srgb_to_oklab(diverging_color(t))), diverging_color(t), atol=1e-6)
    colors = diverging_color(t)
    assert colors.min() > 0.0
    assert colors.max() < 1.0
