"""Repeatability and reproducibility of unequal cells against the worked example of ISO 5725-2, and a plain F ratio."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from seatwright.cast import pool_repeats

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]
HALF_DIGIT = 0.0005
# one line per laboratory, one list per level of sulfur, % by mass
READINGS = [
    [[0.71, 0.71, 0.70, 0.71], [1.20, 1.18, 1.23, 1.21], [1.68, 1.70, 1.68, 1.69], [3.26, 3.26, 3.20, 3.24]],
    [[0.69, 0.67, 0.68], [1.22, 1.21, 1.22], [1.64, 1.64, 1.65], [3.20, 3.20, 3.20]],
    [[0.66, 0.65, 0.69], [1.28, 1.31, 1.30], [1.61, 1.61, 1.62], [3.37, 3.36, 3.38]],
    [[0.67, 0.65, 0.66], [1.23, 1.18, 1.20], [1.68, 1.66, 1.66], [3.16, 3.22, 3.23]],
    [[0.70, 0.69, 0.66, 0.71, 0.69], [1.31, 1.22, 1.22, 1.24], [1.64, 1.67, 1.60, 1.66, 1.68],
     [3.20, 3.19, 3.18, 3.27, 3.24]],
    [[0.73, 0.74, 0.73], [1.39, 1.36, 1.37], [1.70, 1.73, 1.73], [3.27, 3.31, 3.29]],
    [[0.71, 0.71, 0.69], [1.20, 1.26, 1.26], [1.69, 1.70, 1.68], [3.27, 3.24, 3.23]],
    [[0.70, 0.65, 0.68], [1.24, 1.22, 1.30], [1.67, 1.68, 1.67], [3.25, 3.26, 3.26]],
]  # fmt: skip


@pytest.mark.parametrize("level", range(4))
def test_repeatability_and_reproducibility_are_those_printed(level: int) -> None:
    cells = [laboratory[level] for laboratory in READINGS]
    pooled = pool_repeats(cells)
    reproducibility = math.hypot(pooled.s, pooled.s_between)
    assert abs(float(np.concatenate(cells).mean()) - float(EXPECTED["mean"][level])) <= HALF_DIGIT
    assert abs(pooled.s - float(EXPECTED["s_r"][level])) <= HALF_DIGIT
    assert abs(reproducibility - float(EXPECTED["s_R"][level])) <= HALF_DIGIT


@pytest.mark.parametrize("level", range(4))
def test_spread_between_laboratories_is_that_of_a_general_purpose_variance_ratio(level: int) -> None:
    """The variance ratio of a one-way analysis (scipy) fixes s_L beside s_r, cells of unequal size or not."""
    cells = [laboratory[level] for laboratory in READINGS]
    pooled = pool_repeats(cells)
    n = np.array([len(cell) for cell in cells], dtype=float)
    n_mean = (n.sum() - (n**2).sum() / n.sum()) / (len(cells) - 1)
    ratio = float(stats.f_oneway(*cells).statistic)
    assert pooled.s_between**2 == pytest.approx(pooled.s**2 * (ratio - 1) / n_mean, rel=1e-9)
