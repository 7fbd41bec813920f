"""The timetable before, put off: everybody's and everything's order kept, no start before its old one.

Owns the smallest change there is when a day slips by seconds or a few minutes. None where the order cannot be kept.
"""

from collections.abc import Mapping

from seatwright.pour.timetable._assemble import sequence_arcs
from seatwright.pour.timetable._goals import Assignment, length_s
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._network import lag_arcs, least_starts
from seatwright.pour.timetable._problem import Problem

__all__ = ["shift_places"]

_ROUNDS = 20  # judgement: each round puts off what a break would cut; more breaks than this no day has


def shift_places(problem: Problem, keep: Mapping[str, Keep]) -> dict[str, Keep] | None:
    """Return every task's place in the old order, or None when a rule forbids that order.

    Parameters
    ----------
    problem : Problem
        With its pins.
    keep : mapping of str to Keep
        The places before.
    """
    pins = {task.id: task.pin for task in problem.tasks if task.pin}
    if any(task.id not in keep and task.id not in pins for task in problem.tasks):
        return None
    places = {name: Keep(pin.start_s, pin.who, pin.equipment) for name, pin in pins.items()}
    places |= {task.id: keep[task.id] for task in problem.tasks if task.id not in pins}
    starts = {name: place.start_s for name, place in places.items()}
    who = {name: place.who for name, place in places.items()}
    things = {name: place.equipment for name, place in places.items()}
    lengths = {task.id: length_s(task) for task in problem.tasks}
    arcs = sequence_arcs(problem, Assignment(starts, who, things))
    arcs += [arc for lag in problem.open_lags() for arc in lag_arcs(lag, lengths)]
    lower = {
        task.id: starts[task.id] if task.pin else max(task.not_before_s, starts[task.id]) for task in problem.tasks
    }
    breaks = {worker.id: worker.breaks_s for worker in problem.workers}
    for _ in range(_ROUNDS):
        moved, knot = least_starts(list(lengths), arcs, lower)
        if knot or any(moved[name] != pin.start_s for name, pin in pins.items()):
            return None
        put_off = {
            task.id: until
            for task in problem.tasks
            if task.pin is None
            for since, until in breaks.get(who[task.id], ())
            if moved[task.id] < until and moved[task.id] + lengths[task.id] > since
        }
        if not put_off:
            return {name: Keep(moved[name], who[name], things[name]) for name in places}
        lower |= put_off
    return None
