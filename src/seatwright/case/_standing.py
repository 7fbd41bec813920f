"""How far a case has come, in the few words that a list of cases shows. Pure: follows from plan, log and fold."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from seatwright.case._document import Case
from seatwright.case._effective import effective_events
from seatwright.case._events import Event, MaterialUsed, OutcomeSeen, Poured
from seatwright.case._impressions import Impression
from seatwright.case._outcome_terms import FINAL_OUTCOMES, MaterialRole
from seatwright.case._state import CaseState, ImpressionState

__all__ = ["CaseStage", "CaseStanding", "ImpressionPlace", "ImpressionStanding", "LotUse", "stand_case"]


class CaseStage(StrEnum):
    """Where a case is in the job, told by its log alone."""

    PLANNED = "planned"
    """Nothing has left the mouth yet."""
    AT_BENCH = "at_bench"
    """An impression has left the mouth, and no outcome ends the case."""
    FINISHED = "finished"


class ImpressionPlace(StrEnum):
    """Where an impression is in its own life."""

    PLANNED = "planned"
    WAITING = "waiting"
    """Out of the mouth, no stone in it: its clock runs."""
    IN_STONE = "in_stone"
    """Poured, not separated yet."""
    SEPARATED = "separated"
    REPLACED = "replaced"
    """A later impression took its place."""


@dataclass(frozen=True, slots=True)
class ImpressionStanding:
    """One impression in a list."""

    impression: str
    place: ImpressionPlace
    material: str
    storage: str
    """How it is kept; empty while it is in the mouth."""
    out_at: datetime | None
    poured_at: datetime | None
    separated_at: datetime | None


@dataclass(frozen=True, slots=True)
class LotUse:
    """A material with its batch or lot that went into the case."""

    seq: int
    """Number of the event that tells it."""
    at: datetime
    by: str
    material: str
    lot: str
    used_for: str
    impression: str
    units: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CaseStanding:
    """What lists of cases, impressions and lots show of one case; impressions by id, lots by number of event."""

    stage: CaseStage
    impressions: tuple[ImpressionStanding, ...]
    lots: tuple[LotUse, ...]


def stand_case(case: Case, state: CaseState, events: Sequence[Event]) -> CaseStanding:
    """Return how far a case has come.

    Parameters
    ----------
    case : Case
    state : CaseState
        The fold of `events`.
    events : sequence of Event
        The whole log.
    """
    current = {impression.id for impression in case.current_impressions()}
    impressions = tuple(
        _stand_impression(planned, state.impressions[planned.id], is_current=planned.id in current)
        for planned in sorted(case.impression, key=lambda impression: impression.id)
    )
    truly = effective_events(events)
    return CaseStanding(_stage(state, truly), impressions, tuple(sorted(_lots(truly), key=lambda use: use.seq)))


def _stand_impression(planned: Impression, state: ImpressionState, *, is_current: bool) -> ImpressionStanding:
    return ImpressionStanding(
        impression=planned.id,
        place=_place(state) if is_current else ImpressionPlace.REPLACED,
        material=planned.material.value,
        storage=state.spells[-1].storage.value if state.spells else "",
        out_at=state.out_at,
        poured_at=state.poured_at,
        separated_at=state.separated_at,
    )


def _place(state: ImpressionState) -> ImpressionPlace:
    if state.out_at is None:
        return ImpressionPlace.PLANNED
    if state.separated_at is not None:
        return ImpressionPlace.SEPARATED
    return ImpressionPlace.WAITING if state.poured_at is None else ImpressionPlace.IN_STONE


def _stage(state: CaseState, events: Sequence[Event]) -> CaseStage:
    out = [impression.out_at for impression in state.impressions.values() if impression.out_at is not None]
    ends = [e.at for e in events if isinstance(e, OutcomeSeen) and e.outcome in FINAL_OUTCOMES]
    if ends and (not out or max(ends) >= max(out)):
        return CaseStage.FINISHED
    return CaseStage.AT_BENCH if out else CaseStage.PLANNED


def _lots(events: Sequence[Event]) -> Iterator[LotUse]:
    for e in events:
        if isinstance(e, Poured) and e.lot:
            stone = f"{e.stone.value.replace('_', ' ')} stone"
            yield LotUse(e.seq, e.at, e.by, stone, e.lot, MaterialRole.POUR.value, e.impression, ())
        if isinstance(e, MaterialUsed):
            yield LotUse(e.seq, e.at, e.by, e.material, e.lot, e.used_for.value, e.impression or "", e.units)
