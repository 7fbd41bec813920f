"""The forecast as a workflow: dies and pour feed the chain, a cast check narrows it, the answer becomes JSON."""

import json
from datetime import datetime
from typing import Any

import numpy as np
import pytest
from tests.examples import DEMO_NOW, PICK_UP, demo_bench, demo_case, demo_events, demo_impressions
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.case import ImpressionMaterial
from seatwright.cli._evidence import run_evidence
from seatwright.evidence import list_evidence
from seatwright.figures import draw_fit, draw_places, draw_ranked_links
from seatwright.forecast import Choices, ForecastResult, Stage
from seatwright.workflows.envelope import encode_json, make_envelope
from seatwright.workflows.forecast import ForecastAsked, choices_from_plan, forecast_case
from seatwright.workflows.plan import plan_case

CLOCK = StoppedClock(DEMO_NOW)


def source(**changed: Any) -> MemorySource:
    return MemorySource(demo_case(scan=(), **changed), demo_bench(), demo_events())


@pytest.fixture(scope="module")
def answer() -> ForecastResult:
    return forecast_case(source(), now=None, clock=CLOCK, asked=ForecastAsked(n_trials=2000)).result


def test_techniques_and_stage_come_from_the_plan() -> None:
    plan = plan_case(source(), now=None, clock=CLOCK)
    filled = choices_from_plan(plan, Choices())
    assert filled.die_technique[45] == "analog"
    assert filled.die_technique[43] == "masked"  # the returned die is engraved for another tooth
    assert 34 not in filled.die_technique
    assert filled.stage is Stage.IMPRESSION_OUT
    assert choices_from_plan(plan, Choices(die_technique={35: "stone"})).die_technique[35] == "stone"


def test_an_alginate_s_bands_reach_the_chain() -> None:
    def filled(at: str | None) -> Choices:
        impressions = tuple(
            i.model_copy(update={"material": ImpressionMaterial.ALGINATE}) if i.id == PICK_UP else i
            for i in demo_impressions()
        )
        now = DEMO_NOW if at is None else datetime.fromisoformat(at)
        log = tuple(event for event in demo_events() if event.at <= now)
        there = MemorySource(demo_case(scan=(), impression=impressions), demo_bench(), log)
        return choices_from_plan(plan_case(there, now=now, clock=CLOCK), Choices())

    fresh = filled("2026-03-10T09:10:00+00:00")  # five minutes out of the mouth
    assert fresh.pour is not None
    assert fresh.pour.includes_stone  # casts were measured: the stone is not counted again
    assert fresh.pour.evidence == ("cost_alg_fresh",)
    assert [band.change for band in fresh.other_pours] == [None]  # it lies open: nothing is known of later
    late = filled(None)  # twenty-five minutes, lying open: no source supports a number
    assert late.pour is not None
    assert late.pour.change is None
    assert late.other_pours == ()


def test_a_maker_s_change_of_the_impression_stands_before_whole_casts_and_the_maker_s_stone_before_the_published() -> (
    None
):
    maker = demo_impressions()[0].maker.model_copy(update={"linear_change_percent": -0.15})
    impressions = (demo_impressions()[0].model_copy(update={"maker": maker}), *demo_impressions()[1:])
    whole = choices_from_plan(plan_case(source(), now=None, clock=CLOCK), Choices())
    stated = choices_from_plan(plan_case(source(impression=impressions), now=None, clock=CLOCK), Choices())
    assert whole.pour is None  # polyether: whole casts were measured
    assert stated.pour is not None
    assert stated.pour.change is not None
    assert stated.pour.change.value == pytest.approx(-0.15)
    assert not stated.pour.includes_stone
    assert whole.own.records["fc_stone_type_4"].source.startswith("bench.toml")


def test_the_answer_has_the_promised_shape(answer: ForecastResult) -> None:
    document = json.loads(encode_json(make_envelope("forecast", inputs=(), result=answer, findings=answer.findings)))
    found = document["result"]
    assert {"id", "bias_um", "u_um", "interval95_um", "p_within", "contributions"} <= set(found["features"][0])
    assert {"link", "share"} == set(found["features"][0]["contributions"][0])
    assert {"value", "u", "low", "high"} <= set(found["p_seats"])
    assert {"law", "moves", "unit"} <= set(found["inputs"][0])
    assert found["changes"]
    assert found["seed"] == answer.seed
    assert found["p_seats"]["low"] <= found["p_seats"]["value"] <= found["p_seats"]["high"]


def test_the_inputs_alone_reproduce_the_spread_of_a_place(answer: ForecastResult) -> None:
    rng = np.random.default_rng(5)
    total = np.zeros((20_000, 3))
    for cause in answer.inputs:
        if "stud-45" in cause.moves:
            assert cause.law["law"] == "normal"
            drawn = rng.normal(cause.law["mean"], cause.law["u"], 20_000)
            total += np.outer(drawn, cause.moves["stud-45"][:3])
    stud = next(f for f in answer.features if f.id == "stud-45")
    assert 1000 * total[:, 0].std() == pytest.approx(stud.u_um, rel=0.05)


def test_pictures_say_the_same_in_words(answer: ForecastResult) -> None:
    fit = draw_fit(answer)
    assert f"Seats {answer.p_seats.says.value}" in fit
    assert f"{round(100 * answer.p_seats.value)} in 100" in fit
    ranked = draw_ranked_links(answer)
    assert answer.ranked[0].title in ranked
    places = draw_places(answer.features)
    assert all(feature.id in places for feature in answer.features)
    for svg in (fit, ranked, places):
        assert svg.startswith("<svg")
        assert "<title" in svg
        assert "<desc" in svg


def test_evidence_lists_all_finds_by_word_and_says_when_nothing_is_found(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_evidence(None, as_json=True) == 0
    everything = json.loads(capsys.readouterr().out)
    assert len(everything["result"]) == len(list_evidence())
    assert run_evidence("alginate", as_json=True) == 0
    some = json.loads(capsys.readouterr().out)["result"]
    assert 20 < len(some) < len(everything["result"])
    assert run_evidence("no such word at all") == 0
    assert "No record" in capsys.readouterr().out
