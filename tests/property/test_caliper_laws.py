"""Laws of the caliper check: what changes nothing, what grows, and that no sheet of any content ends in a bug."""

from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.cast.caliper_readings import ARCH, NAMES, read_marks

from seatwright.cast import CaliperAsked, Distances, adjust_network, check_caliper, check_index, noncentrality
from seatwright.errors import SeatwrightError
from seatwright.files import parse_caliper_csv, parse_index_csv
from seatwright.workflows.envelope import encode_json, to_jsonable

SHEET = b"epoch,from,to,reading_mm\nmouth,35,44,34.21\nmouth,35,33,20.1\nmouth,33,44,30.1\ncast,35,44,34.2\ncast,35,33,20.1\n"
GAPS = b"fixed;at;passes_um;stops_um\n37;33;0;8\n37;43;80;100\n47;37;0;8\n"

edits = st.lists(
    st.tuples(st.integers(0, 120), st.integers(0, 9), st.one_of(st.binary(max_size=4), st.sampled_from([b"\n", b";", b",", b'"', b"nan", b"\xff"]))),
    max_size=5,
)  # fmt: skip


def _edited(base: bytes, changes) -> bytes:
    data = bytearray(base)
    for at, n, put in changes:
        data[at : at + n] = put
    return bytes(data)


@settings(max_examples=80)
@given(changes=edits)
def test_any_readings_sheet_ends_in_an_answer_or_a_told_error(changes) -> None:
    with suppress(SeatwrightError):
        readings, _ = parse_caliper_csv(_edited(SHEET, changes))
        encode_json({"result": to_jsonable(check_caliper(readings, CaliperAsked(u_distance_um=10.0)))})


@settings(max_examples=80)
@given(changes=edits)
def test_any_index_sheet_ends_in_an_answer_or_a_told_error(changes) -> None:
    with suppress(SeatwrightError):
        readings, places, _ = parse_index_csv(_edited(GAPS, changes))
        encode_json({"result": to_jsonable(check_index(readings, places))})


@settings(max_examples=25)
@given(seed=st.integers(0, 10_000), angle=st.floats(0, 6.28), x=st.floats(-50, 50), y=st.floats(-50, 50))
def test_rigid_motion_of_the_start_changes_no_residual(seed, angle, x, y) -> None:
    rng = np.random.default_rng(seed)
    plane = ARCH[:, :2]
    pairs = np.array([(i, j) for i in range(6) for j in range(i + 1, 6)])
    length = np.linalg.norm(plane[pairs[:, 0]] - plane[pairs[:, 1]], axis=1) + rng.normal(0, 0.02, 15)
    distances = Distances(pairs, length, np.full(15, 0.02))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    one = adjust_network(plane, distances)
    other = adjust_network(plane @ turn.T + [x, y], distances)
    assert other.residual_mm == pytest.approx(one.residual_mm, abs=1e-7)
    assert np.trace(other.covariance) == pytest.approx(np.trace(one.covariance), rel=1e-6)


@settings(max_examples=10)
@given(seed=st.integers(0, 10_000))
def test_more_uncertainty_never_finds_smaller_movements(seed) -> None:
    readings = read_marks(ARCH[:4], np.random.default_rng(seed), names=NAMES[:4], epochs=("mouth",))
    reach = [
        check_caliper(readings, CaliperAsked(u_distance_um=u, reseat_um=r)).largest_unseen_um
        for u, r in ((0.0, 0.0), (20.0, 0.0), (20.0, 30.0))
    ]
    assert reach[0] < reach[1] < reach[2]


@settings(max_examples=10)
@given(seed=st.integers(0, 10_000), name=st.sampled_from(["a", "zz", "47 x"]))
def test_renaming_a_mark_changes_only_its_name(seed, name) -> None:
    readings = read_marks(ARCH[:4], np.random.default_rng(seed), names=NAMES[:4], moved={"33": [0.2, 0, 0]})
    renamed = [
        replace(r, first=name if r.first == "35" else r.first, second=name if r.second == "35" else r.second)
        for r in readings
    ]
    one, other = check_caliper(readings), check_caliper(renamed)
    lengths = {m.mark: m.judged.length_um for m in one.marks}
    for mark in other.marks:
        assert mark.judged.length_um == pytest.approx(lengths["35" if mark.mark == name else mark.mark], abs=1e-3)
    assert one.verdict == other.verdict


@given(dof=st.integers(3, 400))
def test_noncentrality_falls_with_degrees_of_freedom(dof) -> None:
    assert noncentrality(2, 0.05, float(dof)) > noncentrality(2, 0.05, float(dof + 1)) > noncentrality(2, 0.05)
