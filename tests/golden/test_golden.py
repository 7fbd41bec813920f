"""What our own code said before: a regression net, never a proof. Rewrite with `make golden`, then read the diff."""

import json
import os
from datetime import timedelta
from pathlib import Path

import pytest
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.workflows.envelope import to_jsonable
from seatwright.workflows.plan import plan_case

HERE = Path(__file__).resolve().parent


@pytest.mark.parametrize("room", ["dies", "pour", "support"])
def test_answer_for_the_example_case_is_as_before(room: str) -> None:
    source = MemorySource(demo_case(scan=(), region=()), demo_bench(), demo_events())
    plan = plan_case(source, now=None, clock=StoppedClock(DEMO_NOW + timedelta(days=1)))
    text = json.dumps(to_jsonable(getattr(plan, room)), indent=1, ensure_ascii=False) + "\n"
    file = HERE / f"example_{room}.json"
    if os.environ.get("SEATWRIGHT_WRITE_GOLDEN"):
        file.write_text(text, encoding="utf-8")
    assert text == file.read_text(encoding="utf-8")
