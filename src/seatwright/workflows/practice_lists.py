"""Whether the record's lists say what its cases say, and the lists made anew from the cases.

What stands in the lists (stage, open impressions, lots) follows from plan and log. It is written with every change,
but a new version may read a log otherwise than the one that wrote it: then the lists are made anew.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from seatwright.case import CaseStanding, stand_case
from seatwright.errors import ConflictError
from seatwright.progress import SILENT, Progress
from seatwright.workflows.ports import CaseSource, Clock
from seatwright.workflows.practice_log import load_whole
from seatwright.workflows.record_lists import PageWish, RecordLists
from seatwright.workflows.record_ports import PracticeRecord, StoredCase

__all__ = ["ListedCase", "check_lists", "renew_lists"]

_PAGE = 200


class _Record(PracticeRecord, RecordLists, Protocol):
    """A record that keeps and lists."""


@dataclass(frozen=True, slots=True)
class ListedCase:
    """A case whose place in the lists is not what its plan and log say."""

    code: str
    listed: CaseStanding
    true: CaseStanding


def check_lists(
    record: _Record, open_source: Callable[[str], CaseSource], *, clock: Clock, progress: Progress = SILENT
) -> tuple[ListedCase, ...]:
    """Read every case anew and return those that the lists show wrongly.

    Raises
    ------
    CaseError
        A case can no longer be read; it is named.
    """
    wrong = []
    for case in _all_cases(record, progress):
        true = _true_standing(open_source(case.code), clock)
        listed = record.standing_of(case.code)
        if listed != true and record.find(case.code) == case:  # else it was changed meanwhile, lists and all
            wrong.append(ListedCase(case.code, listed, true))
    return tuple(wrong)


def renew_lists(
    record: _Record, open_source: Callable[[str], CaseSource], *, clock: Clock, progress: Progress = SILENT
) -> tuple[str, ...]:
    """Make the lists anew from every case; return the codes of those that were shown wrongly."""
    wrong = check_lists(record, open_source, clock=clock, progress=progress)
    renewed = []
    for listed in wrong:
        stored = record.find(listed.code)
        if stored is None:
            continue
        try:
            record.renew_standing(stored, _true_standing(open_source(listed.code), clock))
        except ConflictError:
            continue  # somebody has just changed the case, which renews it
        renewed.append(listed.code)
    return tuple(renewed)


def _true_standing(source: CaseSource, clock: Clock) -> CaseStanding:
    bundle = load_whole(source, clock=clock)
    return stand_case(bundle.case, bundle.state, bundle.events)


def _all_cases(record: RecordLists, progress: Progress) -> Iterator[StoredCase]:
    wish, n_done = PageWish(_PAGE), 0
    while True:
        page = record.list_cases(wish)
        for case in page.rows:
            yield case
            n_done += 1
            progress.report(n_done / (n_done + _PAGE), f"reading {case.code} anew")
        if not page.next:
            return
        wish = PageWish(_PAGE, page.next)
