"""The commands on a case folder: one JSON object, bars on request, exit codes, the check of an edited timetable."""

import json
from datetime import timedelta

import pytest
from pypdf import PdfReader
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events

from seatwright.case import fold_events
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._timetable import TimetableOptions, run_timetable
from seatwright.cli._today import run_today
from seatwright.errors import ConflictError, InputError
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl, read_log

FAST = {"limit_s": 60.0, "n_runs": 100}
NOW = "2026-03-10T09:30:00Z"
STOPPED = DEMO_NOW + timedelta(hours=1)


@pytest.fixture
def folder(tmp_path):
    case = demo_case(scan=(), region=())
    (tmp_path / "case.toml").write_bytes(case_to_toml(case))
    (tmp_path / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (tmp_path / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    return tmp_path


def run(folder, capsys, **options) -> tuple[int, str]:
    asked = TimetableOptions(**(FAST | options.pop("asked", {})))
    code = run_timetable([folder], options=asked, **options)
    return code, capsys.readouterr().out


def test_json_is_one_object_and_nothing_else(folder, capsys) -> None:
    code, out = run(folder, capsys, as_json=True)
    document = json.loads(out)
    assert code == 0
    assert document["schema"].endswith("/timetable")
    assert document["result"]["tasks"]


def test_words_begin_with_the_verdict(folder, capsys) -> None:
    _, out = run(folder, capsys)
    assert out.startswith("Does not fit: past its window opposing-1")


def test_strict_run_with_a_late_pour_does_not_conform(folder, capsys) -> None:
    assert run(folder, capsys, strict=True)[0] == EXIT_NOT_CONFORMING


def test_bars_are_written_where_asked(folder, capsys, tmp_path) -> None:
    run(folder, capsys, asked={"svg": tmp_path / "bars.svg"})
    assert (tmp_path / "bars.svg").read_text(encoding="utf-8").startswith("<svg")


def test_step_cards_are_printed_in_order(folder, capsys, tmp_path) -> None:
    run(folder, capsys, asked={"cards": tmp_path / "cards"})
    text = "".join(page.extract_text() for page in PdfReader(tmp_path / "cards" / "step-cards.pdf").pages)
    assert text.index("Flash off") < text.index("Separate")
    assert "Does not fit: past its window opposing-1" in text


def test_an_impression_under_a_stop_has_no_step_cards(folder, capsys, tmp_path) -> None:
    """The bench card said not to pour it; the step cards once told how much stone to weigh for it."""
    run(folder, capsys, now=STOPPED.isoformat(), asked={"cards": tmp_path / "cards"})
    pages = PdfReader(tmp_path / "cards" / "step-cards.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "Nothing to mix or pour of DEMO-1 opposing-1 until the stop is lifted" in text
    assert text.count("opposing-1") == 2  # in the verdict and in the stop: no card of its own


def test_shared_bench_is_read_from_its_own_file(folder, capsys, tmp_path) -> None:
    own = folder / "bench.toml"
    shared = tmp_path / "shared.toml"
    shared.write_bytes(own.read_bytes())
    own.unlink()
    assert run(folder, capsys, bench=shared, as_json=True)[0] == 0


def test_bench_that_is_not_there_is_refused(folder, tmp_path) -> None:
    with pytest.raises(InputError, match="no such file"):
        run_timetable([folder], bench=tmp_path / "none.toml")


@pytest.mark.parametrize("asked", [{"limit_s": 0.0}, {"limit_s": -1.0}, {"n_runs": -1}])
def test_senseless_options_are_refused(folder, asked) -> None:
    with pytest.raises(InputError):
        run_timetable([folder], options=TimetableOptions(**(FAST | asked)))


def test_printed_timetable_checks_as_sound_and_a_spoiled_one_does_not(folder, capsys, tmp_path) -> None:
    _, out = run(folder, capsys, as_json=True)
    path = tmp_path / "edited.json"
    path.write_text(out, encoding="utf-8")
    code, said = run(folder, capsys, asked={"check": path}, strict=True)
    assert (code, said.strip()) == (0, "Sound: every rule is kept.")
    document = json.loads(out)
    document["result"]["tasks"].pop()
    path.write_text(json.dumps(document), encoding="utf-8")
    code, said = run(folder, capsys, asked={"check": path}, strict=True)
    assert code == EXIT_NOT_CONFORMING
    assert "is missing" in said


def test_file_that_is_no_json_is_refused(folder, tmp_path) -> None:
    (tmp_path / "edited.json").write_text("no", encoding="utf-8")
    with pytest.raises(InputError, match="as JSON"):
        run_timetable([folder], options=TimetableOptions(**FAST, check=tmp_path / "edited.json"))


class Keys:
    def __init__(self, *pressed) -> None:
        self.pressed = list(pressed)

    def read(self, timeout_s: float):
        pressed = self.pressed.pop(0) if self.pressed else "q"
        return pressed() if callable(pressed) else pressed


class Clock:
    at = DEMO_NOW

    def now(self):
        self.at += timedelta(seconds=5)
        return self.at


def test_touches_of_the_live_day_end_up_in_the_log(folder, capsys) -> None:
    assert run_today([folder], keys=Keys("1", "3", "b"), clock=Clock()) == 0
    events, _, faults = read_log((folder / "log.jsonl").read_bytes())
    assert faults == ()
    added = [event.what for event in events[len(demo_events()) :]]
    assert added.count("storage_changed") == 1
    assert "step_started" in added
    fold_events(events, demo_case(), now=DEMO_NOW + timedelta(hours=1))


def test_log_changed_by_somebody_else_ends_the_live_day(folder, capsys) -> None:
    def somebody_else_writes() -> str:
        with (folder / "log.jsonl").open("ab") as log:
            log.write(b"\n")
        return "1"

    with pytest.raises(ConflictError):
        run_today([folder], keys=Keys(somebody_else_writes), clock=Clock())


def test_live_day_as_json_is_the_view_once(folder, capsys) -> None:
    assert run_today([folder], as_json=True, now=NOW) == 0
    result = json.loads(capsys.readouterr().out)["result"]
    assert [row["who"] for row in result["people"]] == ["dentist", "assistant", "technician", "trainee"]


def test_live_day_without_a_terminal_is_shown_once(folder, capsys) -> None:
    assert run_today([folder], now=NOW) == 0
    assert "START NOW" in capsys.readouterr().out
