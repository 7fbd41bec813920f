"""Two programs that write at the same moment: one after the other, and nothing lost."""

import subprocess
import sys
from pathlib import Path

import pytest
from tests.contract.conftest import Practice

from seatwright.case import Decided
from seatwright.errors import ConflictError
from seatwright.files import FilesCaseSource
from seatwright.record import verify_record
from seatwright.workflows.practice_log import load_whole, open_record_log

ROOT = Path(__file__).resolve().parents[2]
N_EACH = 12
WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from seatwright.files import FilesCaseSource
from seatwright.record import open_record
from seatwright.workflows.practice_log import log_events
folder, code, who, n = sys.argv[1:]
class Still:
    def now(self): return datetime(2026, 3, 20, 9, 0, tzinfo=UTC)
record = open_record(Path(folder))
for i in range(int(n)):
    said = '{"what": "decided", "decision": "%s %d", "reason": "test"}' % (who, i)
    receipt = log_events(record, lambda: FilesCaseSource(record.files(code)), [said], by=who, at=None, clock=Still())
    print(receipt.n_events, flush=True)
"""


def test_two_programs_on_one_case_and_another_on_its_own_lose_nothing(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    practice.bring(practice.write_folder("other", code="DEMO-8"))
    writers = [("DEMO-7", "one"), ("DEMO-7", "two"), ("DEMO-8", "three")]
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(practice.folder), code, who, str(N_EACH)],
            env={"PYTHONPATH": str(ROOT / "src"), "PATH": ""},
            stdout=subprocess.PIPE,
            text=True,
        )
        for code, who in writers
    ]
    acknowledged = [process.communicate(timeout=120)[0].split() for process in running]
    assert [process.returncode for process in running] == [0, 0, 0]
    assert all(len(numbers) == N_EACH for numbers in acknowledged)
    assert len({*acknowledged[0], *acknowledged[1]}) == 2 * N_EACH  # no number was given twice
    assert practice.record.find("DEMO-7").n_events == 7 + 2 * N_EACH
    assert practice.record.find("DEMO-8").n_events == 7 + N_EACH
    assert verify_record(practice.record.database, practice.record.store).is_sound


def test_log_that_somebody_else_added_to_is_a_conflict(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    bundle = load_whole(FilesCaseSource(practice.record.files("DEMO-7")), clock=practice.clock)
    mine, theirs = (open_record_log(practice.record, bundle, clock=practice.clock) for _ in range(2))
    event = Decided(seq=8, at=practice.clock.now(), by="lead", decision="wait", reason="the stone is not set")
    theirs.append(event)
    with pytest.raises(ConflictError, match="changed by somebody else"):
        mine.append(event)
    assert practice.record.find("DEMO-7").n_events == 8
