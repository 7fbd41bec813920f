"""Work on a case that could not be begun leaves nothing behind that would be waited for."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from seatwright.errors import CannotCompute
from seatwright.jobs import JobView
from seatwright.web._checks import Checks
from seatwright.web._hub import Hub
from seatwright.workflows.record_ports import StoredCase

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


class ShutPool:
    """Takes no work at first."""

    is_shut = True

    def submit(self, task: str, value: object, *, on_change: object) -> str:
        if self.is_shut:
            raise CannotCompute("the workers are being shut down")
        return "job-1"

    def view(self, job_id: str) -> JobView:
        return JobView(job_id, "task")


class Clock:
    def now(self) -> datetime:
        return NOW


def test_work_that_could_not_be_begun_is_begun_at_the_next_look(tmp_path: Path) -> None:
    pool, case = ShutPool(), StoredCase("A-1", 1, 0, "", "mandible", "planned", NOW)
    checks = Checks(tmp_path, pool, Hub(), Clock())  # type: ignore[arg-type]
    with pytest.raises(CannotCompute):
        checks.begin(case)
    checks.cancel("A-1")
    assert checks.known("A-1") is None
    pool.is_shut = False
    assert checks.begin(case).job.id == "job-1"
