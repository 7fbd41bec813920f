"""The impression clock as a drawing."""

from dataclasses import replace
from datetime import timedelta

import pytest
from tests.dossiers import NOW, make_pour
from tests.examples import OPPOSING, PICK_UP
from tests.unit.figures.reading import SVG, overlapping_texts, parse, texts_outside

from seatwright.case import Duration
from seatwright.figures import describe_cost, draw_clock
from seatwright.pour import Band, Feasibility, ImpressionPhase, PourResult, show_minutes


def one(impression: str, **changes: object) -> PourResult:
    """Return a result with one impression, fields replaced."""
    return PourResult(NOW, (replace(make_pour().clock(impression), **changes),), ())  # type: ignore[arg-type]


PLANNED = {"phase": ImpressionPhase.PLANNED, "out_at": None, "age_min": None, "pour_by": None, "minutes_left": None}


@pytest.mark.parametrize(
    "pour",
    [
        make_pour(),
        one(OPPOSING, **PLANNED),
        one(PICK_UP, **PLANNED),
        one(OPPOSING, age_min=600.0, minutes_left=-590.0, band=Band.BEYOND),
        one(OPPOSING, minutes_needed=Duration(60, 90, 200)),
        one(OPPOSING, phase=ImpressionPhase.POURED),
    ],
    ids=["two", "planned alginate", "planned polyether", "long past", "much work", "poured"],
)
def test_no_text_on_the_clock_touches_another_or_runs_out(pour: PourResult) -> None:
    svg = draw_clock(pour)
    assert overlapping_texts(svg) == []
    assert texts_outside(svg) == []


def test_the_clock_says_left_needed_and_whether_it_fits() -> None:
    texts = [e.text for e in parse(draw_clock(make_pour())).iter(f"{SVG}text")]
    assert "23 h 46 min left, 58 min needed: fits" in [t.replace("\u00a0", " ") for t in texts if t]
    assert "now 09:30" in texts


def test_times_are_shown_in_the_time_zone_of_now() -> None:
    from datetime import timezone

    local = NOW.astimezone(timezone(timedelta(hours=2)))
    texts = [e.text for e in parse(draw_clock(replace(make_pour(), now=local))).iter(f"{SVG}text")]
    assert "now 11:30" in texts
    assert "pour by 11:26" in texts


def test_bands_differ_by_hatching() -> None:
    svg = draw_clock(one(OPPOSING))
    hatches = [p for p in parse(svg).iter(f"{SVG}path") if p.get("d", "").count("M") > 3]
    assert len(hatches) == 3, "stretched: one direction, beyond: two"


def test_a_cost_is_told_as_a_range_or_as_unsupported() -> None:
    within, stretched, beyond = make_pour().clock(OPPOSING).steps
    assert describe_cost(within) == "no known cost"
    assert describe_cost(stretched) == "26 to 16: −50 ± 50 µm"
    assert describe_cost(beyond) == "no source supports it: retake or verify again"


def test_nothing_planned_draws_an_empty_clock() -> None:
    assert "No impression is planned." in draw_clock(PourResult(NOW, (), ()))


def test_what_is_poured_takes_one_line_below_what_still_runs() -> None:
    pour = make_pour()
    poured = replace(pour.clock(OPPOSING), phase=ImpressionPhase.POURED)
    svg = draw_clock(PourResult(NOW, (poured, pour.clock(PICK_UP)), ()))
    places = {e.text: float(e.get("y", "0")) for e in parse(svg).iter(f"{SVG}text")}
    assert places[PICK_UP] < places[OPPOSING]
    assert "poured" in places
    assert sum(text == "beyond" for text in places) == 1


def test_neighboring_stretches_of_one_band_are_one() -> None:
    steps = make_pour().clock(OPPOSING).steps
    split = (*steps[:2], replace(steps[2], until_min=40.0), replace(steps[2], since_min=40.0))
    texts = [e.text for e in parse(draw_clock(one(OPPOSING, steps=split))).iter(f"{SVG}text")]
    assert texts.count("beyond") == 1


def test_done_work_is_not_drawn() -> None:
    svg = draw_clock(one(OPPOSING, phase=ImpressionPhase.POURED, feasibility=Feasibility.DONE))
    assert not [e for e in parse(svg).iter(f"{SVG}text") if (e.text or "").startswith("work")]


def test_minutes_round_as_a_person_says_them() -> None:
    assert [show_minutes(m) for m in (0.4, 119.4, 120, 1440)] == ["0 min", "119 min", "2 h", "24 h"]
