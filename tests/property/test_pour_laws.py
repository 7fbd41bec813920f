"""Laws of the pour: time never heals, open air never helps, hands never hinder, powder follows volume."""

import math
from dataclasses import replace
from itertools import pairwise

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from seatwright.case import Duration, ImpressionMaterial, Person, Skill, Storage
from seatwright.pour import Band, powder_for_volume_g
from seatwright.pour._schedule import Task, schedule_work
from seatwright.pour._windows import Exposure, History, find_stretches, judge_at

ORDER = list(Band)
QUICK = settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
minutes = st.one_of(st.floats(0.0, 30.0), st.floats(0.0, 300.0), st.floats(0.0, 30000.0))


def badness(judged) -> tuple[int, float]:
    rung = judged.rung
    if rung.bias_percent is None:
        return ORDER.index(rung.band), math.inf
    return ORDER.index(rung.band), abs(rung.bias_percent) + 2 * rung.u_percent


def exposures(parts) -> tuple[Exposure, ...]:
    found, since = [], 0.0
    for storage, length in parts:
        found.append(Exposure(storage, since, since + length))
        since += length
    return (*found[:-1], replace(found[-1], until_min=math.inf))


@st.composite
def histories(draw: st.DrawFn, materials=tuple(ImpressionMaterial)) -> History:
    parts = draw(st.lists(st.tuples(st.sampled_from(Storage), minutes), min_size=1, max_size=4))
    temperatures = draw(st.lists(st.tuples(minutes, st.floats(-10, 60)), max_size=2))
    immersion = draw(st.none() | st.tuples(minutes, st.floats(0, 30)))
    maker = draw(st.none() | st.floats(1.0, 20000.0))
    return History(draw(st.sampled_from(materials)), exposures(parts), tuple(temperatures), immersion, maker)


@QUICK
@given(histories(), minutes, minutes)
def test_nothing_gets_better_with_time(history: History, one: float, other: float) -> None:
    early, late = sorted((one, other))
    assert badness(judge_at(history, early)) <= badness(judge_at(history, late))


@QUICK
@given(histories(), minutes)
def test_the_stretch_at_a_minute_says_what_the_judgement_at_that_minute_says(history: History, minute: float) -> None:
    stretches = find_stretches(history)
    assert stretches[0].since_min == 0.0
    assert stretches[-1].until_min is None
    for one, following in pairwise(stretches):
        assert one.until_min == following.since_min
        assert badness(one.judged) <= badness(following.judged)
    edges = [s.since_min for s in stretches] + [at for at, _ in history.temperatures]
    edges += [history.immersion[0]] if history.immersion else []
    if all(abs(minute - edge) > 1e-6 for edge in edges):
        found = next(s for s in stretches if s.until_min is None or minute < s.until_min)
        assert badness(found.judged) == badness(judge_at(history, minute))


@QUICK
@given(histories(), st.integers(0, 3), st.floats(0.01, 60.0), minutes)
def test_adding_open_air_never_helps(history: History, where: int, extra: float, minute: float) -> None:
    parts = [(e.storage, e.until_min - e.since_min) for e in history.exposures]
    index = min(where, len(parts) - 1)
    longer = [*parts[:index], (Storage.OPEN_AIR, extra), *parts[index:]]
    plain = replace(history, temperatures=(), immersion=None)
    more = replace(plain, exposures=exposures(longer))
    assert badness(judge_at(more, minute + extra)) >= badness(judge_at(plain, minute))


@QUICK
@given(histories((ImpressionMaterial.ALGINATE, ImpressionMaterial.EXTENDED_ALGINATE)), st.integers(0, 3), minutes)
def test_uncovering_alginate_for_a_spell_never_helps_its_band(history: History, where: int, minute: float) -> None:
    index = min(where, len(history.exposures) - 1)
    if history.exposures[index].storage is Storage.IMMERSED:
        return
    bare = list(history.exposures)
    bare[index] = replace(bare[index], storage=Storage.OPEN_AIR)
    worse = replace(history, exposures=tuple(bare))
    before, after = judge_at(history, minute).rung.band, judge_at(worse, minute).rung.band
    assert ORDER.index(after) >= ORDER.index(before)


@QUICK
@given(st.sampled_from(ImpressionMaterial), st.floats(1.0, 20000.0), st.floats(0.0, 1.0))
def test_the_makers_window_rules_for_a_well_kept_impression(
    material: ImpressionMaterial, within: float, part: float
) -> None:
    kept = Storage.SEALED_BAG if material.is_hydrocolloid else Storage.DRY
    history = History(material, (Exposure(kept, 0.0, math.inf),), (), None, within)
    assert judge_at(history, within * part).rung.band is Band.WITHIN
    assert judge_at(history, within * 1.001).rung.band is not Band.WITHIN


@st.composite
def tasks(draw: st.DrawFn) -> list[Task]:
    found: list[Task] = []
    for index in range(draw(st.integers(1, 7))):
        low, typical, high = sorted(draw(st.tuples(*[st.floats(0.0, 20.0)] * 3)))
        needs = draw(st.sets(st.integers(0, index - 1), max_size=2)) if index else set()
        found.append(
            Task(
                Duration(low, typical, high),
                draw(st.sampled_from((Skill.DIES, Skill.MIX))),
                draw(st.booleans()),
                draw(st.sampled_from(((), ("curing_light",)))),
                tuple(sorted(needs)),
                draw(st.sampled_from(("", "pick"))),
            )
        )
    return found


def hands(*skills: tuple[Skill, ...]) -> list[Person]:
    return [Person(id=f"p{i}", role="hands", skills=s) for i, s in enumerate(skills)]


skill_sets = st.sampled_from(((Skill.DIES,), (Skill.MIX,), (Skill.DIES, Skill.MIX)))


@QUICK
@given(tasks(), st.lists(skill_sets, min_size=1, max_size=3), skill_sets)
def test_more_hands_never_need_more_minutes(work: list[Task], have: list[tuple[Skill, ...]], extra) -> None:
    fewer = schedule_work(work, hands(*have), {})
    more = schedule_work(work, hands(*have, extra), {})
    if fewer is None:
        return
    assert more is not None
    for pace in ("low_min", "typical_min", "high_min"):
        assert getattr(more.minutes, pace) <= getattr(fewer.minutes, pace) + 1e-9


@QUICK
@given(tasks(), st.lists(skill_sets, min_size=1, max_size=3))
def test_no_schedule_beats_the_bound_or_one_pair_of_hands_doing_all_in_turn(
    work: list[Task], have: list[tuple[Skill, ...]]
) -> None:
    found = schedule_work(work, hands(*have), {})
    asked = {task.skill for task in work}
    if found is None:
        assert not asked <= {skill for skills in have for skill in skills}
        return
    for pace in ("low_min", "typical_min", "high_min"):
        assert getattr(found.bound, pace) <= getattr(found.minutes, pace) + 1e-9
        assert getattr(found.minutes, pace) <= sum(getattr(t.duration, pace) for t in work) + 1e-9
    for task, end in zip(work, found.ends, strict=True):
        for need in task.needs:
            assert end.typical_min >= found.ends[need].typical_min + task.duration.typical_min - 1e-9


@given(st.floats(0.0, 500.0), st.floats(0.0, 10.0), st.floats(0.1, 0.6))
def test_powder_scales_with_volume_and_falls_with_water(volume: float, factor: float, ratio: float) -> None:
    powder = powder_for_volume_g(volume, ratio)
    assert math.isclose(powder_for_volume_g(volume * factor, ratio), factor * powder, rel_tol=1e-12, abs_tol=1e-12)
    assert powder_for_volume_g(volume, ratio + 0.01) <= powder
