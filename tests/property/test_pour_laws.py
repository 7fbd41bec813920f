"""Laws of the pour clock that hold for any history, bench and moment."""

import itertools
from datetime import timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.examples import demo_case, minutes
from tests.unit.pour.builders import alone, assess, bench_without_maker, clock_of, opposing, pick_up, state_of

from seatwright.case import CaseState, Duration, ImpressionMaterial, Person, PourPlan, Skill, StepCard, Stone, Storage
from seatwright.pour import Band, ImpressionClock, assess_pour, powder_for_volume_g

ORDER = list(Band)
BARE = (Storage.OPEN_AIR, Storage.DRY)
HYDROCOLLOIDS = (ImpressionMaterial.ALGINATE, ImpressionMaterial.EXTENDED_ALGINATE)
QUICK = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])

spells = st.lists(
    st.tuples(st.sampled_from(Storage), st.one_of(st.integers(1, 30), st.integers(30, 3000))), min_size=1, max_size=4
)
materials = st.sampled_from(ImpressionMaterial)
ages = st.one_of(st.integers(0, 200), st.integers(0, 25000))
told = st.one_of(
    st.just({}),
    st.builds(
        lambda end, contact: {
            "disinfection_method": "immersion",
            "disinfected_at": minutes(end),
            "disinfection_contact_min": float(min(contact, end)),
        },
        st.integers(1, 60),
        st.integers(0, 30),
    ),
    st.builds(
        lambda at, value: {"temperatures_c": ((minutes(at), value),)},
        st.integers(0, 500),
        st.floats(-20, 70, allow_nan=False),
    ),
)


def rank(clock: ImpressionClock) -> int:
    return ORDER.index(clock.band)


@given(material=materials, kept=spells, extra=told, age=ages, later=ages)
@QUICK
def test_band_never_improves_with_age(material, kept, extra, age, later) -> None:
    young = clock_of(opposing(material), kept, at_min=age, **extra)
    old = clock_of(opposing(material), kept, at_min=age + later, **extra)
    assert rank(old) >= rank(young)


@given(material=materials, kept=spells, extra=told, age=ages)
@QUICK
def test_steps_follow_each_other_without_gap_and_never_improve(material, kept, extra, age) -> None:
    clock = clock_of(opposing(material), kept, at_min=age, **extra)
    steps = clock.steps
    assert steps[0].since_min == 0
    assert steps[-1].until_min is None
    for step, following in itertools.pairwise(steps):
        assert step.until_min == following.since_min
        assert ORDER.index(step.band) <= ORDER.index(following.band)
    assert clock.window_min == max((s.until_min for s in steps if s.band is Band.WITHIN), default=0.0)


@given(material=materials, kept=spells, extra=told, age=ages)
@QUICK
def test_band_now_is_that_of_the_step_now(material, kept, extra, age) -> None:
    clock = clock_of(opposing(material), kept, at_min=age + 0.5, **extra)  # between the whole minutes of the events
    step = next(s for s in clock.steps if s.until_min is None or age + 0.5 <= s.until_min)
    assert step.band is clock.band


@given(material=st.sampled_from(HYDROCOLLOIDS), kept=spells, extra=told, age=ages, which=st.integers(0, 3))
@QUICK
def test_open_air_instead_of_a_bag_never_helps_hydrocolloid(material, kept, extra, age, which) -> None:
    index = which % len(kept)
    bag, bare = list(kept), list(kept)
    bag[index] = (Storage.SEALED_BAG, kept[index][1])
    bare[index] = (Storage.OPEN_AIR, kept[index][1])
    in_bag = clock_of(opposing(material), bag, at_min=age, **extra)
    in_air = clock_of(opposing(material), bare, at_min=age, **extra)
    assert rank(in_air) >= rank(in_bag)
    assert in_air.window_min <= in_bag.window_min


@given(kept=spells, age=ages, within=st.integers(1, 20000), material=materials)
@QUICK
def test_makers_window_prevails_for_age_and_excuses_nothing_else(kept, age, within, material) -> None:
    plain = clock_of(opposing(material), kept, at_min=age)
    own = clock_of(opposing(material, maker={"pour_within_min": float(within)}), kept, at_min=age)
    if own.decided_by.endswith(("open-air", "immersed", "damp")):
        assert own.band is Band.BEYOND
        assert plain.band is Band.BEYOND
    elif age <= within:
        assert own.band is Band.WITHIN
    else:
        assert own.band is not Band.WITHIN


@given(volume_ml=st.floats(0.1, 500), factor=st.floats(0.1, 10), ratio=st.floats(0.15, 0.6))
def test_powder_scales_with_volume_and_fills_it(volume_ml, factor, ratio) -> None:
    powder_g = powder_for_volume_g(volume_ml, ratio)
    assert powder_for_volume_g(factor * volume_ml, ratio) == pytest.approx(factor * powder_g, rel=1e-12)
    assert powder_g / 2.76 + ratio * powder_g == pytest.approx(volume_ml, rel=1e-12)  # solid and water fill the volume


@given(
    volume_ml=st.floats(5, 400),
    ratio=st.sampled_from((0.19, 0.2, 0.24, 0.3)),
    sachet_g=st.one_of(st.none(), st.integers(20, 400)),
    resolution_ml=st.sampled_from((0.5, 1.0, 2.0, 5.0)),
)
@QUICK
def test_mix_fills_the_cast_in_equal_bowls_that_can_be_weighed(volume_ml, ratio, sachet_g, resolution_ml) -> None:
    plan = PourPlan(stone=Stone.TYPE_4, water_powder=ratio, cast_volume_ml=volume_ml, sachet_g=sachet_g)
    bench = bench_without_maker(water_resolution_ml=resolution_ml, stone=())
    (mix,) = assess(pick_up(pour=plan), bench=bench).impressions[0].mixes
    assert mix.powder_g >= powder_for_volume_g(1.1 * volume_ml, ratio) - 1e-6
    assert mix.powder_each_g <= max(300.0, sachet_g or 0) + 1e-6
    steps = mix.powder_each_g / (sachet_g or 0.5)
    assert abs(steps - round(steps)) < 1e-6
    water = mix.water_each_ml / resolution_ml
    assert abs(water - round(water)) < 1e-6
    assert mix.water_ml >= mix.stoichiometric_water_ml - 1e-6
    slip = abs(mix.water_ml / mix.powder_g - ratio)
    assert (slip > 0.01) is any(f.id == "mix-rounding" for f in mix.findings)


people = st.lists(st.frozensets(st.sampled_from(Skill), min_size=1), max_size=2)
steps = st.lists(
    st.tuples(
        st.sampled_from((35, 33, 43, 44)),
        st.floats(0.5, 6),
        st.booleans(),
        st.sampled_from(((), ("curing_light",))),
    ),
    max_size=8,
)


@given(some=people, added=st.frozensets(st.sampled_from(Skill), min_size=1), work=steps)
@QUICK
def test_more_hands_never_need_more_minutes(some, added, work) -> None:
    cards = [
        StepCard(
            f"step-{i}",
            "Step",
            "Do it.",
            "pickup-1",
            tooth,
            Skill.DIES,
            Duration(m / 2, m, 2 * m),
            attended=attended,
            equipment=held,
        )
        for i, (tooth, m, attended, held) in enumerate(work)
    ]
    group = [*alone(), *(Person(id=f"p{i}", role="hands", skills=tuple(sorted(s))) for i, s in enumerate(some))]
    more = [*group, Person(id="added", role="hands", skills=tuple(sorted(added)))]
    fewer_, more_ = (
        assess(pick_up(), bench=bench_without_maker(person=tuple(p)), cards={"pickup-1": cards}).impressions[0]
        for p in (group, more)
    )
    for pace in ("low_min", "typical_min", "high_min"):
        assert getattr(more_.minutes_needed, pace) <= getattr(fewer_.minutes_needed, pace) + 1e-9
        assert getattr(more_.bound_min, pace) <= getattr(more_.minutes_needed, pace) + 1e-9


ZONES = [
    ZoneInfo("Europe/Berlin"),
    ZoneInfo("America/New_York"),
    ZoneInfo("Asia/Kathmandu"),
    timezone(timedelta(hours=14)),
]
# an hour around each change of the clocks in 2026 and an ordinary day, UTC offsets in minutes from the example's 09:00
CHANGES = [0, (19 * 24 - 8) * 60, (229 * 24 - 8) * 60, -2 * 24 * 60 - 2 * 60]


@given(
    kept=spells, age=st.integers(0, 300), zones=st.tuples(*[st.sampled_from(ZONES)] * 2), base=st.sampled_from(CHANGES)
)
@QUICK
def test_answer_does_not_depend_on_the_zone_in_which_times_are_written(kept, age, zones, base) -> None:
    def answer(zone_log, zone_now):
        impression = opposing()
        out = minutes(base)
        state = state_of(impression, kept, out_at=out, disinfected_at=out)
        state = state_of(
            impression,
            out_at=out.astimezone(zone_log),
            disinfected_at=out.astimezone(zone_log),
            spells=tuple(type(s)(s.storage, s.since.astimezone(zone_log)) for s in state.spells),
        )
        case_now = minutes(base + age).astimezone(zone_now)
        case = demo_case(impression=(impression,), scan=(), region=(), returned_die=())
        return assess_pour(case, CaseState({impression.id: state}), bench_without_maker(), die_cards={}, now=case_now)

    plain = answer(ZONES[3], ZONES[3])
    other = answer(*zones)
    assert other == plain
    assert other.impressions[0].age_min == age
