"""The bench today: every impression's clock, what each pair of hands does now and next, one touch to say it is done."""

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool

from seatwright.case import Storage
from seatwright.figures import BAND_WORDS
from seatwright.pour import Band, ImpressionPhase
from seatwright.pour.timetable import Placed
from seatwright.quantities import tell_signed
from seatwright.web._answers import render
from seatwright.web._asked import page_of, signed_in_of, tell
from seatwright.web._day import DayView
from seatwright.web._texts import catalogue
from seatwright.workflows.today import ClockRow, Slip, TaskRow

__all__ = ["bench_routes", "show_hands", "show_slip"]

bench_routes = APIRouter(default_response_class=HTMLResponse)

_TOO_LATE_MIN = 0.5  # what is shown as no minute is none
_SAY = catalogue()["keeps"]
_KEEPS_WET = {
    Storage.OPEN_AIR: _SAY["unwrapped"],
    Storage.DAMP_WRAP: _SAY["damp_wrap"],
    Storage.HUMID_BOX: _SAY["humid_box"],
}
_KEEPS_DRY = {Storage.OPEN_AIR: _SAY["in_hand"], Storage.DRY: _SAY["laid_aside_dry"]}


@bench_routes.get("/")
async def bench_page(request: Request) -> Response:
    """Show the whole page."""
    return await _answer(request, "bench.html.j2")


@bench_routes.get("/bench")
async def bench_part(request: Request) -> Response:
    """Show the part that changes."""
    return await _answer(request, "bench_now.html.j2")


@bench_routes.post("/bench/touch")
async def touch(request: Request, task: Annotated[str, Form(max_length=200)]) -> Response:
    """Start or finish a step."""
    keeper = page_of(request).day
    said = await run_in_threadpool(keeper.touch, task, by=signed_in_of(request))
    tell(request, "bench")
    return await _answer(request, "bench_now.html.j2", message=said)


@bench_routes.post("/bench/keep")
async def keep(
    request: Request,
    case: Annotated[str, Form(max_length=64)],
    impression: Annotated[str, Form(max_length=64)],
    storage: Annotated[Storage, Form()],
) -> Response:
    """Say how an impression is kept from now on."""
    keeper = page_of(request).day
    said = await run_in_threadpool(keeper.keep, case, impression, storage, by=signed_in_of(request))
    tell(request, "bench")
    return await _answer(request, "bench_now.html.j2", message=said)


@bench_routes.post("/bench/take-back")
async def take_back(
    request: Request, case: Annotated[str, Form(max_length=64)], seq: Annotated[int, Form(ge=1)]
) -> Response:
    """Log that a fresh touch did not happen."""
    said = await run_in_threadpool(page_of(request).day.take_back, case, seq, by=signed_in_of(request))
    tell(request, "bench")
    return await _answer(request, "bench_now.html.j2", message=said)


@bench_routes.post("/bench/plan-again")
async def plan_again(request: Request) -> Response:
    """Plan again, moving what is close too."""
    said = await run_in_threadpool(page_of(request).day.plan_again)
    tell(request, "bench")
    return await _answer(request, "bench_now.html.j2", message=said)


async def _answer(request: Request, template: str, *, message: str = "") -> Response:
    keeper = page_of(request).day
    day = await run_in_threadpool(keeper.view)
    return render(request, template, day=_show_day(day, message=message))


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the template fills in."""

    now: str
    live: Any
    grave: bool
    clocks: list[dict[str, Any]]
    people: list[dict[str, Any]]
    changes: tuple[str, ...]
    message: str
    holds: tuple[str, ...] = ()
    slips: tuple[dict[str, Any], ...] = ()


def _show_day(day: DayView, *, message: str = "") -> _Shown:
    """Return the day in words and local times."""
    live, zone = day.live, day.zone
    if live is None or zone is None:
        return _Shown(day.now.isoformat(), None, False, [], [], (), message)
    return _Shown(
        now=day.now.isoformat(),
        live=live,
        grave=live.is_grave,
        clocks=[_clock(row, day.now, zone) for row in sorted(live.clocks, key=_urgency)],
        people=[show_hands(row, day.now, zone) for row in (*live.people, *live.idle)],
        changes=live.changes,
        message=message,
        holds=live.holds,
        slips=tuple(show_slip(slip, zone) for slip in live.slips),
    )


def show_slip(slip: Slip, zone: tzinfo) -> dict[str, Any]:
    """Return a touch that can be taken back, in words, and until when."""
    return {"case": slip.case, "seq": slip.seq, "said": slip.said, "until": f"{slip.until.astimezone(zone):%H:%M}"}


def _urgency(row: ClockRow) -> tuple[bool, float]:
    waits = row.phase is ImpressionPhase.WAITING and row.minutes_left is not None
    return (not waits, row.minutes_left or 0.0)


def _clock(row: ClockRow, now: datetime, zone: tzinfo) -> dict[str, Any]:
    waits = row.phase is ImpressionPhase.WAITING
    left = row.minutes_left if waits else None
    too_late = (row.pour_at - now).total_seconds() / 60 - left if left is not None and row.pour_at else 0.0
    will_miss = too_late >= _TOO_LATE_MIN
    grave = waits and (row.band is not Band.WITHIN or will_miss)
    pour = f"{row.pour_at.astimezone(zone):%H:%M}" if row.pour_at else ""
    return {
        "case": row.case,
        "impression": row.impression,
        "tone": "grave" if grave else "calm",
        "until": (now + timedelta(minutes=left)).isoformat() if left is not None else "",
        "left": _minutes(left) if left is not None else "",
        "is_within": left is not None and left >= 0,
        "is_over": row.phase is ImpressionPhase.SEPARATED,
        "word": row.phase.value.replace("_", " "),
        "state": _waiting_words(row.band, too_late) if waits else row.phase.value.replace("_", " "),
        "pour": _pour_words(row, pour),
        "cost": _cost_words(row) if waits else "",
        "counts": waits and row.is_pick_up,
        "kept": row.storage.value.replace("_", " ") if row.storage else "",
        "keeps": [
            {"value": storage.value, "word": word, "is_now": storage is row.storage}
            for storage, word in (_KEEPS_WET if row.is_wet else _KEEPS_DRY).items()
        ]
        if waits and row.storage is not None
        else [],
    }


def _waiting_words(band: Band, too_late_min: float) -> str:
    """Return where the impression stands in its window, and whether the pour that is planned comes too late for it."""
    if band is Band.WITHIN and too_late_min >= _TOO_LATE_MIN:
        return f"still within, but {too_late_min:.0f} min too late when poured"
    return BAND_WORDS[band]


def _cost_words(row: ClockRow) -> str:
    if row.error_um is None:
        return "no number is supported by the evidence"
    change, u = row.error_um
    return f"{tell_signed(change, 0)} ± {2 * u:.0f} µm over its longest span by now".replace("-", "−")


def _pour_words(row: ClockRow, at: str) -> str:
    if not at:
        return ""
    is_ahead = row.phase in (ImpressionPhase.PLANNED, ImpressionPhase.WAITING)
    return f"pour at {at}" if is_ahead else f"poured {at}"


def show_hands(row: TaskRow, now: datetime, zone: tzinfo) -> dict[str, Any]:
    """Return one pair of hands, or a step without any, in words and local times."""
    target = row.now or row.next
    return {
        "who": row.who or "no hands needed",
        "is_person": bool(row.who),
        "now": None if row.now is None else {**_task(row.now, zone), **_running(row.now, now)},
        "next": None if row.next is None else _task(row.next, zone),
        "task": target.id if target else "",
        "touch": row.touch[:1].upper() + row.touch[1:],
        "counts": row.counts,
        "is_over": row.now is not None and now > row.now.end,
    }


def _task(task: Placed, zone: tzinfo) -> dict[str, Any]:
    return {
        "id": task.id,
        "what": task.what,
        "case": task.case,
        "impression": task.impression,
        "units": task.units,
        "at": f"{task.start.astimezone(zone):%H:%M}",
    }


def _running(task: Placed, now: datetime) -> dict[str, Any]:
    left = (task.end - now).total_seconds() / 60
    return {"until": task.end.isoformat(), "left": _minutes(left)}


def _minutes(minutes: float) -> str:
    whole = int(abs(minutes))
    text = f"{whole // 60} h {whole % 60:02d}" if whole >= 120 else f"{whole}:{int(abs(minutes) * 60) % 60:02d}"
    return text if minutes >= 0 else f"{text} over"
