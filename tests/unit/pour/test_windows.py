"""The history of an impression and its judgement: which minutes count against which limit."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from tests.unit.pour.scenes import OUT, at, out

from seatwright.case import ImpressionMaterial, Storage
from seatwright.errors import ValueOutOfRange
from seatwright.pour import Band
from seatwright.pour._windows import find_stretches, judge_at, minutes_between, read_history, temperature_band

ALG, EXT = ImpressionMaterial.ALGINATE, ImpressionMaterial.EXTENDED_ALGINATE
PE, VPS = ImpressionMaterial.POLYETHER, ImpressionMaterial.ADDITION_SILICONE


def judged(material, minute, *parts, **other):
    return judge_at(read_history(material, out(*parts, **other), at(minute)), minute)


@pytest.mark.parametrize(("minute", "band"), [(10.0, Band.WITHIN), (10.1, Band.BEYOND)])
def test_alginate_in_open_air_has_ten_minutes(minute: float, band: Band) -> None:
    found = judged(ALG, minute, (Storage.OPEN_AIR, 0))
    assert found.rung.band is band
    assert (found.rule == "alginate-open-air") == (band is Band.BEYOND)


def test_open_air_minutes_add_up_over_spells() -> None:
    parts = ((Storage.OPEN_AIR, 6), (Storage.SEALED_BAG, 3), (Storage.OPEN_AIR, 0))
    assert judged(EXT, 12.9, *parts).rung.band is Band.WITHIN
    assert judged(EXT, 13.1, *parts).rule == "alginate-open-air"


def test_dry_storage_of_alginate_counts_as_open_air() -> None:
    found = judged(ALG, 11.0, (Storage.OPEN_AIR, 4), (Storage.DRY, 0))
    assert (found.rung.band, found.rule, found.minutes) == (Band.BEYOND, "alginate-open-air", 11.0)


def test_minutes_in_open_air_count_against_the_age_of_a_bagged_alginate() -> None:
    parts = ((Storage.OPEN_AIR, 5), (Storage.SEALED_BAG, 0))
    assert judged(ALG, 12.0, *parts).rung.band is Band.WITHIN
    assert judged(ALG, 12.1, *parts).rung.band is Band.STRETCHED
    assert judged(ALG, 120.1, *parts).rung.band is Band.BEYOND


def test_each_spell_is_judged_in_its_own_storage_and_the_worst_rules() -> None:
    box = ((Storage.OPEN_AIR, 2), (Storage.SEALED_BAG, 5), (Storage.HUMID_BOX, 0))
    assert judged(ALG, 200.0, *box).rule == "alginate-humid-box"
    late = ((Storage.OPEN_AIR, 2), (Storage.SEALED_BAG, 119), (Storage.HUMID_BOX, 0))
    assert judged(ALG, 130.0, *late).rung.band is Band.BEYOND
    assert judged(ALG, 130.0, *late).rule == "alginate-bag"


@pytest.mark.parametrize(("minutes", "band"), [(10.0, Band.WITHIN), (10.5, Band.BEYOND)])
def test_immersion_by_disinfection_counts_when_the_log_has_no_immersed_spell(minutes: float, band: Band) -> None:
    found = judged(EXT, 30.0, disinfection_method="immersion", disinfection_contact_min=minutes, disinfected_at=at(15))
    assert found.rung.band is band


def test_immersion_spells_and_contact_are_not_counted_twice() -> None:
    parts = ((Storage.OPEN_AIR, 1), (Storage.IMMERSED, 9), (Storage.SEALED_BAG, 0))
    found = judged(
        EXT, 30.0, *parts, disinfection_method="immersion", disinfection_contact_min=9.0, disinfected_at=at(10)
    )
    assert found.rung.band is Band.WITHIN


@pytest.mark.parametrize(("minute", "band"), [(10.0, Band.WITHIN), (10.1, Band.BEYOND)])
def test_polyether_may_be_damp_for_disinfection_only(minute: float, band: Band) -> None:
    assert judged(PE, minute, (Storage.HUMID_BOX, 0)).rung.band is band
    assert judged(VPS, minute, (Storage.HUMID_BOX, 0)).rung.band is Band.WITHIN


@pytest.mark.parametrize(
    ("material", "celsius", "band"),
    [
        (ALG, 35.0, Band.WITHIN),
        (ALG, 35.1, Band.STRETCHED),
        (ALG, 39.9, Band.STRETCHED),
        (ALG, 40.0, Band.BEYOND),
        (ALG, 0.1, Band.WITHIN),
        (ALG, 0.0, Band.BEYOND),
        (VPS, 40.0, Band.WITHIN),
        (VPS, 40.1, Band.STRETCHED),
        (VPS, 46.0, Band.STRETCHED),
        (VPS, 46.1, Band.BEYOND),
        (VPS, -9.0, Band.WITHIN),
        (PE, 40.0, Band.WITHIN),
        (PE, 40.1, Band.BEYOND),
        (PE, 0.1, Band.WITHIN),
        (PE, 0.0, Band.STRETCHED),
    ],
)
def test_temperature_bands(material: ImpressionMaterial, celsius: float, band: Band) -> None:
    assert temperature_band(material, celsius)[0] is band


def test_heat_counts_from_the_moment_it_was_seen_and_has_no_number() -> None:
    state = out(temperatures_c=((at(4), 41.0),))
    history = read_history(ALG, state, at(8))
    assert judge_at(history, 3.0).rung.band is Band.WITHIN
    found = judge_at(history, 4.0)
    assert (found.rung.band, found.rung.bias_percent, found.rule) == (Band.BEYOND, None, "heat")
    assert [s.since_min for s in find_stretches(history)][:2] == [0.0, 4.0]


def test_heat_after_now_is_left_out() -> None:
    state = out(temperatures_c=((at(4), 41.0),))
    assert judge_at(read_history(ALG, state, at(3)), 3.0).rung.band is Band.WITHIN
    assert [s.until_min for s in find_stretches(read_history(ALG, state, at(3)))] == [12.0, 120.0, None]


def test_an_impression_still_to_be_taken_is_read_as_kept_well() -> None:
    assert read_history(ALG, None, at(0)).exposures[0].storage is Storage.SEALED_BAG
    assert read_history(PE, None, at(0)).exposures[0].storage is Storage.DRY
    later = out(out_at=at(60), spells=())
    assert read_history(ALG, later, at(0)).exposures[0].storage is Storage.SEALED_BAG


def test_without_spells_it_lies_in_open_air() -> None:
    assert judged(ALG, 11.0, spells=()).rule == "alginate-open-air"


def test_stretches_show_what_waiting_in_the_present_storage_brings() -> None:
    history = read_history(ALG, out((Storage.OPEN_AIR, 4), (Storage.SEALED_BAG, 0)), at(6))
    assert [(s.since_min, s.until_min, s.judged.rung.band) for s in find_stretches(history)] == [
        (0.0, 12.0, Band.WITHIN),
        (12.0, 120.0, Band.STRETCHED),
        (120.0, None, Band.BEYOND),
    ]
    bare = read_history(ALG, out((Storage.SEALED_BAG, 4), (Storage.OPEN_AIR, 0)), at(6))
    assert [s.until_min for s in find_stretches(bare)] == [12.0, 14.0, None]


def test_a_clock_change_does_not_move_the_clock() -> None:
    zone = ZoneInfo("Europe/Berlin")
    early = datetime(2026, 10, 25, 2, 50, tzinfo=zone, fold=0)
    late = datetime(2026, 10, 25, 2, 10, tzinfo=zone, fold=1)
    assert minutes_between(early, late) == 20.0


def test_the_same_moment_in_another_zone_is_the_same_moment() -> None:
    assert minutes_between(OUT, OUT.astimezone(timezone(timedelta(hours=-8)))) == 0.0


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="no time zone"):
        minutes_between(datetime(2026, 3, 10, 9, 0), OUT)  # noqa: DTZ001


def test_a_makers_change_without_a_window_takes_the_tables_window() -> None:
    history = replace(read_history(PE, out((Storage.DRY, 0)), at(5)), maker_change_percent=-0.3)
    assert judge_at(history, 1440.0).rung.bias_percent == -0.3
    assert judge_at(history, 1441.0).rung.bias_percent is None
