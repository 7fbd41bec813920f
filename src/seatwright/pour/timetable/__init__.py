"""Bench timetable: who does what when, how sure that is, and the next one when the day slips.

Knows step cards, people, equipment and windows as values. Knows no files, no screens and no material.
"""

from seatwright.pour.timetable._assemble import retell
from seatwright.pour.timetable._breaks import bench_zone
from seatwright.pour.timetable._build import build_problem, recall_problem
from seatwright.pour.timetable._check import Violation, check_timetable
from seatwright.pour.timetable._explain import explain_changes, explain_next
from seatwright.pour.timetable._history import Fact, merge_facts, read_facts
from seatwright.pour.timetable._impression_work import ImpressionWork
from seatwright.pour.timetable._lags import LAG_ROWS, LagRow
from seatwright.pour.timetable._learn import Pace, apply_paces, learn_paces
from seatwright.pour.timetable._plan import PlanOptions, make_timetable, replan
from seatwright.pour.timetable._problem import AgeBand, Edge, Lag, Machine, Pin, Problem, Task, Window, Worker
from seatwright.pour.timetable._remedies import find_remedies, with_more_hands
from seatwright.pour.timetable._simulate import replay_runs, simulate_misses
from seatwright.pour.timetable._timetable import Goal, Late, Miss, Overstep, Placed, Remedy, Timetable, Wait
from seatwright.pour.timetable._validate import require_sound
from seatwright.pour.timetable._verdict import verdict_of
from seatwright.pour.timetable._works import bring_work, keep_words

__all__ = [
    "LAG_ROWS",
    "AgeBand",
    "Edge",
    "Fact",
    "Goal",
    "ImpressionWork",
    "Lag",
    "LagRow",
    "Late",
    "Machine",
    "Miss",
    "Overstep",
    "Pace",
    "Pin",
    "Placed",
    "PlanOptions",
    "Problem",
    "Remedy",
    "Task",
    "Timetable",
    "Violation",
    "Wait",
    "Window",
    "Worker",
    "apply_paces",
    "bench_zone",
    "bring_work",
    "build_problem",
    "check_timetable",
    "explain_changes",
    "explain_next",
    "find_remedies",
    "keep_words",
    "learn_paces",
    "make_timetable",
    "merge_facts",
    "read_facts",
    "recall_problem",
    "replan",
    "replay_runs",
    "require_sound",
    "retell",
    "simulate_misses",
    "verdict_of",
    "with_more_hands",
]
