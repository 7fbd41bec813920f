"""From what happened to where a case stands: one pass over a checked log. Pure; time is passed in."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import singledispatch

from seatwright.case._check_log import check_log
from seatwright.case._document import Case
from seatwright.case._effective import effective_events
from seatwright.case._events import (
    CrownsCounted,
    CrownsDried,
    DieTried,
    Disinfected,
    Event,
    ImpressionOut,
    Poured,
    Rinsed,
    Separated,
    StepFinished,
    StepStarted,
    StorageChanged,
    Temperature,
)
from seatwright.case._state import CaseState, DieTrial, ImpressionState, StorageSpell
from seatwright.case._terms import Storage
from seatwright.errors import CaseError

__all__ = ["fold_events", "storage_spells"]


def fold_events(events: Sequence[Event], case: Case, *, now: datetime) -> CaseState:
    """Return where every impression and die trial stands after the last event.

    Parameters
    ----------
    events : sequence of Event
        In the order logged.
    case : Case
        The plan that the events belong to.
    now : datetime
        Timezone-aware; no event may be later.

    Returns
    -------
    CaseState
        With one entry for each planned impression, also those to which nothing has happened yet.

    Raises
    ------
    CaseError
        With every fault that `check_log` finds.

    Notes
    -----
    A step logged without an impression counts for the pick-up that lifts its units.
    """
    faults = check_log(events, case, now=now)
    if faults:
        raise CaseError(
            f"the log does not add up: {len(faults)} fault{'s' if len(faults) > 1 else ''}",
            hint="mend the log from its first fault on",
            faults=faults,
        )
    n_logged, last_at = len(events), events[-1].at if events else None
    events = effective_events(events)
    states = {i.id: ImpressionState(id=i.id) for i in case.impression}
    trials: list[DieTrial] = []
    for event in events:
        if isinstance(event, DieTried):
            trials.append(DieTrial(event.die, event.tooth, event.seating, event.gap_um, event.short_by_mm, event.at))
        elif isinstance(event, StepStarted | StepFinished):
            for name, pairs in _pairs_of_step(event, case).items():
                states[name] = _apply_step(states[name], pairs, is_done=isinstance(event, StepFinished))
        elif (touched := getattr(event, "impression", None)) is not None:
            states[touched] = _apply(event, states[touched])
    for name, state in states.items():
        if state.out_at is not None:
            own = [e for e in events if getattr(e, "impression", None) == name]
            states[name] = replace(state, spells=storage_spells(own, out_at=state.out_at))
    return CaseState(states, tuple(trials), last_at, n_logged)


def storage_spells(events: Sequence[Event], *, out_at: datetime) -> tuple[StorageSpell, ...]:
    """Return how one impression was kept, contiguous from `out_at`; the last spell is open.

    Parameters
    ----------
    events : sequence of Event
        Those of this impression, by time.
    out_at : datetime
        When it left the mouth; open air from then on, until told otherwise.

    Notes
    -----
    Disinfection overrides what was told for the time of contact: in a sealed bag when bagged, else immersed when the
    method is immersion. A spray without a bag changes nothing. Afterwards what was told last holds again.
    """
    told = [(out_at, Storage.OPEN_AIR)]
    told += [(e.at, e.storage) for e in events if isinstance(e, StorageChanged)]
    contacts = [
        (e.at - timedelta(minutes=e.contact_min), e.at, Storage.SEALED_BAG if e.bagged else Storage.IMMERSED)
        for e in events
        if isinstance(e, Disinfected) and (e.bagged or e.method == "immersion")
    ]
    moments = sorted({at for at, _ in told} | {at for start, end, _ in contacts for at in (start, end)})
    spells: list[StorageSpell] = []
    times_told = [at for at, _ in told]
    for since in moments:
        storage = told[bisect_right(times_told, since) - 1][1]
        for start, end, kept in contacts:
            storage = kept if start <= since < end else storage
        if spells and spells[-1].storage is storage:
            continue
        if spells:
            spells[-1] = replace(spells[-1], until=since)
        spells.append(StorageSpell(storage, since))
    return tuple(spells)


def _pairs_of_step(event: StepStarted | StepFinished, case: Case) -> dict[str, frozenset[tuple[str, int]]]:
    """Return (step, tooth) pairs by impression."""
    if event.impression is not None:
        return {event.impression: frozenset((event.step, tooth) for tooth in event.units or (0,))}
    pairs: dict[str, frozenset[tuple[str, int]]] = {}
    for tooth in event.units:
        pick_up = case.pick_up_of(tooth)
        if pick_up is not None:
            pairs[pick_up.id] = pairs.get(pick_up.id, frozenset()) | {(event.step, tooth)}
    return pairs


def _apply_step(state: ImpressionState, pairs: frozenset[tuple[str, int]], *, is_done: bool) -> ImpressionState:
    if is_done:
        return replace(state, steps_running=state.steps_running - pairs, steps_done=state.steps_done | pairs)
    return replace(state, steps_running=state.steps_running | pairs)


@singledispatch
def _apply(event: object, state: ImpressionState) -> ImpressionState:
    del event  # no other event changes an impression; storage is folded apart
    return state


@_apply.register
def _(event: ImpressionOut, state: ImpressionState) -> ImpressionState:
    return replace(state, out_at=event.at)


@_apply.register
def _(event: Rinsed, state: ImpressionState) -> ImpressionState:
    del event
    return replace(state, rinsed=True)


@_apply.register
def _(event: Disinfected, state: ImpressionState) -> ImpressionState:
    return replace(
        state,
        disinfected_at=event.at,
        disinfection_method=event.method,
        disinfection_contact_min=event.contact_min,
    )


@_apply.register
def _(event: Temperature, state: ImpressionState) -> ImpressionState:
    return replace(state, temperatures_c=(*state.temperatures_c, (event.at, event.temperature_c)))


@_apply.register
def _(event: CrownsCounted, state: ImpressionState) -> ImpressionState:
    return replace(
        state,
        counted=True,
        seated=frozenset(event.seated),
        in_tray=frozenset(event.in_tray),
        loose=frozenset(event.loose),
        left_on_tooth=frozenset(event.left_on_tooth),
        cores_in_crown=frozenset(event.cores_in_crown),
    )


@_apply.register
def _(event: CrownsDried, state: ImpressionState) -> ImpressionState:
    return replace(state, dried=state.dried | frozenset(event.units))


@_apply.register
def _(event: Poured, state: ImpressionState) -> ImpressionState:
    if state.poured_at is not None and state.separated_at is None:  # the base: the first pour's age is not touched
        return replace(state, steps_done=state.steps_done | {("pour-base", 0)})
    return replace(state, poured_at=event.at, poured_stone=event.stone, n_pours=state.n_pours + 1, separated_at=None)


@_apply.register
def _(event: Separated, state: ImpressionState) -> ImpressionState:
    return replace(state, separated_at=event.at)
