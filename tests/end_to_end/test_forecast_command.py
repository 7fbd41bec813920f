"""`seatwright forecast` through the real command line: contract, own figures, before and after, clear errors."""

from pathlib import Path

import pytest
from tests.end_to_end.conftest import Demo, Ran, run_seatwright

TRIALS = ("--trials", "1000")


@pytest.fixture(scope="module")
def narrowed(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> tuple[Ran, Path]:
    picture = tmp_path_factory.mktemp("forecast") / "fit.svg"
    return run_seatwright("forecast", demo.case, "--with-cast", "--json", "--svg", picture, *TRIALS), picture


def test_json_keeps_the_promised_fields(narrowed: tuple[Ran, Path]) -> None:
    ran, picture = narrowed
    assert ran.code == 0, ran.err
    result = ran.json["result"]
    for feature in result["features"]:
        assert {"id", "bias_um", "u_um", "interval95_um", "p_within", "contributions"} <= set(feature)
        assert all(set(part) == {"link", "share"} for part in feature["contributions"])
        assert sum(part["share"] for part in feature["contributions"]) == pytest.approx(1)
    assert {"value", "u", "low", "high"} <= set(result["p_seats"])
    names = {cause["name"] for cause in result["inputs"]}
    assert all({"law", "moves", "unit", "evidence"} <= set(cause) for cause in result["inputs"])
    assert all(pair["one"] in names and pair["other"] in names for pair in result["correlations"])
    assert {step["step"] for step in result["left_out"]} >= {"mounting", "cementation"}
    assert picture.read_text(encoding="utf-8").startswith("<svg")


def test_places_are_attachments_bar_rests_clasps_and_distances(narrowed: tuple[Ran, Path]) -> None:
    found = {(f["id"], f["what"]) for f in narrowed[0].json["result"]["features"]}
    assert {
        ("slide-35", "sideways"),
        ("sleeve-front", "sideways"),
        ("rest-44", "along the path"),
        ("clasp-44", "towards the tooth"),
        ("conus-37 to slide-35", "distance"),
    } <= found


def test_cast_on_rarely_seats_picked_up_in_the_mouth_usually_and_the_floated_die_is_told(
    narrowed: tuple[Ran, Path],
) -> None:
    result, findings = narrowed[0].json["result"], narrowed[0].json["findings"]
    assert result["p_seats"]["says"] == "rarely"
    assert result["before"]["says"] == "rarely"
    best = next(c for c in result["changes"] if c["low"] is not None)
    assert best["id"] == "pick-up:slide-35"
    assert best["p_seats"] > 0.8
    assert best["low"] > result["p_seats"]["high"]
    assert [f["about"] for f in findings if f["id"] == "forecast-cast-check-surprises"] == ["44"]
    assert 44 in result["measured"]


def test_terminal_says_the_verdict_first_then_what_helps(demo: Demo) -> None:
    ran = run_seatwright("forecast", demo.case, *TRIALS)
    assert ran.code == 0
    lines = ran.out.splitlines()
    assert lines[0].startswith("Seats rarely: ")
    assert "in 100" in lines[0]
    helps = lines.index("What helps most")
    assert "Pick the male of slide-35 up in the mouth; 20 min more, no visit more" in lines[helps + 1]
    assert run_seatwright("forecast", demo.case, "--strict", *TRIALS).code == 10


def test_own_figures_replace_published_ones_and_faulty_ones_are_refused(demo: Demo, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    tables = [
        f'[{name}]\nvalue = {value}\nunit = "µm"\nsource = "30 frameworks of this practice"\n'
        for name, value in (("fc_framework_axial", 20), ("fc_framework_side", 8))
    ]
    own.write_text("\n".join(tables), encoding="utf-8")
    ran = run_seatwright("forecast", demo.case, "--evidence", own, "--json", *TRIALS)
    assert ran.code == 0, ran.err
    assert ran.json["result"]["p_seats"]["value"] > 0.6
    assert "--evidence" in {file["name"] for file in ran.json["inputs"]}
    assert "fc_framework_side" in str([f for f in ran.json["findings"] if f["id"] == "forecast-own-figure"])
    own.write_text('[fc_framework_axial]\nvalue = -20\nunit = "mm"\nsource = "x"\n', encoding="utf-8")
    bad = run_seatwright("forecast", demo.case, "--evidence", own, "--json")
    assert bad.code == 2
    assert "own.toml: fc_framework_axial" in bad.json["error"]["message"]


def test_evidence_is_found_by_a_word(demo: Demo) -> None:
    ran = run_seatwright("evidence", "framework")
    assert ran.code == 0
    assert "rpd_ma_conv" in ran.out
    assert "judgement" in ran.out
