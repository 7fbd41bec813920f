"""Minutes of work with these hands, and whether they fit."""

from dataclasses import replace

import pytest
from tests.unit.pour.builders import at, bench, case_with, impression, opposing, out, person, seven_gel_dies, state_of

from seatwright.case import CaseState, Duration, Equipment, ImpressionMaterial, ImpressionState, Skill
from seatwright.pour import Feasibility, assess_pour, list_timings
from seatwright.pour._schedule import Task, schedule_work
from seatwright.pour._work import build_job, judge_fit, list_tasks, measure_work


def assess(*impressions, state=None, on=None, die_cards=None, now=0.0):
    cards = seven_gel_dies() if die_cards is None else die_cards
    return assess_pour(case_with(*impressions), state or CaseState(), on or bench(), die_cards=cards, now=at(now))


def test_seven_crowns_take_disinfection_and_dies_twenty_to_thirty_minutes() -> None:
    case = case_with(impression())
    job = build_job(case, impression(), bench(), mixes=_mixes(), die_cards=seven_gel_dies()["pick"], state=None)
    kept = [i for i, c in enumerate(job.cards) if c.id == "disinfect" or c.id.startswith("gel")]
    part = replace(job, cards=tuple(job.cards[i] for i in kept), done=tuple(job.done[i] for i in kept))
    typical = measure_work([part], bench()).time.minutes.typical_min
    assert 20 <= typical <= 30


def _mixes():
    from seatwright.pour._mix import plan_mixes
    from seatwright.pour._spans import find_spans

    return plan_mixes(impression(), bench(), find_spans(case_with(impression()), impression()))


def test_seven_crowns_in_alginate_do_not_fit_one_pair_of_hands_and_an_elastomer_does() -> None:
    clock = assess(impression()).clock("pick")
    assert clock.feasibility is Feasibility.DOES_NOT_FIT
    assert clock.window_min == 12.0
    assert clock.minutes_needed.low_min > 12.0
    by_what = {remedy.what: remedy for remedy in clock.remedies}
    assert by_what["Addition silicone or polyether instead"].feasibility is Feasibility.FITS
    assert by_what["Even 3 pairs of hands"].feasibility is Feasibility.DOES_NOT_FIT
    finding = next(f for f in clock.findings if f.id == "work-does-not-fit")
    assert "one pair of hands" in finding.what
    assert "stretched" in finding.why
    assert "µm" in finding.why


def test_in_polyether_the_same_work_fits() -> None:
    clock = assess(impression(material=ImpressionMaterial.POLYETHER)).clock("pick")
    assert clock.feasibility is Feasibility.FITS
    assert clock.remedies == ()


def test_a_second_pair_of_hands_helps_and_never_hinders() -> None:
    one = assess(impression()).clock("pick").minutes_needed
    two = assess(impression(), on=bench(person("a"), person("b"))).clock("pick").minutes_needed
    assert two.typical_min < one.typical_min
    assert two.low_min <= one.low_min
    assert two.high_min <= one.high_min


def test_a_trainee_who_may_only_mix_saves_little_and_does_no_dies() -> None:
    one = assess(impression()).clock("pick").minutes_needed
    helped = assess(impression(), on=bench(person("a"), person("t", Skill.MIX))).clock("pick").minutes_needed
    assert one.typical_min - 3 <= helped.typical_min <= one.typical_min


def test_a_second_light_helps_two_people() -> None:
    lit = bench(person("a"), person("b"))
    more = lit.model_copy(update={"equipment": (*lit.equipment, Equipment(id="l2", kind="curing_light"))})
    assert (
        assess(impression(), on=more).clock("pick").minutes_needed.typical_min
        < assess(impression(), on=lit).clock("pick").minutes_needed.typical_min
    )


def test_a_missing_skill_stops_and_is_named() -> None:
    clock = assess(impression(), on=bench(person("a", Skill.MIX, Skill.POUR))).clock("pick")
    finding = next(f for f in clock.findings if f.id == "skill-missing")
    assert "dies" in finding.what
    assert "disinfect" in finding.what
    assert clock.feasibility is Feasibility.DOES_NOT_FIT


def test_what_the_log_says_is_done_is_not_asked_again() -> None:
    fresh = ImpressionState("pick", out_at=at(0))
    before = assess(impression(), state=state_of(fresh)).clock("pick")
    after = assess(impression(), state=state_of(out())).clock("pick")
    asked = {card.id for card in after.cards}
    assert {"rinse", "disinfect", "count-crowns"} <= {card.id for card in before.cards}
    assert not asked & {"rinse", "disinfect", "count-crowns"}
    assert after.minutes_needed.typical_min < before.minutes_needed.typical_min


@pytest.mark.parametrize("n_done", range(7))
def test_finishing_a_die_never_raises_the_minutes_needed(n_done: int) -> None:
    teeth = (37, 35, 33, 42, 43, 44, 45)
    ids = ("gel-lining", "gel-fill", "gel-wipe")

    def needed(n: int) -> float:
        done = frozenset((step, tooth) for tooth in teeth[:n] for step in ids)
        clock = assess(impression(), state=state_of(out(steps_done=done))).clock("pick")
        return clock.minutes_needed.typical_min

    assert needed(n_done + 1) < needed(n_done)


def test_a_crown_dried_in_the_log_or_by_its_die_cards_is_dried_once() -> None:
    card = replace(seven_gel_dies((37,))["pick"][0], id="flash-and-dry", batch="", equipment=())
    cards = {"pick": [card, *seven_gel_dies()["pick"]]}
    clock = assess(impression(), die_cards=cards).clock("pick")
    assert 37 not in [c.tooth for c in clock.cards if c.id == "dry-crown"]
    assert 35 in [c.tooth for c in clock.cards if c.id == "dry-crown"]
    done = assess(impression(), state=state_of(out(dried=frozenset({35, 37}))), die_cards=cards).clock("pick")
    assert 35 not in [c.tooth for c in done.cards]


def test_a_pontic_is_not_dried() -> None:
    assert 34 not in [c.tooth for c in assess(impression()).clock("pick").cards]


def test_an_opposing_impression_needs_no_count() -> None:
    assert "count-crowns" not in [c.id for c in assess(opposing()).clock("opp").cards]


def test_shared_hands_are_said_when_they_change_the_answer() -> None:
    taken = impression(maker={"pour_within_min": 70.0})
    alone = assess(taken).clock("pick")
    assert alone.feasibility is Feasibility.FITS
    assert "hands-shared" not in {f.id for f in alone.findings}
    shared = assess(taken, opposing()).clock("pick")
    finding = next(f for f in shared.findings if f.id == "hands-shared")
    assert "instead of" in finding.what
    assert shared.remedies[-1].what == "This impression first, the other one's work later"
    assert shared.remedies[-1].feasibility is Feasibility.FITS


def test_the_makers_contact_time_replaces_the_customary_one() -> None:
    taken = impression(maker={"disinfect_min": 3.0})
    quick = assess(taken).clock("pick").minutes_needed.typical_min
    assert assess(impression()).clock("pick").minutes_needed.typical_min == pytest.approx(quick + 7.0)


@pytest.mark.parametrize(
    ("left", "fit"), [(14.0, Feasibility.FITS), (13.9, Feasibility.TIGHT), (9.0, Feasibility.TIGHT)]
)
def test_fit_at_the_longest_pace_is_fits_at_the_typical_one_tight(left: float, fit: Feasibility) -> None:
    assert judge_fit(Duration(5.0, 9.0, 14.0), left) is fit
    assert judge_fit(Duration(5.0, 9.0, 14.0), 8.9) is Feasibility.DOES_NOT_FIT


def test_unattended_contact_holds_no_hands() -> None:
    wait = Task(Duration(10, 10, 10), Skill.DISINFECT, attended=False, equipment=(), needs=())
    work = Task(Duration(8, 8, 8), Skill.MIX, attended=True, equipment=(), needs=())
    found = schedule_work([wait, work], [person("a")], {})
    assert found.minutes.typical_min == 10.0


def test_one_light_serves_one_step_at_a_time() -> None:
    cure = Task(Duration(2, 2, 2), Skill.DIES, attended=True, equipment=("curing_light",), needs=())
    people = [person("a"), person("b")]
    assert schedule_work([cure, cure], people, {"curing_light": 1}).minutes.typical_min == 4.0
    assert schedule_work([cure, cure], people, {"curing_light": 2}).minutes.typical_min == 2.0


def test_two_people_at_most_work_at_one_tray() -> None:
    job = Task(Duration(2, 2, 2), Skill.DIES, attended=True, equipment=(), needs=(), tray="pick")
    people = [person(name) for name in "abc"]
    assert schedule_work([job] * 3, people, {}).minutes.typical_min == 4.0
    assert schedule_work([replace(job, tray="")] * 3, people, {}).minutes.typical_min == 2.0


def test_order_of_work_mixes_after_the_dies_and_pours_last() -> None:
    case = case_with(impression())
    job = build_job(case, impression(), bench(), mixes=_mixes(), die_cards=seven_gel_dies()["pick"], state=None)
    tasks = list_tasks(job)
    names = [card.id for card in job.cards]
    reached: set[int] = set()
    frontier = [names.index("pour")]
    while frontier:
        index = frontier.pop()
        reached.add(index)
        frontier += [n for n in tasks[index].needs if n not in reached]
    assert reached == set(range(len(names)))


def test_timings_are_ordered_and_named_once_or_by_variant() -> None:
    for timing in list_timings():
        d = timing.duration
        assert d.low_min <= d.typical_min <= d.high_min
        assert timing.what
