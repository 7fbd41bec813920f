"""The solver is read without data frames, and leaves them as they are."""

import os
import subprocess
import sys
from pathlib import Path

SRC = Path(__file__).resolve().parents[3] / "src"
LOOK = """
import sys
from seatwright.pour.timetable._solver import cp_model
assert "pandas" not in sys.modules
model = cp_model.CpModel()
x, y = (model.new_int_var(0, 9, name) for name in "xy")
model.add(x + y == 11)
model.maximize(x)
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL
assert (solver.value(x), solver.value(y)) == (9, 2)
{then}
"""


def look(then: str) -> None:
    subprocess.run(
        [sys.executable, "-c", LOOK.format(then=then)], check=True, env={**os.environ, "PYTHONPATH": str(SRC)}
    )


def test_solver_solves_without_data_frames() -> None:
    look("")


def test_whoever_imports_data_frames_later_has_them() -> None:
    look("import pandas; assert list(pandas.DataFrame({'a': [1, 2]}).a) == [1, 2]")


def test_data_frames_that_were_there_before_stay() -> None:
    first = "import pandas, sys; from seatwright.pour.timetable._solver import cp_model; assert sys.modules['pandas'] is pandas"
    subprocess.run([sys.executable, "-c", first], check=True, env={**os.environ, "PYTHONPATH": str(SRC)})
