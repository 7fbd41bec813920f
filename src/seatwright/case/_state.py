"""Where a case stands: the fold of its events. Pure; knows nothing of files."""

from dataclasses import dataclass, field
from datetime import datetime

from seatwright.case._terms import Seating, Stone, Storage

__all__ = ["CaseState", "DieTrial", "ImpressionState", "StorageSpell"]


@dataclass(frozen=True, slots=True)
class StorageSpell:
    """A stretch of time in one kind of storage; `until` is None while it lasts."""

    storage: Storage
    since: datetime
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class DieTrial:
    """What was seen when a returned die was tried."""

    die: str
    tooth: int
    seating: Seating
    gap_um: float
    short_by_mm: float
    at: datetime


@dataclass(frozen=True, slots=True)
class ImpressionState:
    """What has happened to one impression so far."""

    id: str
    out_at: datetime | None = None
    spells: tuple[StorageSpell, ...] = ()
    """Contiguous from `out_at`; open air until told otherwise. The last one is open, pour and separation or not."""
    rinsed: bool = False
    disinfected_at: datetime | None = None
    disinfection_method: str = ""
    disinfection_contact_min: float = 0.0
    temperatures_c: tuple[tuple[datetime, float], ...] = ()
    counted: bool = False
    seated: frozenset[int] = frozenset()
    in_tray: frozenset[int] = frozenset()
    loose: frozenset[int] = frozenset()
    left_on_tooth: frozenset[int] = frozenset()
    cores_in_crown: frozenset[int] = frozenset()
    dried: frozenset[int] = frozenset()
    steps_done: frozenset[tuple[str, int]] = frozenset()
    """(step, tooth) pairs; tooth 0 for a step on the whole impression."""
    steps_running: frozenset[tuple[str, int]] = frozenset()
    poured_at: datetime | None = None
    """The latest cast's first pour, its base not counted; `n_pours` tells whether it was the first cast."""
    n_pours: int = 0
    poured_stone: Stone | None = None
    separated_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class CaseState:
    """State of every impression and every die trial, as of the last event."""

    impressions: dict[str, ImpressionState] = field(default_factory=dict)
    die_trials: tuple[DieTrial, ...] = ()
    last_event_at: datetime | None = None
    n_events: int = 0
