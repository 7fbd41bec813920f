"""A timetable that comes back edited by hand: read, and checked against every rule."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from seatwright.errors import InputError
from seatwright.pour.timetable import Placed, Task, Violation, check_timetable, retell
from seatwright.workflows.timetable import BenchDay

__all__ = ["check_edited"]


def check_edited(day: BenchDay, document: object) -> tuple[Violation, ...]:
    """Check a timetable that comes back as JSON, perhaps edited by hand, against the day's problem.

    Parameters
    ----------
    day : BenchDay
    document : object
        What ``seatwright timetable --json`` printed, or its ``result``.

    Raises
    ------
    InputError
        It has no list of tasks with `id`, `who`, `equipment`, `start` and `end`.
    """
    result = document.get("result", document) if isinstance(document, dict) else None
    tasks = result.get("tasks") if isinstance(result, dict) else None
    if not isinstance(tasks, list):
        raise InputError("there is no list of tasks", hint="give what `timetable --json` printed")
    known = {task.id: task for task in day.problem.tasks}
    rows = tuple(_read_row(entry, index, known) for index, entry in enumerate(tasks))
    return check_timetable(day.problem, retell(day.problem, replace(day.timetable, tasks=rows)))


def _read_row(entry: object, index: int, known: Mapping[str, Task]) -> Placed:
    where = f"tasks[{index}]"
    try:
        fields: dict[str, Any] = dict(entry)  # type: ignore[call-overload]
        start, end = (datetime.fromisoformat(str(fields[name])) for name in ("start", "end"))
        name, who, equipment = str(fields["id"]), str(fields["who"]), tuple(str(e) for e in fields["equipment"])
    except (TypeError, ValueError, KeyError) as error:
        raise InputError(
            f"{where} is not a task: {error}", hint="each needs id, who, equipment, start and end (ISO 8601)"
        ) from error
    if start.tzinfo is None or end.tzinfo is None:
        raise InputError(f"{where}: a time without its zone", hint="write it with its offset, such as Z")
    task = known.get(name)
    return Placed(
        id=name,
        case=task.case if task else "",
        impression=task.impression if task else "",
        what=task.what if task else name,
        who=who,
        equipment=equipment,
        start=start,
        end=end,
    )
