"""One impression before its work is counted: phase, age, history, stretches, spans."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

from seatwright.case import Bench, Case, Impression, ImpressionState
from seatwright.pour._naming import name_impression
from seatwright.pour._result import Band, ImpressionPhase
from seatwright.pour._spans import Places, Span, find_spans
from seatwright.pour._windows import History, Stretch, find_stretches, minutes_between, read_history

__all__ = ["Draft", "make_draft"]


@dataclass(frozen=True, slots=True)
class Draft:
    """What is known of one impression before its work is counted."""

    impression: Impression
    name: str
    """As people say it."""
    state: ImpressionState | None
    """None until it is out of the mouth."""
    phase: ImpressionPhase
    now: datetime
    minute: float
    """Minutes since the mouth: now, or when it was poured; 0 while planned."""
    history: History
    stretches: tuple[Stretch, ...]
    spans: tuple[Span, ...]

    @property
    def out_at(self) -> datetime | None:
        """Return when it left the mouth, UTC."""
        return self.state.out_at.astimezone(UTC) if self.state is not None and self.state.out_at is not None else None

    @property
    def window_min(self) -> float:
        """Return the end of the band `within`, minutes since the mouth; 0 when it never was."""
        first = self.stretches[0]
        if first.judged.rung.band is not Band.WITHIN:
            return 0.0
        ends = [s.until_min for s in self.stretches if s.judged.rung.band is Band.WITHIN]
        return ends[-1] or 0.0


def make_draft(
    case: Case,
    impression: Impression,
    logged: ImpressionState | None,
    bench: Bench,
    *,
    now: datetime,
    places: Places | None,
) -> Draft:
    """Return what is known of one impression at `now`, from its log and the maker's figures."""
    state = _as_of(logged, now)
    stock = [s for s in bench.impression_material if s.material is impression.material]
    maker = impression.maker.pour_within_min or (stock[0].pour_within_min if stock else None)
    end = state.poured_at if state is not None and state.poured_at is not None else now
    history = read_history(
        impression.material,
        state,
        end,
        maker_within_min=maker,
        maker_change_percent=impression.maker.linear_change_percent,
    )
    return Draft(
        impression,
        name_impression(case, impression),
        state,
        _phase(state),
        now.astimezone(UTC),
        minutes_between(state.out_at, end) if state is not None and state.out_at is not None else 0.0,
        history,
        find_stretches(history),
        find_spans(case, impression, places),
    )


def _as_of(state: ImpressionState | None, now: datetime) -> ImpressionState | None:
    """Return the state with what came after `now` taken out; None while it is not out of the mouth."""

    def seen(moment: datetime | None) -> datetime | None:
        return moment if moment is not None and minutes_between(moment, now) >= 0 else None

    if state is None or seen(state.out_at) is None:
        return None
    return replace(
        state,
        disinfected_at=seen(state.disinfected_at),
        poured_at=seen(state.poured_at),
        separated_at=seen(state.separated_at),
    )


def _phase(state: ImpressionState | None) -> ImpressionPhase:
    if state is None:
        return ImpressionPhase.PLANNED
    if state.poured_at is None:
        return ImpressionPhase.WAITING
    return ImpressionPhase.POURED if state.separated_at is None else ImpressionPhase.SEPARATED
