"""``seatwright record ...`` as a person uses it: words and exit codes, JSON, and the record's cases in other commands."""

import io
import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image
from tests.examples import demo_bench, demo_case, demo_events

from seatwright import wiring
from seatwright.cli import main
from seatwright.cli._keys import KeySource
from seatwright.cli._today import run_today
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl
from seatwright.workflows.practice import read_files

NOW = "2026-03-10T09:30:00Z"
Ran = tuple[int, str, str]
Run = Callable[..., Ran]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command in an empty folder; return exit code, output and errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SEATWRIGHT_BY", "lead")
    monkeypatch.setenv("COLUMNS", "160")
    monkeypatch.delenv("SEATWRIGHT_RECORD", raising=False)

    def call(*arguments: str) -> Ran:
        with pytest.raises(SystemExit) as ended:
            main(list(arguments))
        shown = capsys.readouterr()
        return int(ended.value.code or 0), shown.out, shown.err

    return call


@pytest.fixture
def practice(run: Run) -> Run:
    """Make a record with the example case in it."""
    folder = Path("case")
    folder.mkdir()
    case = demo_case(scan=(), region=(), code="DEMO-7")
    (folder / "case.toml").write_bytes(case_to_toml(case))
    (folder / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (folder / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    assert run("record", "init")[0] == 0
    assert run("record", "import", "case")[0] == 0
    return run


def test_way_of_a_case_through_the_record(practice: Run) -> None:
    run = practice
    assert run("record", "export", "DEMO-7", "out")[0] == 0
    for name in ("case.toml", "bench.toml", "log.jsonl"):
        assert (Path("out") / name).read_bytes() == (Path("case") / name).read_bytes()
    code, out, _ = run("record", "log", "DEMO-7", '{"what": "decided", "decision": "wait", "reason": "soft"}')
    assert (code, out) == (0, "DEMO-7: event 8 is on the disk.\n")
    assert run("record", "backup", "safe", "--keep", "daily=7")[0] == 0
    assert run("record", "restore", "safe", "--record", "again")[0] == 0
    code, out, _ = run("record", "verify", "--record", "again")
    assert code == 0
    assert out.startswith("Sound: 10 entries of 1 cases, 2 documents")
    head = out.rsplit(" ", 1)[1].strip()
    assert run("record", "verify", "--head", head)[0] == 0
    assert run("record", "verify", "--backups", "safe")[0] == 0


def test_every_answer_is_json_on_request(practice: Run) -> None:
    run = practice
    picture = io.BytesIO()
    Image.new("RGB", (8, 8)).save(picture, "PNG")
    Path("p.png").write_bytes(picture.getvalue())
    for arguments in (
        ("photo", "DEMO-7", "p.png", "--units", "43"),
        ("list",),
        ("impressions",),
        ("lots",),
        ("timeline", "DEMO-7", "--limit", "3"),
        ("log", "DEMO-7", '{"what": "outcome", "outcome": "seated"}'),
        ("export", "DEMO-7", "out"),
        ("backup", "safe"),
        ("backups", "safe"),
        ("verify",),
        ("verify", "--backups", "safe"),
        ("restore", "safe", "--record", "again"),
        ("upgrade",),
        ("renew",),
        ("renew", "--check"),
        ("tidy",),
    ):
        code, out, err = run("record", *arguments, "--json")
        assert code == 0, (arguments, out, err)
        assert json.loads(out)["schema"].startswith("seatwright/result/1/record-")


def test_pages_follow_each_other_by_their_token(practice: Run) -> None:
    run = practice
    seen, token = [], ""
    while True:
        code, out, _ = run(
            "record", "timeline", "DEMO-7", "--limit", "3", "--json", *(["--after", token] if token else [])
        )
        assert code == 0
        page = json.loads(out)["result"]
        seen += [row["entry"] for row in page["rows"]]
        token = page["next"]
        if not token:
            break
    assert len(seen) == len(set(seen)) == 8


def test_lists_show_what_a_person_looks_for(practice: Run) -> None:
    run = practice
    run(
        "record",
        "log",
        "DEMO-7",
        '{"what": "material_used", "material": "resin gel", "lot": "G_7", "used_for": "die", "units": [43]}',
    )
    assert "DEMO-7  at bench" in run("record", "list")[1]
    assert "waiting" in run("record", "impressions")[1]
    assert "G_7" in run("record", "lots", "--for", "die")[1]
    assert "resin gel, lot G_7, for die (43)" in run("record", "timeline", "DEMO-7")[1]
    assert run("record", "list", "nothing")[1] == "None.\n"


EXITS = [
    (("list", "--record", "nowhere"), 4, "there is no practice record in nowhere"),
    (("list", "--stage", "somewhere"), 2, "there is no stage somewhere"),
    (("list", "--limit", "0"), 2, "a page of 0 rows"),
    (("export", "DEMO-1", "x"), 2, "the record has no case DEMO-1"),
    (("timeline", "DEMO-1"), 2, "the record has no case DEMO-1"),
    (("log", "DEMO-7", "{"), 2, "is not JSON"),
    (("log", "DEMO-7", '{"what": "decided"}'), 2, "decision: is missing"),
    (("log", "DEMO-7", '{"what": "rinsed", "impression": "nowhere"}'), 2, "there is no impression nowhere"),
    (("log", "DEMO-7", "{}", "--at", "yesterday"), 2, "--at 'yesterday' is not an ISO 8601 time"),
    (("photo", "DEMO-7", "case/case.toml"), 2, "is no sound picture"),
    (("photo", "DEMO-7", "case/case.toml", "--units", "a"), 2, "are no tooth numbers"),
    (("init",), 5, "holds a record already"),
    (("backup", "practice/safe"), 2, "saves nothing"),
    (("backup", "safe", "--keep", "hourly=1"), 2, "--keep 'hourly=1' is not understood"),
    (("restore", "nowhere"), 4, "there are no backups"),
    (("verify", "--head", "7"), 2, "is no head"),
    (("verify", "--head", "7:" + "0" * 64), 4, "has another hash than the one noted"),
]


@pytest.mark.parametrize(("arguments", "code", "message"), EXITS, ids=[" ".join(a[0])[:40] for a in EXITS])
def test_what_cannot_be_done_says_why_and_exits_so(
    practice: Run, arguments: tuple[str, ...], code: int, message: str
) -> None:
    found, out, err = practice("record", *arguments)
    assert found == code, (out, err)
    assert message in err
    assert "-> " in err


def test_other_commands_take_a_case_of_the_record(practice: Run) -> None:
    run = practice
    in_folder = json.loads(run("pour", "case", "--now", NOW, "--json")[1])
    code, out, _ = run("pour", "practice/DEMO-7", "--now", NOW, "--json")
    assert code == 0
    assert json.loads(out) == in_folder
    os.chdir("practice")
    assert json.loads(run("pour", "DEMO-7", "--now", NOW, "--json")[1]) == in_folder


def test_record_is_no_longer_meant_once_its_folder_is_not_the_parent(practice: Run) -> None:
    code, _, err = practice("pour", "DEMO-7")
    assert code == 2
    assert "there is no folder DEMO-7" in err


class _Keys:
    def __init__(self, keys: str) -> None:
        self.left = list(keys)

    def read(self, timeout_s: float) -> str | None:
        return self.left.pop(0)


class _Clock:
    def now(self) -> datetime:
        return datetime.fromisoformat(NOW).astimezone(UTC)


def test_live_day_writes_into_the_record(practice: Run) -> None:
    keys: KeySource = _Keys("1q")
    assert run_today([Path("practice/DEMO-7")], now=NOW, limit_s=2.0, keys=keys, clock=_Clock()) == 0
    log = read_files(wiring.open_record(Path("practice")), "DEMO-7")["log.jsonl"]
    assert log.startswith((Path("case") / "log.jsonl").read_bytes())
    assert log.count(b"\n") > 7
    assert practice("record", "verify")[0] == 0
