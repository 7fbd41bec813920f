"""Scans in three dimensions: their surfaces, values on them, seeds for units set by touch."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Form, Path, Query, Request, Response
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool

from seatwright.arch import find_occlusal_frame
from seatwright.case import ScanRole
from seatwright.errors import ConflictError, InputError
from seatwright.jobs.surface_tasks import BlockOutOrder, ScanOrder, UndercutOrder
from seatwright.survey import wire_gauge_mm
from seatwright.web._answers import render
from seatwright.web._asked import page_of, practice_of
from seatwright.web._computed import ARRAYS, compute_bytes, give_file
from seatwright.web._drafting import keep_draft, open_plan, undo_step
from seatwright.web._relief import name_pad
from seatwright.workflows.entry import Draft

__all__ = ["surface_routes"]

surface_routes = APIRouter(prefix="/cases/{code}/surfaces")
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]
_ARRAYS: dict[str, Any] = {
    "response_class": Response,
    "responses": {200: {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}},
}
Revision = Annotated[int, Form(ge=0)]
_GAUGES = range(22, 33, 2)  # common practice: sheets that laboratories keep
_TASKS = "seatwright.jobs.surface_tasks"
_Part = Annotated[float, Field(ge=-1, le=1)]


class PathWish(BaseModel):
    """The way the partial moves to seat."""

    seat_direction: tuple[_Part, _Part, _Part]


class BlockOutWish(PathWish):
    """A path, and the angle of the block-out's walls to it."""

    taper_deg: Literal[0, 2, 6]


@surface_routes.get("", response_class=HTMLResponse)
async def surfaces_page(request: Request, code: Code, scan: Annotated[str, Query(max_length=64)] = "") -> Response:
    """Show the page of a case's scans, those that only the draft has included."""
    draft = await run_in_threadpool(open_plan, request, code)
    plane = await run_in_threadpool(_occlusal_plane, request, code)
    document: Mapping[str, Any] = draft.document
    settings = page_of(request).settings
    return render(
        request,
        "surfaces.html.j2",
        code=code,
        chosen=scan,
        scans=[
            {"id": s["id"], "of": str(s.get("of", "")).replace("_", " "), "role": s.get("role", "")}
            for s in document.get("scan", ())
            if "file" in s and "length_unit" in s
        ],
        seeds=[
            {"tooth": r["tooth"], "at": r["seed_mm"], "radius": r.get("radius_mm")}
            for r in document.get("region", ())
            if r.get("seed_mm") is not None
        ],
        plane=plane,
        **_view_pads(document),
        poured=[s["id"] for s in document.get("scan", ()) if s.get("role") == "poured"],
        work=page_of(request).checks.known(code),
        units=[unit["tooth"] for unit in document.get("unit", ())],
        draft=_view_draft(draft),
        limits={
            "bytes": settings.max_upload_bytes,
            "mb": f"{settings.max_upload_bytes / 1e6:,.0f}",
            "triangles": f"{settings.max_triangles:,}",
        },
    )


@surface_routes.get("/draft", response_class=HTMLResponse)
async def draft_part(request: Request, code: Code) -> Response:
    """Show what is not kept yet."""
    draft = await run_in_threadpool(open_plan, request, code)
    return render(request, "surfaces_draft.html.j2", code=code, draft=_view_draft(draft))


@surface_routes.get("/overlay", **_ARRAYS)
async def overlay(request: Request, code: Code, poured: Annotated[str, Query(max_length=64)]) -> Response:
    """Give a poured scan over its reference, as the latest cast check found them to lie."""
    page = page_of(request)
    content = await run_in_threadpool(practice_of(request).content_of, code)
    work = page.checks.known(code)
    if work is None or not work.is_of(content) or work.answer is None:
        raise ConflictError("the cast check is not computed for the case as it is", hint="compute the checks first")
    if poured not in work.answer.overlays:
        raise InputError(f"the cast check has no poured scan {poured[:40]!r}", hint="choose one that is checked")
    return await give_file(work.answer.folder / work.answer.overlays[poured], ARRAYS)


@surface_routes.post("/keep", response_class=HTMLResponse)
async def keep(request: Request, code: Code, revision: Revision) -> Response:
    """Keep the draft as the case's next version."""
    await run_in_threadpool(lambda: keep_draft(request, code, revision=revision))
    return HTMLResponse("", headers={"HX-Refresh": "true"})


@surface_routes.post("/undo", response_class=HTMLResponse)
async def undo(request: Request, code: Code, revision: Revision) -> Response:
    """Take back the draft's latest step."""
    await run_in_threadpool(lambda: undo_step(request, code, revision=revision))
    return HTMLResponse("", headers={"HX-Refresh": "true"})


@surface_routes.get("/{scan}/mesh", **_ARRAYS)
async def mesh(request: Request, code: Code, scan: str) -> Response:
    """Give a scan's surface as plain arrays."""
    order = await run_in_threadpool(_order, request, code, scan)
    return await compute_bytes(request, f"{_TASKS}:pack_surface", order)


@surface_routes.post("/{scan}/undercut", **_ARRAYS)
async def undercut(request: Request, code: Code, scan: str, wish: Annotated[PathWish, Body()]) -> Response:
    """Give the undercut at each vertex for a path."""
    order = await run_in_threadpool(_order, request, code, scan)
    return await compute_bytes(request, f"{_TASKS}:read_undercut", UndercutOrder(order, wish.seat_direction))


@surface_routes.post("/{scan}/block-out", **_ARRAYS)
async def fill(request: Request, code: Code, scan: str, wish: Annotated[BlockOutWish, Body()]) -> Response:
    """Give the solids that fill the undercuts along a path."""
    order = UndercutOrder(await run_in_threadpool(_order, request, code, scan), wish.seat_direction)
    return await compute_bytes(request, f"{_TASKS}:fill_undercuts", BlockOutOrder(order, wish.taper_deg))


def _occlusal_plane(request: Request, code: str) -> dict[str, Any] | None:
    """Return the axes that a tilt is counted from, in the reference's frame; None where the case does not tell them."""
    practice = practice_of(request)
    if practice.record.find(code) is None:
        return None
    case = practice.load(code).case
    frame = find_occlusal_frame(case)
    reference = next((scan.id for scan in case.scan if scan.role is ScanRole.REFERENCE), None)
    if reference is None or not frame.u_deg:  # no more than a convention
        return None
    axes = {"up": frame.occlusal, "left": frame.left, "back": frame.posterior}
    told = {"scan": reference, "how": frame.how, "u_deg": round(frame.u_deg, 1)}
    return {**told, **{name: [round(float(part), 6) for part in axis] for name, axis in axes.items()}}


def _view_pads(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the relief pads of the plan, in the frame of the reference scan, and what a new one may be."""
    pads: list[dict[str, Any]] = document.get("relief", [])
    scans = document.get("scan", ())
    drawn = [
        {**pad, "gauge": round(pad["gauge"])} for pad in pads if {"id", "gauge", "reach_mm", "line_mm"} <= set(pad)
    ]
    gauges = sorted({*_GAUGES, *(pad["gauge"] for pad in drawn)})
    return {
        "reference": next((s["id"] for s in scans if s.get("role") == ScanRole.REFERENCE.value), ""),
        "pads": drawn,
        "new_pad": name_pad(pads),
        "gauges": [(gauge, f"{wire_gauge_mm(gauge):.2f} mm") for gauge in gauges],
    }


def _view_draft(draft: Draft) -> dict[str, Any]:
    return {
        "revision": draft.revision,
        "version": draft.base_version,
        "can_undo": bool(draft.steps),
        "said": [step.said[:80] for step in draft.steps[-5:]],
    }


def _order(request: Request, code: str, scan: str) -> ScanOrder:
    draft = open_plan(request, code)
    found = next((s for s in draft.document.get("scan", ()) if s.get("id") == scan), None)
    record = practice_of(request).record
    hashes = {**(record.file_hashes(code) if record.find(code) else {}), **{f.path: f.sha256 for f in draft.files}}
    if found is None or found.get("file") not in hashes:
        raise InputError(f"case {code} has no scan {scan[:40]!r}", hint="see the scans of the case")
    return ScanOrder(
        page_of(request).settings.data, hashes[found["file"]], found["file"], str(found.get("length_unit", "mm"))
    )
