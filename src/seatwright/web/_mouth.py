"""The mouth as planned, entered on the arch itself: gestures in, the plan and its gaps out."""

import re
from functools import partial
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Form, Path, Query, Request, Response
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from seatwright.case.entry import EntryView, Gesture, SetTolerance, view_entry
from seatwright.errors import ConflictError, Fault, InputError
from seatwright.figures import UNIT_WORDS, draw_entry_sheet
from seatwright.web._answers import render
from seatwright.web._asked import person_of, practice_of, tell
from seatwright.web._drafting import keep_draft, open_plan, undo_step
from seatwright.web._item_rows import group_items
from seatwright.web._items import ITEM_WORDS, form_fields, read_item
from seatwright.web._presets import BODIES, EDGES, HANGS, INTAGLIOS, PRESETS, STATES, VENEERS
from seatwright.web._published import form_body
from seatwright.workflows.entry import Draft, describe_gesture, enter

__all__ = ["mouth_routes"]

mouth_routes = APIRouter(prefix="/cases/{code}/mouth", default_response_class=HTMLResponse)
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]
ItemTable = Literal[
    "impression", "attachment", "bar", "rest", "clasp", "guide_plane", "relief", "returned_die", "scan", "region"
]
_FIELD = re.compile(r"\]\.([a-z_.]+)$")
_TABLE = re.compile(r"^[^:]*: ")


class Wish(BaseModel):
    """What a browser asks, and the revision that it saw."""

    revision: int = Field(ge=0)


class GesturesWish(Wish):
    """Some gestures, done as one step."""

    gestures: tuple[Gesture, ...] = Field(min_length=1, max_length=20)


@mouth_routes.get("")
async def mouth_page(request: Request, code: Code) -> Response:
    """Show the whole page."""
    draft = await run_in_threadpool(open_plan, request, code)
    return _answer(request, "mouth.html.j2", draft)


@mouth_routes.get("/part")
async def mouth_part(request: Request, code: Code) -> Response:
    """Show the part that changes."""
    draft = await run_in_threadpool(open_plan, request, code)
    return _answer(request, "mouth_entry.html.j2", draft, is_redraw=True)


@mouth_routes.post("/gestures")
async def do_gestures(request: Request, code: Code, wish: Annotated[GesturesWish, Body()]) -> Response:
    """Do some gestures."""
    return await _do(request, code, wish.gestures, wish.revision)


async def _do(request: Request, code: str, gestures: tuple[Gesture, ...], revision: int) -> Response:
    """Do gestures; on a plan that was changed meanwhile, show it as it is and offer to do them on top."""
    practice = practice_of(request)

    def act() -> Draft:
        return enter(practice.desk(person_of(request)), open_plan(request, code), gestures, revision=revision)

    try:
        draft = await run_in_threadpool(act)
    except ConflictError:
        draft = await run_in_threadpool(open_plan, request, code)
        return _answer(request, "mouth_entry.html.j2", draft, status=409, refused=gestures)
    tell(request, "draft", key=code)
    return _answer(request, "mouth_entry.html.j2", draft)


@mouth_routes.post("/undo")
async def undo_latest(request: Request, code: Code, wish: Annotated[Wish, Body()]) -> Response:
    """Take back the latest step."""
    draft = await run_in_threadpool(partial(undo_step, request, code, revision=wish.revision))
    return _answer(request, "mouth_entry.html.j2", draft)


@mouth_routes.get("/items/{table}")
async def item_form(
    request: Request, code: Code, table: ItemTable, name: Annotated[str, Query(max_length=64)] = ""
) -> Response:
    """Show the form of an item, filled in when it is there."""
    draft = await run_in_threadpool(open_plan, request, code)
    items: list[dict[str, Any]] = draft.document.get(table, [])
    item: dict[str, Any] = next((i for i in items if name and str(i.get("id", i.get("tooth"))) == name), {})
    form = {
        "word": ITEM_WORDS[table],
        "fields": form_fields(table, item),
        "revision": draft.revision,
        "address": f"/cases/{code}/mouth/items/{table}",
        "target": "#entry",
    }
    return render(request, "item_form.html.j2", code=code, form=form)


@mouth_routes.post(
    "/items/{table}",
    openapi_extra=form_body(required={"revision": {"type": "integer", "minimum": 0}}, more={"type": "string"}),
)
async def put_item(request: Request, code: Code, table: ItemTable) -> Response:
    """Add an item, or replace the one of its name."""
    form = await request.form(max_files=0, max_fields=60)
    plain = {key: [str(value) for value in form.getlist(key)] for key in form}
    revision = plain.pop("revision", [""])[0]
    if not (revision.isascii() and revision.isdecimal()):
        raise InputError("the revision is missing that this was entered on", hint="load the page again")
    return await _do(request, code, (read_item(table, plain),), int(revision))


@mouth_routes.post("/tolerance")
async def set_tolerance(
    request: Request,
    code: Code,
    revision: Annotated[int, Form(ge=0)],
    unit_shift_um: Annotated[float, Form(ge=1, le=1000)],
    reason: Annotated[str, Form(min_length=1, max_length=2000)],
) -> Response:
    """Say what the case asks of its cast."""
    return await _do(request, code, (SetTolerance(unit_shift_um=unit_shift_um, reason=reason),), revision)


@mouth_routes.post("/keep")
async def keep(request: Request, code: Code, wish: Annotated[Wish, Body()]) -> Response:
    """Make the plan the next version of its case."""
    draft = await run_in_threadpool(partial(keep_draft, request, code, revision=wish.revision))
    return _answer(request, "mouth_entry.html.j2", draft, message="Kept.")


def _answer(
    request: Request,
    template: str,
    draft: Draft,
    *,
    status: int = 200,
    message: str = "",
    refused: tuple[Gesture, ...] = (),
    is_redraw: bool = False,
) -> Response:
    view = view_entry(draft.document)
    shown: dict[str, Any] = {
        "code": draft.code,
        "revision": draft.revision,
        "version": draft.base_version,
        "is_kept": draft.revision == 0,
        "drawing": draw_entry_sheet(view),
        "last": draft.last or "",
        "can_undo": bool(draft.steps),
        "undo_said": draft.steps[-1].said[:60] if draft.steps else "",
        "n_gaps": view.n_gaps,
        "gaps": _gaps(view),
        "is_redraw": is_redraw,
        "message": message,
        "conflict": [gesture.model_dump(mode="json", exclude_none=True) for gesture in refused],
        "conflict_said": "; ".join(describe_gesture(gesture) for gesture in refused),
        "kinds": [(word, kind.value) for kind, word in UNIT_WORDS.items()],
        "presets": PRESETS,
        "states": STATES,
        "bodies": BODIES,
        "veneers": VENEERS,
        "edges": EDGES,
        "intaglios": INTAGLIOS,
        "tables": list(ITEM_WORDS.items()),
        "hangs": HANGS,
        "groups": group_items(draft.document, view),
        "tolerance": draft.document.get("tolerance", {}),
    }
    answer = render(request, template, status=status, entry=shown)
    if refused:  # this part, not the place for what is told
        answer.headers["HX-Retarget"], answer.headers["HX-Reswap"] = "#entry", "outerHTML"
    return answer


def _gaps(view: EntryView) -> list[dict[str, str]]:
    """Return what is missing, tooth by tooth, then what belongs to none."""
    rows = [(str(tooth.tooth), fault) for tooth in view.teeth for fault in tooth.gaps]
    rows += [("", fault) for fault in view.gaps]
    return [
        {
            "tooth": tooth,
            "place": tooth or _TABLE.sub("", fault.where),
            "what": f"{_field_of(fault)} {fault.what}".strip() if tooth else fault.what,
            "hint": fault.hint,
        }
        for tooth, fault in rows
    ]


def _field_of(fault: Fault) -> str:
    """Return what is missing at a unit, as ``margin`` of ``unit[0].margin``."""
    found = _FIELD.search(fault.where)
    return found[1].replace("_", " ").replace(".", " ") if found else ""
