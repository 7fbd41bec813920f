"""The list schedule against Graham's worst case, whose answer is known for any number of equal hands."""

import tomllib
from pathlib import Path

import pytest

from seatwright.case import Duration, Person, Skill
from seatwright.pour._schedule import Task, schedule_work

INSTANCES = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))["instance"]


@pytest.mark.parametrize("instance", INSTANCES, ids=lambda i: f"{i['machines']}-hands")
def test_longest_first_gives_the_known_length_and_the_bound_is_the_best_one(instance: dict[str, object]) -> None:
    m = int(str(instance["machines"]))
    lengths = [size for size in range(2 * m - 1, m - 1, -1) for _ in range(3 if size == m else 2)]
    assert len(lengths) == 2 * m + 1
    tasks = [Task(Duration(x, x, x), Skill.MIX, attended=True, equipment=(), needs=()) for x in lengths]
    people = [Person(id=str(i), role="hands", skills=(Skill.MIX,)) for i in range(m)]
    found = schedule_work(tasks, people, {})
    assert found is not None
    assert found.minutes.typical_min == float(str(instance["longest_first"]))
    assert found.bound.typical_min == float(str(instance["best"]))
