"""A scan is brought: streamed to the disk, read by a worker, confirmed by a person, then part of the plan."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Path, Query, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect

from seatwright.case import Arch, ScanRole
from seatwright.case.entry import PutItem
from seatwright.errors import ConflictError, InputError
from seatwright.files import LENGTH_UNITS_MM
from seatwright.web._answers import render
from seatwright.web._arrivals import Arrival
from seatwright.web._asked import page_of, person_of, practice_of, tell
from seatwright.web._computed import compute_bytes
from seatwright.web._drafting import open_plan
from seatwright.web._scan_choices import list_choices, name_unit
from seatwright.workflows.entry import Draft, enter
from seatwright.workflows.record_ports import KeptFile

__all__ = ["bring_routes"]

bring_routes = APIRouter(prefix="/cases/{code}/scans", default_response_class=HTMLResponse)
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]
Brought = Annotated[str, Path(pattern=r"^[0-9a-f]{16}$")]
_ATTEMPTS = 10  # judgement: each loss means that another writer won
_PIECE = 1 << 20  # judgement: bytes that are written in one go
_BYTES: dict[str, Any] = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}
_ARRAYS: dict[str, Any] = {"response_class": Response, "responses": {200: {"content": _BYTES}}}
_A_FILE: dict[str, Any] = {"requestBody": {"required": True, "content": _BYTES}}
_TASKS = "seatwright.jobs.scan_tasks"


class Confirmed(BaseModel):
    """What a person says of a scan."""

    serves: str = Field(max_length=200)
    length_unit: str = Field(max_length=8)
    repeatability_um: float = Field(ge=0.1, le=500)
    impression: str = Field(default="", max_length=64)

    def fields(self) -> dict[str, Any]:
        """Return what the plan says of the scan."""
        said = {"length_unit": self.length_unit, "repeatability_um": self.repeatability_um}
        return {**said, "impression": self.impression} if self.impression else said


@bring_routes.post("", status_code=201, response_class=JSONResponse, openapi_extra=_A_FILE)
async def bring(request: Request, code: Code, name: Annotated[str, Query(min_length=1, max_length=400)]) -> Response:
    """Take a file in, piece by piece, and let it be read."""
    await run_in_threadpool(open_plan, request, code)  # there is such a case
    arrivals, length = page_of(request).arrivals, request.headers.get("content-length", "0")
    record = practice_of(request).record
    arrival = await run_in_threadpool(arrivals.begin, record, code, name, int(length) if length.isdigit() else 0)
    try:
        await _take(request, arrival)
        await run_in_threadpool(arrivals.read, arrival)
    except BaseException:
        arrivals.drop(arrival.id)
        raise
    return JSONResponse({"id": arrival.id}, status_code=201)


@bring_routes.get("/{brought}")
async def brought_part(request: Request, code: Code, brought: Brought) -> Response:
    """Show how far a brought scan is, then what it looks like and what is asked."""
    arrival = page_of(request).arrivals.get(code, brought)
    if arrival is None:
        return render(request, "brought.html.j2", code=code, brought=brought, arrival=None)
    draft = await run_in_threadpool(open_plan, request, code)
    return render(request, "brought.html.j2", code=code, brought=brought, arrival=arrival, **_ask(draft, arrival))


@bring_routes.get("/{brought}/mesh", **_ARRAYS)
async def brought_mesh(request: Request, code: Code, brought: Brought) -> Response:
    """Give a brought scan's surface as plain arrays, in its own length unit."""
    page, arrival = page_of(request), _require(request, code, brought)
    order, limit_s = page.arrivals.order_of(arrival), page.settings.read_limit_s
    return await compute_bytes(request, f"{_TASKS}:pack_arrival", order, time_limit_s=limit_s)


@bring_routes.post("/{brought}/drop")
async def drop(request: Request, code: Code, brought: Brought) -> Response:
    """Put a brought scan away."""
    await run_in_threadpool(page_of(request).arrivals.drop, _require(request, code, brought).id)
    return render(request, "brought.html.j2", code=code, brought=brought, arrival=None)


@bring_routes.post("/{brought}/keep")
async def keep(request: Request, code: Code, brought: Brought, confirmed: Annotated[Confirmed, Form()]) -> Response:
    """Put a scan into the plan as the person says: its file is kept, the plan's draft names it."""
    scan_id = await run_in_threadpool(_keep, request, code, _require(request, code, brought), confirmed)
    tell(request, "draft", key=code)
    return HTMLResponse("", headers={"HX-Redirect": f"/cases/{code}/surfaces?scan={scan_id}"})


async def _take(request: Request, arrival: Arrival) -> None:
    """Write the body down as it comes, and no more of it than is taken."""
    arrivals, waiting = page_of(request).arrivals, bytearray()
    try:
        async for piece in request.stream():
            waiting += piece
            if len(waiting) >= _PIECE:
                arrivals.check_size(arrival.name, arrival.file.n_bytes + len(waiting))
                await run_in_threadpool(arrival.file.write, bytes(waiting))
                waiting.clear()
    except ClientDisconnect as error:
        raise InputError(f"{arrival.name}: the file did not come in whole", hint="bring it again") from error
    arrivals.check_size(arrival.name, arrival.file.n_bytes + len(waiting))
    await run_in_threadpool(arrival.file.write, bytes(waiting))


def _require(request: Request, code: str, brought: str) -> Arrival:
    arrival = page_of(request).arrivals.get(code, brought)
    if arrival is None:
        raise InputError("this scan is not here any more", hint="bring it again")
    return arrival


def _keep(request: Request, code: str, arrival: Arrival, confirmed: Confirmed) -> str:
    practice, draft = practice_of(request), open_plan(request, code)
    choice = next((c for c in list_choices(draft.document) if c.value == confirmed.serves), None)
    if arrival.scan is None or choice is None:
        raise InputError("what this scan serves as is not said", hint="choose it, then keep the scan")
    unit = confirmed.length_unit
    if unit not in arrival.scan.plausible:
        longest = max(arrival.scan.look.extent) * LENGTH_UNITS_MM.get(unit, 1.0)
        raise InputError(
            f"in {name_unit(unit)} this scan is {longest:.4g} mm across, which no arch is",
            hint="choose the length unit in which it is as large as an arch; else it is another scan",
        )
    if choice.role is ScanRole.POURED and not confirmed.impression:
        raise InputError("a poured cast comes from an impression", hint="choose the impression it was poured into")
    _require_another(request, code, draft, arrival.file.sha256, choice.scan_id)
    kept = practice.record.keep_arrived(arrival.file, suffix=arrival.suffix)
    item = {
        "id": choice.scan_id,
        "role": choice.role.value,
        "of": choice.of.value,
        "arch": choice.arch.value,
        "file": kept.path,
        **confirmed.fields(),
    }
    _put_in(request, code, PutItem(table="scan", item=item), kept)
    page_of(request).arrivals.drop(arrival.id)
    return choice.scan_id


def _put_in(request: Request, code: str, gesture: PutItem, kept: KeptFile) -> None:
    """Put the scan into the plan as it is now: it does not depend on what else somebody changed meanwhile."""
    desk = practice_of(request).desk(person_of(request))
    for attempt in range(_ATTEMPTS):
        draft = open_plan(request, code)
        try:
            enter(desk, draft, (gesture,), revision=draft.revision, files=(kept,))
        except ConflictError:
            if attempt == _ATTEMPTS - 1:
                raise
        else:
            return


def _require_another(request: Request, code: str, draft: Draft, sha256: str, scan_id: str) -> None:
    """Refuse a file that the plan has already: a cast that is checked against itself shows no movement."""
    record = practice_of(request).record
    hashes = dict(record.file_hashes(code)) if record.find(code) else {}
    hashes |= {file.path: file.sha256 for file in draft.files}
    for scan in draft.document.get("scan", ()):
        if scan["id"] != scan_id and hashes.get(scan.get("file", "")) == sha256:
            raise InputError(
                f"this very file is in the plan already, as {scan['id']}",
                hint="bring the other scan: a cast that is checked against itself shows no movement",
            )


def _ask(draft: Draft, arrival: Arrival) -> dict[str, Any]:
    """Return what the form of a scan that was read shows and offers."""
    document = draft.document
    arch = Arch(document["arch"])
    told = [s.get("repeatability_um") for s in document.get("scan", ()) if s.get("repeatability_um") is not None]
    return {
        "choices": list_choices(document),
        "impressions": [i["id"] for i in document.get("impression", ()) if i.get("arch") == arch.value],
        "repeatability_um": told[-1] if told else "",
        "name_unit": name_unit,
        "only": arrival.scan.plausible[0] if arrival.scan is not None and len(arrival.scan.plausible) == 1 else "",
    }
