"""Long work in processes of its own: progress, cancel, and a clear word when one of them dies.

Knows nothing of the work: a task is a function named by its place, run with one value and a `Progress`.
"""

from seatwright.jobs._job import JobState, JobView
from seatwright.jobs._pool import WorkerPool

__all__ = ["JobState", "JobView", "WorkerPool"]
