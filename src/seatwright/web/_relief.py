"""Relief pads on the case's survey: put, changed, taken out and undone there; the survey is shown anew once kept."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Form, Path, Query, Request, Response
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool

from seatwright.case import ScanRole
from seatwright.case.entry import Gesture, PutItem, RemoveItem, view_entry
from seatwright.errors import ConflictError, InputError
from seatwright.survey import wire_gauge_mm
from seatwright.web._answers import render
from seatwright.web._asked import person_of, practice_of, tell
from seatwright.web._drafting import keep_draft, open_plan, undo_step
from seatwright.web._items import ITEM_WORDS, form_fields, read_item
from seatwright.web._published import form_body
from seatwright.workflows.entry import Draft, describe_gesture, enter

__all__ = ["name_pad", "relief_routes"]

relief_routes = APIRouter(prefix="/cases/{code}/relief", default_response_class=HTMLResponse)
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]
Revision = Annotated[int, Form(ge=0)]
_TABLE = "relief"
_USUAL_GAUGE, _USUAL_REACH_MM = 26, 4.0  # common practice: one sheet over the ridge; judgement: half its width


@relief_routes.get("")
async def relief_part(request: Request, code: Code) -> Response:
    """Show the pads of the plan as it is entered."""
    return _answer(request, await run_in_threadpool(open_plan, request, code), is_redraw=True)


@relief_routes.get("/form")
async def relief_form(request: Request, code: Code, name: Annotated[str, Query(max_length=64)] = "") -> Response:
    """Show the form of a pad, filled in when it is there."""
    draft = await run_in_threadpool(open_plan, request, code)
    pads: list[dict[str, Any]] = draft.document.get(_TABLE, [])
    pad = next((pad for pad in pads if name and pad.get("id") == name), None)
    return render(
        request,
        "item_form.html.j2",
        code=code,
        form=_form(draft, pad or {"id": name_pad(pads), "gauge": _USUAL_GAUGE, "reach_mm": _USUAL_REACH_MM}),
    )


@relief_routes.post(
    "", openapi_extra=form_body(required={"revision": {"type": "integer", "minimum": 0}}, more={"type": "string"})
)
async def put_pad(request: Request, code: Code) -> Response:
    """Add a pad, or replace the one of its name."""
    form = await request.form(max_files=0, max_fields=20)
    plain = {key: [str(value) for value in form.getlist(key)] for key in form}
    revision = plain.pop("revision", [""])[0]
    if not (revision.isascii() and revision.isdecimal()):
        raise InputError("the revision is missing that this was entered on", hint="load the page again")
    return await _do(request, code, read_item(_TABLE, plain), int(revision))


@relief_routes.post("/remove")
async def remove_pad(
    request: Request, code: Code, revision: Revision, name: Annotated[str, Form(min_length=1, max_length=64)]
) -> Response:
    """Take a pad out."""
    return await _do(request, code, RemoveItem(table=_TABLE, id=name), revision)


@relief_routes.post("/undo")
async def undo(request: Request, code: Code, revision: Revision) -> Response:
    """Take back the draft's latest step."""
    return _answer(request, await run_in_threadpool(partial(undo_step, request, code, revision=revision)))


@relief_routes.post("/keep")
async def keep(request: Request, code: Code, revision: Revision) -> Response:
    """Make the plan the next version of its case; the checks begin anew."""
    return _answer(request, await run_in_threadpool(partial(keep_draft, request, code, revision=revision)))


async def _do(request: Request, code: str, gesture: PutItem | RemoveItem, revision: int) -> Response:
    """Do a gesture; on a plan that was changed meanwhile, show it as it is with what was wanted, to be done on top."""
    desk = practice_of(request).desk(person_of(request))

    def act() -> Draft:
        return enter(desk, open_plan(request, code), (gesture,), revision=revision)

    try:
        draft = await run_in_threadpool(act)
    except ConflictError:
        return _answer(request, await run_in_threadpool(open_plan, request, code), refused=gesture)
    tell(request, "draft", key=code)
    return _answer(request, draft)


def _answer(request: Request, draft: Draft, *, refused: Gesture | None = None, is_redraw: bool = False) -> Response:
    document: Mapping[str, Any] = draft.document
    pads = document.get(_TABLE, [])
    view = view_entry(document)
    shown = {
        "revision": draft.revision,
        "pads": [_row(pad) for pad in pads],
        "has_reference": any(scan.get("role") == ScanRole.REFERENCE.value for scan in document.get("scan", ())),
        "is_kept": draft.revision == 0,
        "undo_said": draft.steps[-1].said[:60] if draft.steps else "",
        "n_gaps": view.n_gaps,
        "refused": describe_gesture(refused) if refused is not None else "",
        "is_redraw": is_redraw,
        "form": _form(draft, refused.item) if isinstance(refused, PutItem) else None,
        "remove": refused.id if isinstance(refused, RemoveItem) else "",
    }
    answer = render(request, "relief.html.j2", status=200 if refused is None else 409, code=draft.code, relief=shown)
    if refused is not None:  # this part, not the place for what is told
        answer.headers["HX-Retarget"], answer.headers["HX-Reswap"] = "#relief", "outerHTML"
    return answer


def _row(pad: Mapping[str, Any]) -> dict[str, Any]:
    gauge = pad.get("gauge")
    return {
        "name": str(pad.get("id", "")),
        "gauge": f"{gauge:g}" if gauge is not None else "",
        "thick": f"{wire_gauge_mm(int(gauge)):.2f} mm" if gauge is not None and 0 <= gauge <= 40 else "",
        "reach": f"{pad['reach_mm']:g}" if "reach_mm" in pad else "",
        "n_places": len(pad.get("line_mm", ())),
    }


def name_pad(pads: Sequence[Mapping[str, Any]]) -> str:
    """Return a name for a new pad."""
    taken = {pad.get("id") for pad in pads}
    return next(name for number in range(1, len(pads) + 2) if (name := f"relief-{number}") not in taken)


def _form(draft: Draft, pad: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "word": ITEM_WORDS[_TABLE],
        "fields": form_fields(_TABLE, pad),
        "revision": draft.revision,
        "address": f"/cases/{draft.code}/relief",
        "target": "#relief",
    }
