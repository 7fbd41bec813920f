"""What an impression has been through, and which band that puts it in, minute by minute.

Owns the history of one impression and its judgement against the window table. Knows no people and no powder.

Rules
-----
1. *Age*: at the end of every spell, the minutes since the mouth are held against the row of that spell's storage.
   Open air is never better than a bag, so bare hydrocolloid is held against the bag's row as well.
2. *Added minutes*: open air (dry counted in), fluid, and damp (polyether) are added up over all spells.
3. *Temperature*: what it saw counts from then on.
The worst of them decides. Nothing gets better with time.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from seatwright.case import ImpressionMaterial, ImpressionState, Storage
from seatwright.errors import ValueOutOfRange
from seatwright.evidence import source_of
from seatwright.findings import Source, SourceKind
from seatwright.pour._heat import temperature_band
from seatwright.pour._maker import apply_maker
from seatwright.pour._result import Band, CostBasis
from seatwright.pour._rows import Counts, Ladder, Rung, find_ladders

__all__ = [
    "DAMP",
    "FLUID",
    "Exposure",
    "History",
    "Judged",
    "Stretch",
    "find_stretches",
    "judge_at",
    "minutes_between",
    "read_history",
    "require_zone",
]

_BARE = (Storage.OPEN_AIR, Storage.DRY)
FLUID = (Storage.IMMERSED,)
DAMP = (Storage.DAMP_WRAP, Storage.HUMID_BOX, Storage.IMMERSED)
_ORDER = list(Band)


@dataclass(frozen=True, slots=True)
class Exposure:
    """One spell of storage in minutes since the mouth; `until_min` is infinite for the last one."""

    storage: Storage
    since_min: float
    until_min: float


@dataclass(frozen=True, slots=True)
class History:
    """What one impression has been through, in minutes since it left the mouth, and the maker's own window."""

    material: ImpressionMaterial
    exposures: tuple[Exposure, ...]
    temperatures: tuple[tuple[float, float], ...] = ()
    """(minute, °C)."""
    immersion: tuple[float, float] | None = None
    """(minute at which it ended, contact minutes) of a disinfection by immersion."""
    maker_within_min: float | None = None
    maker_change_percent: float | None = None

    def minutes_in(self, storages: Sequence[Storage], until_min: float) -> float:
        """Return the minutes spent in these storages up to a minute."""
        return sum(max(min(e.until_min, until_min) - e.since_min, 0.0) for e in self.exposures if e.storage in storages)

    def minutes_wet(self, storages: Sequence[Storage], until_min: float) -> float:
        """Return the minutes in these wet storages, a told immersion counted in where no such spell holds it."""
        return self.minutes_in(storages, until_min) + self.told_min(storages, until_min)

    def told_min(self, storages: Sequence[Storage], until_min: float) -> float:
        """Return the minutes of a told immersion, once it ended, that lie outside the spells of these storages."""
        if self.immersion is None or self.immersion[0] > until_min:
            return 0.0
        end, contact = self.immersion
        held = (
            min(e.until_min, end) - max(e.since_min, end - contact) for e in self.exposures if e.storage in storages
        )
        return max(contact - sum(max(h, 0.0) for h in held), 0.0)

    def storage_at(self, minute: float) -> Storage:
        """Return the storage at a minute."""
        for exposure in self.exposures:
            if minute < exposure.until_min:
                return exposure.storage
        return self.exposures[-1].storage


@dataclass(frozen=True, slots=True)
class Judged:
    """The rung that decides, the row it belongs to, and the minutes that row counted."""

    rung: Rung
    rule: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time, in minutes since the mouth, over which one judgement holds."""

    since_min: float
    until_min: float | None
    judged: Judged


def minutes_between(earlier: datetime, later: datetime) -> float:
    """Return the minutes from one moment to another, counted in UTC so that a clock change does not matter.

    Raises
    ------
    ValueOutOfRange
        If a moment carries no time zone.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> zone = ZoneInfo("Europe/Berlin")
    >>> minutes_between(datetime(2026, 3, 29, 1, 55, tzinfo=zone), datetime(2026, 3, 29, 3, 5, tzinfo=zone))
    10.0
    """
    require_zone(earlier)
    require_zone(later)
    return (later.astimezone(UTC) - earlier.astimezone(UTC)).total_seconds() / 60


def require_zone(moment: datetime) -> None:
    """Refuse a moment without a time zone with `ValueOutOfRange`: it would be read as this computer's own."""
    if moment.tzinfo is None:
        raise ValueOutOfRange(f"{moment} carries no time zone", hint="write times with their offset from UTC")


def planned_storage(material: ImpressionMaterial) -> Storage:
    """Return how an impression is meant to be kept: hydrocolloid in a closed bag, elastomer dry."""
    return Storage.SEALED_BAG if material.is_hydrocolloid else Storage.DRY


def read_history(
    material: ImpressionMaterial,
    state: ImpressionState | None,
    now: datetime,
    *,
    maker_within_min: float | None = None,
    maker_change_percent: float | None = None,
) -> History:
    """Return the history of an impression up to `now`; its last storage goes on, events after `now` are left out.

    An impression still to be taken is read as kept the way it should be from the first minute.
    """
    if state is None or state.out_at is None or minutes_between(state.out_at, now) < 0:
        kept = Exposure(planned_storage(material), 0.0, math.inf)
        return History(material, (kept,), (), None, maker_within_min, maker_change_percent)
    out = state.out_at
    seen = [s for s in state.spells if minutes_between(s.since, now) >= 0]
    starts = [max(minutes_between(out, s.since), 0.0) for s in seen]
    ends = [*starts[1:], math.inf]
    exposures = [Exposure(s.storage, start, end) for s, start, end in zip(seen, starts, ends, strict=False)]
    if not exposures or exposures[0].since_min > 0:
        exposures.insert(0, Exposure(Storage.OPEN_AIR, 0.0, exposures[0].since_min if exposures else math.inf))
    temperatures = tuple(
        (minutes_between(out, at), value) for at, value in state.temperatures_c if minutes_between(at, now) >= 0
    )
    immersion = None
    at = state.disinfected_at
    if state.disinfection_method == "immersion" and at is not None and minutes_between(at, now) >= 0:
        immersion = (minutes_between(out, at), state.disinfection_contact_min)
    return History(material, tuple(exposures), temperatures, immersion, maker_within_min, maker_change_percent)


def judge_at(history: History, minute: float) -> Judged:
    """Return what decides at a minute since the mouth: the worst of age, added minutes and temperature."""
    by_age = _judge_age(history, minute)
    others = [j for j in (*_judge_added(history, minute), *_judge_heat(history, minute)) if not _is_within(j)]
    return max([*others, by_age], key=_badness)


def find_stretches(history: History) -> tuple[Stretch, ...]:
    """Return the whole course of the judgement, from the mouth on, as steps; the last one has no end."""
    marks = sorted({0.0, *(m for m in _marks(history) if 0 < m < math.inf)})
    stretches: list[Stretch] = []
    for since, until in zip(marks, [*marks[1:], None], strict=True):
        judged = judge_at(history, since + 1.0 if until is None else (since + until) / 2)
        last = stretches[-1] if stretches else None
        if last and (last.judged.rung, last.judged.rule) == (judged.rung, judged.rule):
            stretches[-1] = Stretch(last.since_min, until, judged)
        else:
            stretches.append(Stretch(since, until, judged))
    return tuple(stretches)


def _is_within(judged: Judged) -> bool:
    return judged.rung.band is Band.WITHIN


def _badness(judged: Judged) -> tuple[int, float]:
    """Order by band, then a missing number before any number, then the size of the cost; the first of equals stays."""
    rung = judged.rung
    if rung.bias_percent is None or rung.u_percent is None:
        return _ORDER.index(rung.band), math.inf
    return _ORDER.index(rung.band), abs(rung.bias_percent) + 2 * rung.u_percent


def _age_ladder(history: History, storage: Storage) -> Ladder:
    ladders = find_ladders(history.material, Counts.AGE)
    asked = Storage.SEALED_BAG if storage in (*_BARE, Storage.IMMERSED) else storage
    found = next(ladder for ladder in ladders if asked in ladder.storages)
    within = history.maker_within_min
    if within is None and history.maker_change_percent is None:
        return found
    return apply_maker(found, found.within_min if within is None else within, history.maker_change_percent)


def _judge_age(history: History, minute: float) -> Judged:
    judged = []
    for exposure in history.exposures:
        if exposure.since_min > minute or (exposure.since_min == minute and minute > 0):
            continue
        age = min(exposure.until_min, minute)
        ladder = _age_ladder(history, exposure.storage)
        judged.append(Judged(ladder.rung_at(age), ladder.id, age))
    return max(judged, key=_badness)


def _counted(history: History, counts: Counts, minute: float) -> float:
    if counts is Counts.OPEN:
        return history.minutes_in(_BARE, minute)
    return history.minutes_wet(DAMP if counts is Counts.DAMP else FLUID, minute)


def _judge_added(history: History, minute: float) -> list[Judged]:
    judged = []
    for counts in (Counts.OPEN, Counts.IMMERSED, Counts.DAMP):
        for ladder in find_ladders(history.material, counts):
            minutes = _counted(history, counts, minute)
            judged.append(Judged(ladder.rung_at(minutes), ladder.id, minutes))
    return judged


def _judge_heat(history: History, minute: float) -> list[Judged]:
    judged = []
    for at, temperature in history.temperatures:
        if at > minute:
            continue
        band, identifier, rule = temperature_band(history.material, temperature)
        words = f"It saw {temperature:g} °C. No number is supported for that."
        rung = Rung(band, None, None, None, CostBasis.NOTHING, source_of(identifier), words)
        judged.append(Judged(rung, rule, at))
    return judged


def _marks(history: History) -> list[float]:
    """Return every minute at which the judgement may change."""
    marks = [e.since_min for e in history.exposures] + [at for at, _ in history.temperatures]
    if history.immersion:
        marks.append(history.immersion[0])
    for storage in {e.storage for e in history.exposures}:
        marks.extend(r.until_min for r in _age_ladder(history, storage).rungs if r.until_min is not None)
    for counts, storages in ((Counts.OPEN, _BARE), (Counts.IMMERSED, FLUID), (Counts.DAMP, DAMP)):
        told = 0.0 if counts is Counts.OPEN else history.told_min(storages, math.inf)
        for ladder in find_ladders(history.material, counts):
            limits = [r.until_min for r in ladder.rungs if r.until_min is not None]
            marks.extend(_reached(history, storages, limit - less) for limit in limits for less in (0.0, told))
    return marks


def _reached(history: History, storages: Sequence[Storage], limit_min: float) -> float:
    """Return the minute at which the added minutes reach a limit; infinity when never."""
    added = 0.0
    for exposure in history.exposures:
        if exposure.storage not in storages:
            continue
        length = exposure.until_min - exposure.since_min
        if added + length > limit_min:
            return exposure.since_min + limit_min - added
        added += length
    return math.inf


def maker_source() -> Source:
    """Return the source named when the maker's figures rule."""
    return Source(SourceKind.MAKER, "figures of the impression or the bench stock")
