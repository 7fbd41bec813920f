"""Figures of the case, a maker or the practice replace the published ones; what contradicts itself is refused."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from seatwright.case import MaleJoin
from seatwright.errors import CaseError, InputError
from seatwright.files import read_own_figures
from seatwright.forecast import Choices, OwnFigures, forecast_seating, parse_own_figures
from seatwright.forecast._answer import forecast_features
from seatwright.forecast._levels import list_poorly_known, take_level
from seatwright.forecast._seating import build_setup

from .seating_cases import seat_case

GOOD = {"value": 12.0, "unit": "µm", "source": "40 frameworks of this practice"}
TECHNIQUES = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "masked", 44: "gel", 45: "analog"}


def own(**tables: Any) -> OwnFigures:
    return parse_own_figures(tables, file="own.toml")


def choices(**tables: Any) -> Choices:
    joined = {"sleeve-front": MaleJoin.LUTED_ON_CAST}
    return Choices(die_technique=TECHNIQUES, male_joined=joined, own=own(**tables))


def test_an_own_figure_replaces_the_published_one_and_is_told() -> None:
    chosen = choices(fc_framework_side=GOOD | {"value": 15.0}, fc_framework_axial=GOOD | {"value": 30.0})
    assert take_level("fc_framework_side", chosen) == 15.0
    published = forecast_seating(seat_case(), choices(), np.random.default_rng(1), n_trials=1000)
    found = forecast_seating(seat_case(), chosen, np.random.default_rng(1), n_trials=1000)
    assert found.p_seats.value > published.p_seats.value + 0.3
    told = [f for f in found.findings if f.id == "forecast-own-figure"]
    assert len(told) == 2
    assert "instead of the published" in told[0].what
    assert "fc_framework_side" in told[0].source.reference
    framework = next(k for k in found.links if k.id == "framework")
    assert framework.how_good == "low"  # the lever is still a judgement


def test_an_own_figure_without_a_range_no_longer_counts_as_poorly_known() -> None:
    assert "fc_drift" in list_poorly_known(Choices())
    assert "fc_drift" not in list_poorly_known(choices(fc_drift=GOOD))
    assert "fc_drift" in list_poorly_known(choices(fc_drift=GOOD | {"low": 5.0, "high": 30.0, "confidence": "low"}))


def test_a_spread_from_few_readings_enters_as_a_t_law_with_its_degrees_of_freedom() -> None:
    result = forecast_seating(
        seat_case(), choices(fc_framework_side=GOOD | {"n": 6}), np.random.default_rng(1), n_trials=400
    )
    cause = next(c for c in result.inputs if c.link == "framework" and c.unit == "mm")
    assert cause.law["law"] == "student_t"
    assert cause.dof == 5
    slide = next(f for f in result.features if f.id == "slide-35" and f.what == "sideways")
    assert slide.dof is not None
    assert slide.dof >= 5
    assert all(c.dof is None for c in result.inputs if c.link == "pick_up")


def test_effective_degrees_of_freedom_are_not_told_where_inputs_are_correlated() -> None:
    # Welch-Satterthwaite holds for independent inputs only.
    few = {"fc_framework_side": GOOD | {"n": 6}}
    alone = build_setup(seat_case(), choices(**few)).chain
    tied = build_setup(
        seat_case(), choices(**few, correlation=[{"link": "pick_up", "between": [37, 44], "value": 0.5}])
    ).chain
    for chain, known in ((alone, True), (tied, False)):
        told = [f.dof for f in forecast_features(chain, choices(**few), 1) if f.id == "slide-35"]
        assert all((dof is not None) == known for dof in told)


def test_stated_correlation_of_two_units_narrows_the_distance_between_them() -> None:
    def u_distance(chosen: Choices) -> float:
        chain = build_setup(seat_case(), chosen).chain
        index = {f.id: i for i, f in enumerate(chain.features)}
        line = np.zeros(6 * len(index))
        line[6 * index["conus-37"]], line[6 * index["rest-44"]] = 1.0, -1.0
        seen = [k for k, c in enumerate(chain.causes) if c.link == "pick_up"]
        loading = np.array([line @ chain.causes[k].loading * chain.causes[k].law.u for k in seen])
        among = np.eye(len(seen)) if chain.correlation is None else chain.correlation[np.ix_(seen, seen)]
        return float(loading @ among @ loading) ** 0.5

    alone = u_distance(choices())
    together = u_distance(choices(correlation=[{"link": "pick_up", "between": [37, 44], "value": 0.8}]))
    assert together == pytest.approx(alone * (1 - 0.8) ** 0.5, rel=0.05)


def test_impossible_correlations_are_a_clear_error() -> None:
    stated = [
        {"link": "pick_up", "between": [37, 44], "value": 0.9},
        {"link": "pick_up", "between": [44, 35], "value": 0.9},
        {"link": "pick_up", "between": [37, 35], "value": -0.9},
    ]
    with pytest.raises(CaseError, match=r"own\.toml.*contradict"):
        build_setup(seat_case(), choices(correlation=stated))
    with pytest.raises(CaseError, match="one rigid body"):
        build_setup(seat_case(), choices(correlation=[{"link": "die", "between": [33, 35], "value": 0.5}]))
    with pytest.raises(CaseError, match="11 is no unit"):
        build_setup(seat_case(), choices(correlation=[{"link": "die", "between": [11, 35], "value": 0.5}]))


@pytest.mark.parametrize(
    ("tables", "where", "what"),
    [
        ({"fc_drfit": GOOD}, "fc_drfit", "no figure"),
        ({"fc_drift": GOOD | {"value": -3.0}}, "fc_drift.value", "cannot be negative"),
        ({"fc_cast_scale_elastomer": GOOD | {"unit": "%", "sd": -0.1}}, "fc_cast_scale_elastomer.sd", "negative"),
        ({"fc_cast_scale_elastomer": GOOD | {"unit": "%"}}, "fc_cast_scale_elastomer.sd", "missing"),
        ({"fc_drift": GOOD | {"unit": "mm"}}, "fc_drift.unit", "'mm'"),
        ({"fc_drift": {"value": 3.0, "unit": "µm"}}, "fc_drift.source", "says nothing"),
        ({"fc_drift": {"unit": "µm", "source": "x"}}, "fc_drift.value", "missing"),
        ({"fc_drift": GOOD | {"n": 3}}, "fc_drift.n", "no finite uncertainty"),
        ({"fc_drift": GOOD | {"low": 20.0, "high": 30.0}}, "fc_drift", "outside"),
        ({"fc_drift": GOOD | {"low": 2.0}}, "fc_drift", "one end"),
        ({"fc_drift": GOOD | {"value": float("nan")}}, "fc_drift.value", "not a number"),
        ({"fc_drift": GOOD | {"colour": 1}}, "fc_drift.colour", "not a known field"),
        ({"fc_drift": 5}, "fc_drift", "not a table"),
        ({"correlation": [{"link": "stone", "between": [37, 44], "value": 0.5}]}, "correlation[0].link", "no link"),
        ({"correlation": [{"link": "die", "between": [37], "value": 0.5}]}, "correlation[0].between", "two teeth"),
        ({"correlation": [{"link": "die", "between": [37, 44], "value": 1.5}]}, "correlation[0].value", "no corr"),
    ],
)
def test_a_faulty_figure_names_file_field_and_remedy(tables: dict[str, Any], where: str, what: str) -> None:
    with pytest.raises(CaseError) as caught:
        own(**tables)
    fault = caught.value.faults[0]
    assert fault.where == f"own.toml: {where}"
    assert what in fault.what
    assert fault.hint


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(CaseError) as caught:
        own(fc_drift={"value": -1.0}, fc_die_stone={"value": 3.0, "unit": "m", "source": "x"})
    assert len(caught.value.faults) == 4


def test_a_file_is_read_with_its_hash_and_a_missing_one_is_a_clear_error(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('[fc_drift]\nvalue = 5\nunit = "µm"\nsource = "index kept for 30 cases"\n', encoding="utf-8")
    figures, file = read_own_figures(path)
    assert figures.records["fc_drift"].value == 5.0
    assert file.n_bytes == path.stat().st_size
    with pytest.raises(InputError, match="cannot be read"):
        read_own_figures(tmp_path / "none.toml")
    path.write_text("[fc_drift\n", encoding="utf-8")
    with pytest.raises(CaseError, match=r"own\.toml: line 1"):
        read_own_figures(path)
