"""A plan entered step by step: every gesture is saved as a draft, undone one by one, and kept once it is complete.

A draft may have gaps; only a sound plan becomes a version of the case. Two people may enter the same plan: each gesture
says which revision it was made on; one made on an older revision is refused, to be shown and done again.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Protocol

from seatwright.case import Arch, Case, fold_events, parse_case, stand_case
from seatwright.case.entry import Gesture, apply_gesture, start_document
from seatwright.errors import CaseError, ConflictError, UnknownCase
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock
from seatwright.workflows.practice_log import load_whole
from seatwright.workflows.record_ports import Change, KeptFile, PracticeRecord, Receipt, Revision

__all__ = [
    "Desk",
    "Draft",
    "DraftStore",
    "Step",
    "begin_case",
    "describe_gesture",
    "enter",
    "keep_plan",
    "open_draft",
    "undo",
]

_STEPS_KEPT = 60  # judgement: a plan takes some thirty gestures


@dataclass(frozen=True, slots=True)
class Step:
    """What was done, and the plan before it."""

    said: str
    before: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Draft:
    """A plan that is being entered.

    Attributes
    ----------
    code : str
    revision : int
        Counts every change of this draft; 0: nothing was changed yet.
    base_version : int
        Version of the case that it was begun from; 0 for a new case.
    document : mapping
        Plain data, as in ``case.toml``.
    steps : tuple of Step
        What can be undone, oldest first.
    last : int
        Tooth of the unit entered last; 0: none.
    by : str
    changed_at : datetime
    files : tuple of KeptFile
        Scans that were brought while it was entered: on the disk, and the case's once it is kept.
    """

    code: str
    revision: int
    base_version: int
    document: Mapping[str, Any]
    steps: tuple[Step, ...]
    last: int
    by: str
    changed_at: datetime
    files: tuple[KeptFile, ...] = ()


class DraftStore(Protocol):
    """Keeps one draft for each case, on the disk when a save returns."""

    def load_draft(self, code: str) -> Draft | None:
        """Return the draft of a case; None when there is none."""
        ...

    def save_draft(self, draft: Draft) -> None:
        """Put a draft in the place of the one with the revision before.

        Raises
        ------
        ConflictError
            Somebody else changed it meanwhile.
        """
        ...

    def drop_draft(self, code: str, *, revision: int) -> None:
        """Remove a draft that has this revision."""
        ...

    def drafted_codes(self) -> tuple[str, ...]:
        """Return the cases that have a draft."""
        ...


@dataclass(frozen=True, slots=True)
class Desk:
    """Where plans are entered, and by whom.

    Attributes
    ----------
    record : PracticeRecord
    drafts : DraftStore
    by : str
        By role or bench code; never a name.
    clock : Clock
    """

    record: PracticeRecord
    drafts: DraftStore
    by: str
    clock: Clock


def begin_case(desk: Desk, code: str, arch: Arch) -> Draft:
    """Begin the plan of a new case: all sixteen teeth standing.

    Raises
    ------
    ConflictError
        The record has a case of this code, or a draft of one.
    CaseError
        The code is none.
    """
    if desk.record.find(code) is not None or desk.drafts.load_draft(code) is not None:
        raise ConflictError(f"there is a case {code} already", hint="open it, or choose another code")
    document = start_document(code, arch)
    faults = [fault for fault in parse_case(document)[1] if fault.where.endswith("code")]
    if faults:
        raise CaseError(f"{code[:40]!r} is no case code", hint="letters, digits, - and _; never a name", faults=faults)
    draft = Draft(code, 1, 0, document, (), 0, desk.by, desk.clock.now())
    desk.drafts.save_draft(draft)
    return draft


def open_draft(desk: Desk, source: CaseSource, code: str) -> Draft:
    """Return the draft of a case, or one begun from its present version.

    Raises
    ------
    CaseError
        There is neither.
    """
    draft = desk.drafts.load_draft(code)
    if draft is not None:
        return draft
    stored = desk.record.find(code)
    if stored is None:
        raise UnknownCase(f"the record has no case {code[:40]!r}", hint="look for it in the list of cases")
    case = load_whole(source, clock=desk.clock).case
    document = case.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return Draft(code, 0, stored.version, document, (), 0, "", stored.changed_at)


def enter(
    desk: Desk, draft: Draft, gestures: Sequence[Gesture], *, revision: int, files: Sequence[KeptFile] = ()
) -> Draft:
    """Do some gestures as one step, and save; all of them or none. `files` are scans that they name.

    Raises
    ------
    ConflictError
        The draft was changed since `revision`.
    CaseError
        A gesture cannot be done on this plan.
    """
    _require_revision(draft, revision)
    document: Mapping[str, Any] = draft.document
    last = draft.last
    for gesture in gestures:
        document = apply_gesture(document, gesture)
        last = _last_unit(document, gesture, last)
    said = "; ".join(describe_gesture(gesture) for gesture in gestures)
    steps = (*draft.steps, Step(said, draft.document))[-_STEPS_KEPT:]
    return _save(desk, replace(draft, files=(*draft.files, *files)), document, steps=steps, last=last)


def undo(desk: Desk, draft: Draft, *, revision: int) -> Draft:
    """Take back the latest step, and save.

    Raises
    ------
    ConflictError
        The draft was changed since `revision`, or nothing is left to undo.
    """
    _require_revision(draft, revision)
    if not draft.steps:
        raise ConflictError("nothing is left to undo", hint="the plan is as it was when this draft was begun")
    document = draft.steps[-1].before
    return _save(desk, draft, document, steps=draft.steps[:-1], last=draft.last)


def keep_plan(
    desk: Desk,
    draft: Draft,
    bundle: CaseBundle | None,
    *,
    bench_toml: bytes,
    encode: Callable[[Case], bytes],
    revision: int,
) -> Receipt:
    """Make a sound draft the next version of its case, and drop the draft.

    Parameters
    ----------
    bundle : CaseBundle or None
        The case as the record has it; None for a new one.
    bench_toml : bytes
        The bench that goes with it.
    encode : callable
        Turns the plan into the bytes that the record keeps.

    Raises
    ------
    CaseError
        The plan has gaps.
    ConflictError
        The draft was changed since `revision`, or the case since the draft was begun.
    """
    _require_revision(draft, revision)
    case, faults = parse_case(dict(draft.document))
    if case is None or faults:
        raise CaseError("the plan has gaps", hint="fill them in, then keep it", faults=faults)
    events = bundle.events if bundle else ()
    now = desk.clock.now()
    state = fold_events(events, case, now=max([now, *(event.at for event in events)]))
    known = desk.record.file_hashes(draft.code) if bundle else {}
    named = {scan.file for scan in case.scan}
    arrived = {file.path: file for file in draft.files if file.path in named}
    change = Change(
        case=case,
        standing=stand_case(case, state, events),
        by=desk.by,
        after_version=draft.base_version,
        after_events=len(events),
        revision=Revision(encode(case), bench_toml, "; ".join(step.said for step in draft.steps)[:500]),
        files=[file for file in arrived.values() if known.get(file.path) != file.sha256],
    )
    receipt = desk.record.commit(change, now=now)
    desk.drafts.drop_draft(draft.code, revision=draft.revision)
    return receipt


def describe_gesture(gesture: Gesture) -> str:
    """Return a gesture in a few words, as the undo button says it."""
    said = gesture.model_dump(mode="json", exclude_none=True, exclude={"gesture"})
    teeth = " ".join(str(tooth) for tooth in said.pop("teeth", ()))
    what = gesture.gesture.replace("_", " ")
    item = said.pop("item", {})
    said["name"] = item.get("id", item.get("tooth"))
    values = [str(value).replace("_", " ") for value in said.values() if isinstance(value, str | int | float)]
    return " ".join(part for part in (teeth, what, *values) if part)[:120]


def _require_revision(draft: Draft, revision: int) -> None:
    if revision != draft.revision:
        raise ConflictError(
            f"the plan of {draft.code} was changed meanwhile, at {draft.changed_at:%H:%M} UTC by {draft.by}",
            hint="look at it as it is now, then do it again",
            details={"revision": draft.revision},
        )


def _save(desk: Desk, draft: Draft, document: Mapping[str, Any], *, steps: tuple[Step, ...], last: int) -> Draft:
    changed = replace(
        draft,
        revision=draft.revision + 1,
        document=document,
        steps=steps,
        last=last,
        by=desk.by,
        changed_at=desk.clock.now(),
    )
    desk.drafts.save_draft(changed)
    return changed


def _last_unit(document: Mapping[str, Any], gesture: Gesture, before: int) -> int:
    """Return the tooth whose unit the next ones may be made like."""
    units = {unit.get("tooth") for unit in document.get("unit", ())}
    touched = [tooth for tooth in getattr(gesture, "teeth", ()) if tooth in units]
    last = touched[-1] if touched else before
    return last if last in units else 0
