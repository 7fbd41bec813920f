"""The bench changed: people, equipment and breaks, for every case that stands at it, each as a new version."""

from collections.abc import Sequence
from dataclasses import dataclass

from seatwright.errors import ConflictError
from seatwright.workflows.ports import CaseBundle, Clock
from seatwright.workflows.record_ports import Change, PracticeRecord, Revision

__all__ = ["BenchCase", "keep_bench"]


@dataclass(frozen=True, slots=True)
class BenchCase:
    """A case as it was read, with the bytes of its plan, which stay as they are."""

    bundle: CaseBundle
    case_toml: bytes
    version: int


def keep_bench(
    record: PracticeRecord, cases: Sequence[BenchCase], bench_toml: bytes, *, by: str, clock: Clock
) -> tuple[str, ...]:
    """Give cases another bench, each in a new version; return their codes. The versions before stay in the record.

    Parameters
    ----------
    cases : sequence of BenchCase
        All that are at the bench together: a day is planned at one bench alone.
    bench_toml : bytes
        Checked already.

    Raises
    ------
    ConflictError
        Somebody else changed a case meanwhile; those named as done have the new bench, doing it again gives it to all.
    """
    done: list[str] = []
    for case in cases:
        change = Change(
            case=case.bundle.case,
            standing=None,
            by=by,
            after_version=case.version,
            after_events=len(case.bundle.events),
            revision=Revision(case.case_toml, bench_toml, "the bench: people, equipment, breaks"),
        )
        try:
            record.commit(change, now=clock.now())
        except ConflictError as error:
            told = f"case {change.case.code} was changed by somebody else meanwhile"
            after = f" (done: {', '.join(done)})" if done else ""
            raise ConflictError(f"{told}{after}", hint="look at the bench as it is now, then keep it again") from error
        done.append(change.case.code)
    return tuple(done)
