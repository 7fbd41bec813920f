"""Spread within and between days of a voltage standard: the one-way analysis of JCGM 100:2008, H.5."""

import tomllib
from pathlib import Path

import numpy as np

from seatwright.cast import pool_repeats

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]
MEAN_UV = np.array([172.0, 116, 13, 144, 106, 31, 60, 125, 163, 41])  # beyond 10 V
SPREAD_UV = np.array([60.0, 77, 111, 101, 67, 93, 80, 73, 88, 86])
SHAPE = np.array([-2.0, -1, 0, 1, 2]) / np.std([-2.0, -1, 0, 1, 2], ddof=1)


def agrees(found: float, printed: str) -> bool:
    return abs(found - float(printed)) <= 0.5001 * 10.0 ** -len(printed.partition(".")[2])


def test_spread_within_and_between_days_match_the_guide() -> None:
    """Five readings with each printed mean and spread stand for the day: the analysis sees no more of them."""
    days = [mean + spread * SHAPE for mean, spread in zip(MEAN_UV, SPREAD_UV, strict=True)]
    pooled = pool_repeats(days)
    assert pooled.dof == 40
    assert agrees(float(np.mean(days)), EXPECTED["mean_uv_beyond_10_v"])
    assert agrees(float(np.std(MEAN_UV, ddof=1)), EXPECTED["s_of_daily_means_uv"])
    assert agrees(pooled.s, EXPECTED["s_within_uv"])
    assert agrees(pooled.s_between, EXPECTED["s_between_uv"])
    f = (pooled.s**2 + 5 * pooled.s_between**2) / pooled.s**2
    assert abs(f - float(EXPECTED["f"])) <= 0.02  # daily values are printed to 1 µV, which moves F by as much
    assert pooled.outlying_cell is None
