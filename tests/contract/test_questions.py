"""The questions that people ask, a page at a time; and photos kept with the case."""

import io
import json

import pytest
from PIL import Image
from sqlalchemy import text as sql
from tests.contract.conftest import Practice

from seatwright.errors import CaseError, InputError
from seatwright.files import FilesCaseSource
from seatwright.record import verify_record
from seatwright.workflows.bench_file import BenchCase, keep_bench
from seatwright.workflows.practice import read_files
from seatwright.workflows.practice_lists import check_lists, renew_lists
from seatwright.workflows.practice_log import Photo, keep_photo, log_events
from seatwright.workflows.record_lists import Page, PageWish


def _log(practice: Practice, code: str, **event: object) -> None:
    log_events(
        practice.record,
        lambda: FilesCaseSource(practice.record.files(code)),
        [json.dumps(event)],
        by="technician",
        at=None,
        clock=practice.clock,
    )


@pytest.fixture
def five(practice: Practice) -> Practice:
    for number in (3, 1, 5, 2, 4):
        practice.bring(practice.write_folder(f"case-{number}", code=f"B{number}_x"))
    return practice


def _all_pages(ask, limit: int) -> list[Page]:
    pages = [ask(PageWish(limit))]
    while pages[-1].next:
        pages.append(ask(PageWish(limit, pages[-1].next)))
    return pages


def test_cases_come_by_code_in_pages_without_gap_or_repeat(five: Practice) -> None:
    pages = _all_pages(five.record.list_cases, 2)
    assert [len(page.rows) for page in pages] == [2, 2, 1]
    assert [row.code for page in pages for row in page.rows] == [f"B{n}_x" for n in (1, 2, 3, 4, 5)]


def test_case_added_between_two_pages_shifts_nothing(five: Practice) -> None:
    first = five.record.list_cases(PageWish(2))
    five.bring(five.write_folder("early", code="A0"))
    second = five.record.list_cases(PageWish(2, first.next))
    assert [row.code for row in second.rows] == ["B3_x", "B4_x"]


@pytest.mark.parametrize(("text", "found"), [("b3", ["B3_x"]), ("_", [f"B{n}_x" for n in (1, 2, 3, 4, 5)]), ("%", [])])
def test_search_takes_any_part_of_the_code_literally(five: Practice, text: str, found: list[str]) -> None:
    assert [row.code for row in five.record.list_cases(PageWish(), text=text).rows] == found


def test_cases_at_the_bench_are_those_without_an_end(five: Practice) -> None:
    _log(five, "B2_x", what="outcome", outcome="seated")
    at_bench = five.record.list_cases(PageWish(), stage="at_bench").rows
    assert [row.code for row in at_bench] == [f"B{n}_x" for n in (1, 3, 4, 5)]
    assert [row.code for row in five.record.list_cases(PageWish(), stage="finished").rows] == ["B2_x"]


def test_open_impressions_come_oldest_first_until_they_are_separated(five: Practice) -> None:
    pages = _all_pages(five.record.list_open_impressions, 3)
    rows = [row for page in pages for row in page.rows]
    assert len(rows) == 10
    assert [row.out_at for row in rows] == sorted(row.out_at for row in rows)
    impression = rows[0].impression
    _log(five, "B1_x", what="poured", impression=impression, stone="type_4", lot="S4-1")
    places = {(r.case, r.impression): r.place for r in five.record.list_open_impressions(PageWish()).rows}
    assert places["B1_x", impression] == "in_stone"
    _log(five, "B1_x", what="separated", impression=impression)
    left = five.record.list_open_impressions(PageWish()).rows
    assert ("B1_x", impression) not in {(row.case, row.impression) for row in left}
    assert len(left) == 9


def test_lot_leads_to_the_dies_that_came_with_it(five: Practice) -> None:
    gel = {"what": "material_used", "material": "resin gel", "used_for": "die"}
    _log(five, "B1_x", **gel, lot="G-7", units=[43])
    _log(five, "B4_x", **gel, lot="G-7", units=[44, 45])
    _log(five, "B4_x", **gel, lot="G-8", units=[33])
    rows = [row for page in _all_pages(lambda w: five.record.list_lots(w, lot="G-7"), 1) for row in page.rows]
    assert [(row.case, row.units) for row in rows] == [("B1_x", (43,)), ("B4_x", (44, 45))]
    assert {row.lot for row in five.record.list_lots(PageWish(), used_for="die").rows} == {"G-7", "G-8"}


def test_corrected_lot_is_found_under_its_true_number_only(five: Practice) -> None:
    gel = {"what": "material_used", "material": "resin gel", "used_for": "die", "units": [43]}
    _log(five, "B1_x", **gel, lot="G-7")
    true = {**gel, "seq": 8, "at": "2026-03-20T08:00:00Z", "by": "technician", "lot": "G-9"}
    _log(five, "B1_x", what="corrected", corrects=8, reason="misread", instead=true)
    assert five.record.list_lots(PageWish(), lot="G-7").rows == ()
    assert [row.event for row in five.record.list_lots(PageWish(), lot="G-9").rows] == [8]
    rows = five.record.timeline("B1_x", PageWish()).rows
    assert [row.event for row in rows if row.corrected] == [8]


def test_timeline_tells_everything_by_the_time_it_happened(five: Practice) -> None:
    rows = [row for page in _all_pages(lambda w: five.record.timeline("B3_x", w), 4) for row in page.rows]
    assert [row.at for row in rows] == sorted(row.at for row in rows)
    assert [row.event for row in rows if row.event] == list(range(1, 8))
    assert {row.kind for row in rows} == {"revised", "filed", "happened"}
    assert all(row.text for row in rows)


def test_timeline_of_an_unknown_case_is_an_error(five: Practice) -> None:
    with pytest.raises(CaseError, match="no case B9"):
        five.record.timeline("B9", PageWish())


@pytest.mark.parametrize("token", ["x", "W10", "WyJhIl0", "!!"])
def test_token_that_no_page_ended_with_is_refused(five: Practice, token: str) -> None:
    with pytest.raises(InputError, match="no token"):
        five.record.timeline("B3_x", PageWish(5, token))


def test_photo_is_kept_byte_for_byte_and_comes_out_with_the_case(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    made = io.BytesIO()
    Image.new("RGB", (8, 8), "gray").save(made, "PNG")
    photo = Photo(made.getvalue(), "png", "margin of 43", (43,))
    receipt = keep_photo(
        practice.record,
        lambda: FilesCaseSource(practice.record.files("DEMO-7")),
        photo,
        by="lead",
        at=None,
        clock=practice.clock,
    )
    assert (receipt.n_events, receipt.n_files) == (8, 1)
    exported = read_files(practice.record, "DEMO-7")
    names = [name for name in exported if name.startswith("photos/")]
    assert [exported[name] for name in names] == [photo.data]
    assert verify_record(practice.record.database, practice.record.store).is_sound


def test_lists_that_say_otherwise_than_the_cases_are_found_and_put_right(five: Practice) -> None:
    def source(code: str) -> FilesCaseSource:
        return FilesCaseSource(five.record.files(code))

    assert check_lists(five.record, source, clock=five.clock) == ()
    with five.record.database.writing() as connection:
        connection.execute(sql("UPDATE stored_case SET stage = 'finished' WHERE code = 'B2_x'"))
        connection.execute(sql("UPDATE impression_standing SET phase = 'separated' WHERE case_code = 'B4_x'"))
        connection.execute(sql("DELETE FROM impression_standing WHERE case_code = 'B5_x'"))
    assert [wrong.code for wrong in check_lists(five.record, source, clock=five.clock)] == ["B2_x", "B4_x", "B5_x"]
    assert renew_lists(five.record, source, clock=five.clock) == ("B2_x", "B4_x", "B5_x")
    assert check_lists(five.record, source, clock=five.clock) == ()
    assert len(five.record.list_open_impressions(PageWish()).rows) == 10


def test_cases_that_stand_at_the_bench_are_told_by_one_question(five: Practice) -> None:
    opened = five.record.list_open_impressions(PageWish(100)).rows
    codes = dict.fromkeys(row.case for row in opened)
    assert len(codes) == 5
    assert len(opened) >= len(codes)
    found = [five.record.find(code) for code in codes]
    assert five.record.list_standing() == tuple((one.code, one.version, one.n_events) for one in found)
    _log(five, "B4_x", what="decided", decision="wait", reason="soft")
    assert five.record.find_latest().code == "B4_x"
    changed = {code: n_events for code, _, n_events in five.record.list_standing()}
    assert changed["B4_x"] == next(one.n_events for one in found if one.code == "B4_x") + 1


def test_every_bench_that_a_case_had_is_told_once_the_present_one_first(practice: Practice) -> None:
    folder = practice.write_folder("case", code="A-1")
    practice.bring(folder)
    stored = practice.record.files("A-1").read("bench.toml", max_bytes=100_000)
    for toml in (stored.replace(b"technician", b"ceramist"), stored):
        bundle = FilesCaseSource(practice.record.files("A-1")).load(now=None, clock=practice.clock)
        found = practice.record.find("A-1")
        plan = practice.record.files("A-1").read("case.toml", max_bytes=100_000)
        keep_bench(practice.record, [BenchCase(bundle, plan, found.version)], toml, by="lead", clock=practice.clock)
    told = practice.record.benches_of("A-1")
    assert [(bench.version, bench.toml == stored) for bench in told] == [(3, True), (2, False)]
    assert told[1].by == "lead"
    assert told[0].at < told[1].at  # when it was written first
    assert practice.record.benches_of("B-1") == ()
