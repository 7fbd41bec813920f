"""One person's step in large type: begun and done by one touch, taken back, taken over from a colleague."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request, Response
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool

from seatwright.errors import InputError
from seatwright.web._answers import render
from seatwright.web._asked import page_of, signed_in_of, tell
from seatwright.web._bench import show_hands, show_slip
from seatwright.web._cards import gather_cards
from seatwright.workflows.take_over import running_with
from seatwright.workflows.today import TaskRow

__all__ = ["hands_routes"]

hands_routes = APIRouter(prefix="/bench/hands", default_response_class=HTMLResponse)
Who = Annotated[str, Path(max_length=64)]


@hands_routes.get("/{who}")
async def hands_page(request: Request, who: Who) -> Response:
    """Show one person's step in large type."""
    return await _answer(request, "hands.html.j2", who)


@hands_routes.get("/{who}/part")
async def hands_part(request: Request, who: Who) -> Response:
    """Show the part that changes."""
    return await _answer(request, "hands_now.html.j2", who)


@hands_routes.post("/{who}/take-back")
async def hands_take_back(
    request: Request,
    who: Who,
    case: Annotated[str, Form(max_length=64)],
    seq: Annotated[int, Form(ge=1)],
) -> Response:
    """Log that a fresh touch did not happen, from one person's screen."""
    said = await run_in_threadpool(page_of(request).day.take_back, case, seq, by=signed_in_of(request))
    tell(request, "bench")
    return await _answer(request, "hands_now.html.j2", who, message=said)


@hands_routes.post("/{who}/touch")
async def hands_touch(request: Request, who: Who, task: Annotated[str, Form(max_length=200)]) -> Response:
    """Start or finish this person's step."""
    said = await run_in_threadpool(page_of(request).day.touch, task, by=signed_in_of(request))
    tell(request, "bench")
    return await _answer(request, "hands_now.html.j2", who, message=said)


@hands_routes.post("/{who}/take-over")
async def hands_take_over(
    request: Request, who: Who, task: Annotated[str, Form(max_length=200)], every: Annotated[bool, Form()] = False
) -> Response:
    """Take over a colleague's step, begun or not; with `every`, all that runs with it on the same impression."""
    day, by = page_of(request).day, signed_in_of(request)
    said = await run_in_threadpool(lambda: day.take_over(task, who, by=by, every=every))
    tell(request, "bench")
    return await _answer(request, "hands_now.html.j2", who, message=said)


async def _answer(request: Request, template: str, who: str, *, message: str = "") -> Response:
    keeper = page_of(request).day
    day = await run_in_threadpool(keeper.view)
    row = next((r for r in day.live.people if r.who == who), None) if day.live is not None else None
    if row is None or day.zone is None:
        raise InputError(f"nobody called {who[:40]!r} works at the bench today", hint="see the bench today")
    target = row.now or row.next
    cards = await run_in_threadpool(keeper.cards_of, target) if target is not None else ()
    offers = await run_in_threadpool(keeper.offers, who) if row.now is None else ()
    return render(
        request,
        template,
        hands=show_hands(row, day.now, day.zone),
        slips=[show_slip(slip, day.zone) for slip in day.live.slips] if day.live is not None else [],
        cards=gather_cards(cards),
        offers=[
            {**show_hands(offer, day.now, day.zone), "n_running": len(running_with(offer)), "all": _say_all(offer)}
            for offer in offers
        ],
        message=message,
        now=day.now.isoformat(),
    )


def _say_all(offer: TaskRow) -> str:
    return "; ".join(step.what for step in running_with(offer))
