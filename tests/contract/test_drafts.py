"""A plan that is being entered outlives the server, is undone step by step, and becomes a version once it is sound."""

from datetime import timedelta

import pytest
from tests.contract.conftest import Practice
from tests.examples import demo_bench
from tests.unit.case.entry.test_gestures import UNITS

from seatwright import wiring
from seatwright.case import Arch
from seatwright.case.entry import gesture_adapter
from seatwright.errors import CaseError, ConflictError
from seatwright.files import bench_to_toml, case_to_toml
from seatwright.record import Drafts
from seatwright.workflows.entry import Desk, Draft, begin_case, enter, keep_plan, open_draft, undo
from seatwright.workflows.practice_log import load_whole

COMPLETE = [
    *UNITS,
    {"gesture": "set_tolerance", "unit_shift_um": 50.0, "reason": "judgement"},
    {
        "gesture": "put_item",
        "table": "impression",
        "item": {
            "id": "p",
            "role": "pick_up",
            "arch": "mandible",
            "material": "polyether",
            "tray": "rigid_custom",
            "adhesive": True,
            "route": "overall",
            "lifts": [45, 44, 43, 42, 33, 34, 35, 37],
            "pour": {"stone": "type_4"},
        },
    },
]


def _gestures(*plain: dict) -> list:
    return [gesture_adapter.validate_python(one) for one in plain]


def _desk(practice: Practice) -> Desk:
    return Desk(practice.record, Drafts(practice.record.database), "dentist", practice.clock)


def _new(practice: Practice) -> tuple[Desk, Draft]:
    desk = _desk(practice)
    return desk, begin_case(desk, "NEW-1", Arch.MANDIBLE)


def _enter(desk: Desk, draft: Draft, *plain: dict) -> Draft:
    return enter(desk, draft, _gestures(*plain), revision=draft.revision)


def test_a_draft_is_there_after_the_record_was_closed(practice: Practice) -> None:
    desk, draft = _new(practice)
    draft = _enter(desk, draft, *UNITS[:4])
    practice.record.close()
    assert Drafts(practice.reopen().database).load_draft("NEW-1") == draft


def test_a_gesture_made_on_an_older_revision_is_refused_and_nothing_is_lost(practice: Practice) -> None:
    desk, draft = _new(practice)
    theirs = _enter(desk, draft, UNITS[0])
    with pytest.raises(ConflictError, match="changed by somebody else"):
        _enter(desk, draft, UNITS[1])
    with pytest.raises(ConflictError, match="changed meanwhile"):
        enter(desk, theirs, _gestures(UNITS[1]), revision=draft.revision)
    assert desk.drafts.load_draft("NEW-1") == theirs
    both = _enter(desk, theirs, UNITS[1])
    assert {34, 36} <= set(both.document["teeth"]["missing_partial"])


def test_steps_are_undone_one_by_one_to_the_beginning(practice: Practice) -> None:
    desk, begun = _new(practice)
    draft = begun
    for gesture in UNITS:
        draft = _enter(desk, draft, gesture)
    for _ in UNITS:
        draft = undo(desk, draft, revision=draft.revision)
    assert draft.document == begun.document
    assert desk.drafts.load_draft("NEW-1") == draft
    with pytest.raises(ConflictError, match="nothing is left"):
        undo(desk, draft, revision=draft.revision)


def test_several_gestures_are_one_step_and_all_or_none(practice: Practice) -> None:
    desk, draft = _new(practice)
    with pytest.raises(CaseError):
        _enter(desk, draft, UNITS[0], {"gesture": "join_units", "teeth": [33, 34]})
    assert desk.drafts.load_draft("NEW-1") == draft
    draft = _enter(desk, draft, *UNITS[:5])
    assert len(draft.steps) == 1


def test_a_plan_with_gaps_is_not_kept_and_a_sound_one_becomes_a_version(practice: Practice) -> None:
    desk, draft = _new(practice)
    draft = _enter(desk, draft, *UNITS)
    bench = bench_to_toml(demo_bench())
    arguments = {"bench_toml": bench, "encode": case_to_toml}
    with pytest.raises(CaseError, match="gaps"):
        keep_plan(desk, draft, None, revision=draft.revision, **arguments)
    draft = _enter(desk, draft, *COMPLETE[len(UNITS) :])
    receipt = keep_plan(desk, draft, None, revision=draft.revision, **arguments)
    assert (receipt.code, receipt.version) == ("NEW-1", 1)
    assert desk.drafts.load_draft("NEW-1") is None
    kept = load_whole(wiring.open_case(practice.folder / "NEW-1"), clock=practice.clock)
    assert len(kept.case.unit) == 8


def test_a_draft_of_a_stored_case_begins_as_it_stands_and_conflicts_with_a_newer_version(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    desk, source = _desk(practice), wiring.open_case(practice.folder / "DEMO-7")
    draft = open_draft(desk, source, "DEMO-7")
    assert (draft.revision, draft.base_version) == (0, 1)
    draft = _enter(desk, draft, {"gesture": "name_plan", "title": "mine"})
    bundle = load_whole(source, clock=practice.clock)
    arguments = {"bench_toml": bench_to_toml(bundle.bench), "encode": case_to_toml}
    receipt = keep_plan(desk, draft, bundle, revision=1, **arguments)
    assert receipt.version == 2
    desk.drafts.save_draft(draft)
    with pytest.raises(ConflictError, match="changed by somebody else"):
        keep_plan(desk, draft, bundle, revision=1, **arguments)
    assert desk.drafts.load_draft("DEMO-7") == draft


def test_a_new_case_needs_a_free_and_plain_code(practice: Practice) -> None:
    desk, _ = _new(practice)
    for code, error in (("NEW-1", ConflictError), ("a name", CaseError), ("", CaseError)):
        with pytest.raises(error):
            begin_case(desk, code, Arch.MANDIBLE)
    assert desk.drafts.drafted_codes() == ("NEW-1",)


def test_a_scan_that_only_a_draft_names_outlives_tidying_and_becomes_the_cases_own(practice: Practice) -> None:
    desk, draft = _new(practice)
    arriving = practice.record.receive()
    arriving.write(b"solid a\n")
    arriving.write(b"endsolid a\n")
    kept = practice.record.keep_arrived(arriving, suffix="stl")
    scan = {"id": "opposing", "role": "opposing", "of": "mouth", "arch": "maxilla", "file": kept.path,
            "length_unit": "mm", "repeatability_um": 5.0}  # fmt: skip
    put = {"gesture": "put_item", "table": "scan", "item": scan}
    enter(desk, draft, _gestures(*COMPLETE, put), revision=draft.revision, files=(kept, kept))
    practice.record.tidy(now=practice.clock.now() + timedelta(days=3))
    draft = Drafts(practice.record.database).load_draft("NEW-1")
    assert draft is not None
    assert draft.files == (kept, kept)
    keep_plan(desk, draft, None, bench_toml=bench_to_toml(demo_bench()), encode=case_to_toml, revision=draft.revision)
    assert practice.record.file_hashes("NEW-1") == {kept.path: kept.sha256}
    assert practice.record.files("NEW-1").read(kept.path, max_bytes=100) == b"solid a\nendsolid a\n"


def test_a_file_that_is_not_kept_leaves_nothing(practice: Practice) -> None:
    arriving = practice.record.receive()
    arriving.write(b"half")
    practice.record.tidy(now=practice.clock.now())
    assert arriving.path.is_file()  # it is still coming in: nobody clears it
    arriving.discard()
    arriving.discard()
    assert not arriving.path.exists()
    assert practice.record.tidy(now=practice.clock.now() + timedelta(days=3)) == (0, 0)
