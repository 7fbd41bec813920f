"""Minutes of work with these hands, whether they fit, and what would make them fit."""

from datetime import timedelta

import pytest
from tests.examples import demo_case, metal_ceramic_crown, minutes
from tests.unit.pour.builders import (
    OUT,
    alone,
    assess,
    bench_without_maker,
    found,
    kinds,
    opposing,
    pick_up,
    state_of,
    stock,
    tools,
)

from seatwright.case import (
    Case,
    CaseState,
    Duration,
    ImpressionMaterial,
    Person,
    PourPlan,
    Skill,
    StepCard,
    Stone,
    Storage,
)
from seatwright.dies import choose_dies
from seatwright.findings import Severity
from seatwright.pour import Band, Feasibility, ImpressionClock, assess_pour, list_timings

M = ImpressionMaterial
SEVEN = (37, 36, 35, 33, 43, 44, 45)
PLAN = PourPlan(stone=Stone.TYPE_4, water_powder=0.20)
TOOLS = tools("vacuum_mixer", "vibrator", "curing_light", "curing_light", "balance")
TWO = (*alone(), Person(id="assistant", role="dental assistant", skills=tuple(Skill)))


def crowns(teeth: tuple[int, ...], material: M, **impression) -> Case:
    """Return a case of metal-ceramic crowns with metal collars, all lifted in one impression."""
    picked = pick_up(material, lifts=teeth, pour=PLAN, **impression)
    absent = [t for t in (*range(31, 39), *range(41, 49)) if t not in teeth]
    present = demo_case().teeth.model_copy(
        update={
            "present": teeth,
            "implants": (),
            "missing_fixed": (),
            "missing_partial": tuple(absent),
            "missing_not_replaced": (),
        }
    )
    return demo_case(
        teeth=present,
        unit=tuple(metal_ceramic_crown(t) for t in teeth),
        join=(),
        attachment=(),
        bar=(),
        impression=(picked,),
        returned_die=(),
        scan=(),
        region=(),
    )


def clock(case: Case, people=None, *, state: CaseState | None = None, at_min: float = 0.0, **bench) -> ImpressionClock:
    """Return the clock with the dies that the die table chooses."""
    state = state or CaseState()
    cards = choose_dies(case, state, minutes_left={}).cards_by_impression()
    fields = {"person": people or alone(), "equipment": TOOLS} | bench
    return assess_pour(case, state, bench_without_maker(**fields), die_cards=cards, now=minutes(at_min)).impressions[0]


def gel_minutes(case: Case) -> float:
    """Return the typical minutes of all dies with one pair of hands, the batch's 60 % taken."""
    cards = choose_dies(case, CaseState(), minutes_left={}).cards_by_impression()[case.impression[0].id]
    return sum(c.duration.typical_min * (0.6 if c.batch else 1.0) for c in cards)


def test_seven_crowns_in_alginate_do_not_fit_one_pair_of_hands() -> None:
    case = crowns(SEVEN, M.ALGINATE)
    answer = clock(case)
    assert answer.window_min == 12.0
    assert answer.feasibility is Feasibility.DOES_NOT_FIT
    assert answer.people_used == 1
    finding = found(answer, "work-does-not-fit")
    assert finding.what.startswith("Pick-up alginate: does not fit, ")
    assert "one pair of hands against a window of 12 min" in finding.what
    assert finding.severity is Severity.WARNING
    # what helps is named first; hands are answered for as well
    assert finding.do.startswith("Addition silicone or polyether instead")
    assert "pairs of hands" in finding.do


def test_disinfection_and_dies_of_seven_crowns_take_twenty_to_thirty_minutes() -> None:
    # common practice; contact of 3 min, gel dies with pins, drying included with each die
    case = crowns(SEVEN, M.ALGINATE, maker={"disinfect_min": 3.0})
    contact = next(c for c in clock(case).cards if c.id == "disinfect").duration.typical_min
    assert 20.0 <= contact + gel_minutes(case) <= 30.0


def test_two_pairs_of_hands_or_an_elastomer_when_either_suffices() -> None:
    # three crowns and a maker's window between one and two pairs of hands
    case = crowns((35, 33, 43), M.ALGINATE, maker={"disinfect_min": 3.0})
    one, two = clock(case), clock(case, TWO)
    assert two.minutes_needed.typical_min < one.minutes_needed.typical_min
    middle = (one.minutes_needed.typical_min + two.minutes_needed.typical_min) / 2
    case = crowns((35, 33, 43), M.ALGINATE, maker={"disinfect_min": 3.0, "pour_within_min": middle})
    answer = clock(case)
    assert answer.feasibility is Feasibility.DOES_NOT_FIT
    by_name = {r.what: r.feasibility for r in answer.remedies}
    assert by_name["2 pairs of hands"] is Feasibility.TIGHT
    assert by_name["Addition silicone or polyether instead"] is Feasibility.FITS
    assert clock(case, TWO).feasibility is Feasibility.TIGHT


def test_seven_crowns_in_polyether_fit_one_pair_of_hands() -> None:
    answer = clock(crowns(SEVEN, M.POLYETHER))
    assert answer.feasibility is Feasibility.FITS
    assert not {"work-does-not-fit", "work-tight"} & kinds(answer)
    assert answer.remedies == ()


def test_planned_work_starts_when_it_leaves_the_mouth_and_the_cost_of_lateness_is_told() -> None:
    finding = found(clock(crowns(SEVEN, M.ALGINATE)), "work-does-not-fit")
    assert "band 'stretched'" in finding.why
    assert "µm (95 %)" in finding.why
    assert "read it as a range" in finding.why


def test_material_is_no_longer_a_choice_once_it_is_out_of_the_mouth() -> None:
    case = crowns(SEVEN, M.ALGINATE)
    state = CaseState(impressions={case.impression[0].id: state_of(case.impression[0])})
    answer = clock(case, state=state, at_min=2)
    assert answer.feasibility is Feasibility.DOES_NOT_FIT
    assert not [r for r in answer.remedies if "silicone" in r.what]


def test_past_the_window_something_is_still_advised() -> None:
    case = crowns(SEVEN, M.ALGINATE)
    state = CaseState(impressions={case.impression[0].id: state_of(case.impression[0])})
    answer = clock(case, state=state, at_min=20)
    assert answer.band is Band.STRETCHED
    assert found(answer, "work-does-not-fit").do.startswith("Too late for other ways: finish the dies")


def test_given_up_impression_is_not_also_told_to_hurry() -> None:
    case = crowns(SEVEN, M.ALGINATE)
    state = CaseState(impressions={case.impression[0].id: state_of(case.impression[0], [(Storage.OPEN_AIR, 0)])})
    answer = clock(case, state=state, at_min=14)
    assert not {"work-does-not-fit", "work-tight"} & kinds(answer)
    assert next(c for c in answer.cards if c.id == "pour").cautions[0].startswith("Given up")


def test_finished_steps_no_longer_count() -> None:
    case = crowns(SEVEN, M.POLYETHER)
    impression = case.impression[0]
    fresh = CaseState(
        impressions={impression.id: state_of(impression, rinsed=False, disinfected_at=None, counted=False)}
    )
    done = CaseState(impressions={impression.id: state_of(impression)})
    before, after = (clock(case, state=s, at_min=1).minutes_needed for s in (fresh, done))
    # rinse 1, contact 10, count 2; before, the 2 min of weighing are done during the contact
    assert before.typical_min - after.typical_min == pytest.approx(13.0 - 2.0)
    poured = CaseState(impressions={impression.id: state_of(impression, poured_at=OUT + timedelta(minutes=40))})
    assert clock(case, state=poured, at_min=50).minutes_needed == Duration(0.0, 0.0, 0.0)
    assert clock(case, state=poured, at_min=50).feasibility is Feasibility.DONE


def test_running_step_still_counts_as_to_be_done() -> None:
    impression = opposing()
    running = state_of(impression, steps_running=frozenset({("box", 0)}))
    ended = state_of(impression, steps_done=frozenset({("box", 0)}))
    bench = bench_without_maker(person=alone())
    clocks = [assess(impression, states=[s], bench=bench).impressions[0] for s in (running, ended)]
    needed = [c.minutes_needed.typical_min for c in clocks]
    assert needed[0] - needed[1] == pytest.approx(3.0)


def test_missing_skill_stops_and_is_named_in_words() -> None:
    answer = clock(crowns((35, 33), M.POLYETHER), alone(Skill.MIX, Skill.POUR))
    finding = found(answer, "skill-missing")
    assert finding.severity is Severity.STOP
    assert "nobody at the bench may" in finding.what
    assert "make dies" in finding.what
    assert answer.feasibility is Feasibility.DOES_NOT_FIT


def test_second_impressions_work_on_the_same_hands_is_said_when_it_breaks_the_fit() -> None:
    case = crowns((35, 33), M.ALGINATE, maker={"pour_within_min": 45.0, "disinfect_min": 3.0})
    both = case.model_copy(update={"impression": (*case.impression, opposing(pour=PLAN))})
    cards = choose_dies(both, CaseState(), minutes_left={}).cards_by_impression()
    bench = bench_without_maker(person=alone(), equipment=TOOLS)
    result = assess_pour(both, CaseState(), bench, die_cards=cards, now=minutes(0))
    shared = result.clock("pickup-1")
    assert "hands-shared" in kinds(shared)
    assert any(r.what == "This impression first, the other one's work later" for r in shared.remedies)


@pytest.mark.parametrize(("contact", "expected"), [(None, 10.0), (5.0, 5.0)])
def test_makers_contact_time_prevails(contact, expected) -> None:
    bench = bench_without_maker(impression_material=stock(M.ALGINATE, disinfect_min=contact))
    card = next(c for c in assess(opposing(), bench=bench).impressions[0].cards if c.id == "disinfect")
    assert card.duration.typical_min == expected
    assert not card.attended


def test_mixing_by_hand_takes_longer_than_by_vacuum() -> None:
    with_mixer, by_hand = (
        assess(opposing(), bench=bench_without_maker(equipment=tools(*kinds_))).impressions[0].minutes_needed
        for kinds_ in (("vacuum_mixer",), ())
    )
    assert by_hand.typical_min > with_mixer.typical_min


# minutes shortest / typical / longest, written out from common practice
TIMINGS = [
    ("rinse", (0.5, 1, 2)),
    ("disinfect", (3, 10, 10)),
    ("count-crowns", (1, 2, 4)),
    ("dry-crown", (0.5, 1, 2)),
    ("box", (4, 8, 15)),
    ("box", (0, 3, 6)),
    ("weigh", (1, 2, 3)),
    ("mix", (0.55, 0.75, 1.0)),  # 0.25 by hand and 0.3 / 0.5 / 0.75 by vacuum
    ("mix", (1, 1, 1.5)),
    ("pour", (2, 3, 5)),
    ("pour-base", (3, 5, 8)),
    ("separate", (3, 8, 15)),
]


def test_timings_are_those_of_common_practice() -> None:
    told = [(t.step, (t.duration.low_min, t.duration.typical_min, t.duration.high_min)) for t in list_timings()]
    assert told == TIMINGS


@pytest.mark.parametrize(("n_units", "saved_min"), [(2, 0.0), (3, 0.4 * 30)])
def test_batch_of_three_takes_sixty_percent_of_the_sum(n_units, saved_min) -> None:
    needed = []
    for batch in ("", "gel"):
        cards = [
            StepCard("gel", "Gel", "Fill.", "pickup-1", t, Skill.DIES, Duration(5.0, 10.0, 20.0), batch=batch)
            for t in (35, 33, 43)[:n_units]
        ]
        answer = assess(pick_up(), bench=bench_without_maker(person=alone()), cards={"pickup-1": cards}).impressions[0]
        needed.append(answer.minutes_needed.typical_min)
    assert needed[0] - needed[1] == pytest.approx(saved_min)
