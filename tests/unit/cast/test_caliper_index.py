"""The index test: foils bracket gaps, one abutment off is found when the readings allow it, else the candidates are."""

import numpy as np
import pytest
from scipy import optimize

from seatwright.cast import FoilReading, IndexAsked, check_index
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict

FOILS = (8, 12, 16, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300)
PLACES = {"37": (25.0, 20.0), "33": (10.0, -8.0), "43": (-8.0, -9.0), "47": (-24.0, 21.0)}


def read_gaps(places, fixed, *, height=None, tilt=None, foils=FOILS):
    """Return foil readings of abutments with these heights (µm) and tilts (µm a mm)."""
    height, tilt = height or {}, tilt or {}
    readings = []
    for k in fixed:
        for j in places:
            if j == k:
                continue
            away = np.subtract(places[j], places[k])
            gap = height.get(k, 0.0) + float(np.dot(tilt.get(k, (0.0, 0.0)), away)) - height.get(j, 0.0)
            enters = max((f for f in foils if f <= gap), default=0)
            stops = min((f for f in foils if f > gap), default=None)
            readings.append(FoilReading(k, j, enters, stops))
    return readings


def candidates(result):
    return [c.seats for c in result.candidates]


def test_tilt_of_a_milliradian_opens_40_um_at_40_mm() -> None:
    """Closed form: gap = tilt times length."""
    bar = {"a": (0.0, 0.0), "b": (20.0, 0.0), "c": (40.0, 0.0)}
    readings = read_gaps(bar, ["a"], tilt={"a": (1.0, 0.0)}, foils=tuple(range(1, 300)))
    assert [(r.at, r.passes_um, r.stops_um) for r in readings] == [("b", 20, 21), ("c", 40, 41)]
    found = check_index(readings, bar, IndexAsked(u_foil_um=0.1))
    only_a = next(c for c in found.candidates if c.seats == ("a",))
    low, high = only_a.tilt_um_per_mm[0]
    assert low <= 1.0 <= high or low <= -1.0 <= high  # the sense along the longest extent is free


def test_low_abutment_between_two_fixed_ends_is_located_with_its_height() -> None:
    found = check_index(read_gaps(PLACES, ["37", "47"], height={"43": -90}), PLACES)
    assert found.is_located
    assert candidates(found) == [("43",)]
    low, high = found.candidates[0].height_um[0]
    assert low <= -90 <= high
    assert found.verdict is Verdict.DOES_NOT_CONFORM
    assert "43 stands" in found.headline


def test_one_fixed_end_gives_candidates_and_a_next_reading() -> None:
    found = check_index(read_gaps(PLACES, ["37"], height={"43": -90}), PLACES)
    assert not found.is_located
    assert ("43",) in candidates(found)
    assert found.rank == 3
    assert found.n_unknowns == 9
    assert "index-one-end" in {f.id for f in found.findings}


def test_next_reading_when_taken_locates_it() -> None:
    first = check_index(read_gaps(PLACES, ["37"], height={"43": -60}), PLACES)
    assert len(first.candidates) > 1
    assert first.next_reading is not None
    fixed, _ = first.next_reading
    second = check_index(read_gaps(PLACES, ["37", fixed], height={"43": -60}), PLACES)
    assert candidates(second) == [("43",)]


def test_high_abutment_shows_only_when_it_is_the_fixed_one() -> None:
    hidden = check_index(read_gaps(PLACES, ["37", "47"], height={"43": 90}), PLACES)
    assert hidden.misfit_none_um == 0.0
    shown = check_index(read_gaps(PLACES, PLACES, height={"43": 90}), PLACES)
    assert shown.is_located
    assert candidates(shown) == [("43",)]
    low, high = shown.candidates[0].height_um[0]
    assert low <= 90 <= high


def test_index_that_seats_everywhere_conforms() -> None:
    found = check_index(read_gaps(PLACES, PLACES), PLACES)
    assert found.verdict is Verdict.CONFORMS
    assert found.candidates == ()
    assert found.rank == found.n_unknowns == 9


def test_two_seats_never_tell_which_is_off() -> None:
    bar = {"a": (0.0, 0.0), "b": (40.0, 0.0)}
    found = check_index(read_gaps(bar, bar, height={"b": -90}), bar)
    assert set(candidates(found)) == {("a",), ("b",)}
    assert not found.is_located
    assert found.n_unknowns == 2


def test_two_abutments_off_are_told_as_sets_of_two() -> None:
    found = check_index(read_gaps(PLACES, PLACES, height={"43": -90, "33": -150}), PLACES)
    assert candidates(found) == [("33", "43")]
    assert found.misfit_one_um > 10
    assert not found.is_located


def test_readings_that_nothing_explains_say_so() -> None:
    readings = read_gaps(PLACES, PLACES)
    wild = [FoilReading(r.fixed, r.at, 150, 200) for r in readings]
    found = check_index(wild, PLACES)
    assert found.candidates == ()
    assert "index-unexplained" in {f.id for f in found.findings}


def test_index_that_does_not_sit_where_fixed_is_not_read_from_there() -> None:
    readings = [*read_gaps(PLACES, ["37", "47"]), FoilReading("33", "33", 40, 50), FoilReading("33", "37", 100, 150)]
    found = check_index(readings, PLACES)
    assert found.unseated == ("33",)
    assert found.misfit_none_um == 0.0
    with pytest.raises(CannotCompute, match="did not sit"):
        check_index(readings[-2:], PLACES)


def test_seats_named_after_teeth_need_no_places() -> None:
    readings = [FoilReading("37", "33", 0, 8), FoilReading("37", "47", 0, 8), FoilReading("47", "37", 0, 8)]
    assert check_index(readings).verdict is Verdict.CONFORMS
    with pytest.raises(ValueOutOfRange, match="no place"):
        check_index([FoilReading("left", "right", 0, 8)])


@pytest.mark.parametrize(
    "reading", [FoilReading("37", "47", 20, 10), FoilReading("37", "47", -1, 10), FoilReading("37", "47", np.nan, 10)]
)
def test_foils_in_the_wrong_order_are_refused(reading) -> None:
    with pytest.raises(ValueOutOfRange):
        check_index([reading])


def test_seats_on_one_place_are_refused() -> None:
    with pytest.raises(CannotCompute, match="one place"):
        check_index([FoilReading("a", "b", 0, 8)], {"a": (0, 0), "b": (0.2, 0)})


@pytest.mark.parametrize("seed", range(12))
def test_true_abutment_is_always_among_the_candidates(seed) -> None:
    rng = np.random.default_rng(seed)
    name = str(rng.choice(list(PLACES)))
    height = {name: float(rng.choice([-1, 1]) * rng.uniform(60, 250))}
    tilt = {name: tuple(rng.normal(0, 2, 2))}
    found = check_index(read_gaps(PLACES, PLACES, height=height, tilt=tilt), PLACES)
    if found.misfit_none_um > 10:
        assert (name,) in candidates(found)
    if found.is_located:
        low, high = found.candidates[0].height_um[0]
        assert low is None or low <= height[name]
        assert high is None or height[name] <= high


def test_misfit_agrees_with_a_search_over_one_height() -> None:
    """With b off alone its height is one number: the linear program against a bounded scalar search."""
    bar = {"a": (0.0, 0.0), "b": (20.0, 0.0), "c": (40.0, 0.0)}
    readings = [FoilReading("a", "b", 50, 60), FoilReading("c", "b", 100, 150), FoilReading("a", "c", 0, 8)]
    found = check_index(readings, bar, IndexAsked(u_foil_um=100.0, tolerance_um=1000.0))

    def worst(z):
        return max(50 + z, -z - 60, 100 + z, -z - 150, 0.0)

    peer = optimize.minimize_scalar(worst, bounds=(-300, 300), method="bounded").fun
    tight = check_index(readings, bar, IndexAsked(u_foil_um=1.0))
    assert found.misfit_none_um == pytest.approx(100.0)
    assert tight.misfit_one_um <= peer + 1e-3
