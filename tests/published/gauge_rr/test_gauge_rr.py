"""The manual's study of ten parts, three appraisers and three trials, by analysis of variance."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from seatwright.cast import study_gauge

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]

# rows: parts 1 to 10; columns: appraiser A trials 1 to 3, then B, then C
READINGS = np.array(
    [
        [0.29, 0.41, 0.64, 0.08, 0.25, 0.07, 0.04, -0.11, -0.15],
        [-0.56, -0.68, -0.58, -0.47, -1.22, -0.68, -1.38, -1.13, -0.96],
        [1.34, 1.17, 1.27, 1.19, 0.94, 1.34, 0.88, 1.09, 0.67],
        [0.47, 0.5, 0.64, 0.01, 1.03, 0.2, 0.14, 0.2, 0.11],
        [-0.8, -0.92, -0.84, -0.56, -1.2, -1.28, -1.46, -1.07, -1.45],
        [0.02, -0.11, -0.21, -0.2, 0.22, 0.06, -0.29, -0.67, -0.49],
        [0.59, 0.75, 0.66, 0.47, 0.55, 0.83, 0.02, 0.01, 0.21],
        [-0.31, -0.2, -0.17, -0.63, 0.08, -0.34, -0.46, -0.56, -0.49],
        [2.26, 1.99, 2.01, 1.8, 2.12, 2.19, 1.77, 1.45, 1.87],
        [-1.36, -1.25, -1.31, -1.68, -1.62, -1.5, -1.49, -1.77, -2.16],
    ]
).reshape(10, 3, 3)


def half_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(
    ("name", "attribute"),
    [
        ("EV", "s_repeatability"),
        ("AV", "s_reproducibility"),
        # the manual adds rounded squares: its last digit of GRR differs by one from the root of its own EV and AV
        ("PV", "s_part"),
        ("TV", "s_total"),
    ],
)
def test_components_match_the_manual(name: str, attribute: str) -> None:
    found = getattr(study_gauge(READINGS), attribute)
    assert abs(found - float(EXPECTED[name])) <= half_digit(EXPECTED[name])


def test_gauge_spread_share_and_contributions_match_the_manual() -> None:
    study = study_gauge(READINGS)
    assert abs(study.s_gauge - float(EXPECTED["GRR"])) <= 1.5e-6
    assert abs(100 * study.gauge_share - float(EXPECTED["GRR_share_percent"])) <= 0.05
    assert abs(study.repeat.sum_of_squares - float(EXPECTED["SS_equipment"])) <= 0.5e-4
    parts = [study.s_repeatability, study.s_reproducibility, study.s_gauge, study.s_part]
    for found, printed in zip(parts, EXPECTED["contribution_percent"], strict=True):
        assert abs(100 * (found / study.s_total) ** 2 - float(printed)) <= 0.05
    assert not study.is_interaction_kept


def test_interaction_test_matches_a_general_purpose_library() -> None:
    """The one-way analysis over cells and over parts, by scipy, brackets the two-way sums of squares."""
    study = study_gauge(READINGS)
    cells = READINGS.reshape(30, 3)
    f_cells = stats.f_oneway(*cells).statistic
    between = study.part.sum_of_squares + study.operator.sum_of_squares + study.interaction.sum_of_squares
    assert (between / 29) / study.repeat.mean_square == pytest.approx(f_cells, rel=1e-12)
    f_parts = stats.f_oneway(*READINGS.reshape(10, 9)).statistic
    rest = study.total.sum_of_squares - study.part.sum_of_squares
    assert study.part.mean_square / (rest / 80) == pytest.approx(f_parts, rel=1e-12)
