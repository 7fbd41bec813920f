"""The bench itself: who works at it, with what, and when they pause. Kept for every case that stands at it."""

from collections.abc import Callable
from contextlib import suppress
from hashlib import sha256
from typing import Annotated, Any, get_args

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from seatwright.case import Bench, Break, Equipment, Person, Skill, parse_bench
from seatwright.errors import CaseError, ConflictError
from seatwright.files import bench_to_toml, read_bench
from seatwright.web._answers import render
from seatwright.web._asked import page_of, person_of, practice_of, tell
from seatwright.web._published import form_body
from seatwright.workflows.record_ports import EarlierBench

__all__ = ["bench_file_routes"]

bench_file_routes = APIRouter(prefix="/bench/file", default_response_class=HTMLResponse)
_KINDS = get_args(Equipment.model_fields["kind"].annotation)
_BY = (("person", "id", Person), ("equipment", "id", Equipment), ("break", "start", Break))
_SPARE = 1  # empty rows to write the next one in


@bench_file_routes.get("")
async def bench_file_page(request: Request) -> Response:
    """Show people, equipment and breaks."""
    return await _answer(request, "bench_file.html.j2")


@bench_file_routes.post(
    "", openapi_extra=form_body(required={"time_zone": {"type": "string"}}, more={"type": "string"})
)
async def keep(request: Request) -> Response:
    """Keep the bench as filled in."""
    form = await request.form(max_files=0, max_fields=600)
    n_cases = await run_in_threadpool(_keep, request, lambda now: _read(form, now))
    return await _answer(request, "bench_file_now.html.j2", n_cases=n_cases)


@bench_file_routes.post("/put-back")
async def put_back(request: Request, version: Annotated[int, Form(ge=1)]) -> Response:
    """Put the bench back as it was in a version before."""
    benches = await run_in_threadpool(practice_of(request).benches)
    found = next((bench for bench in benches if bench.version == version), None)
    if found is None:
        raise ConflictError("the bench was changed meanwhile", hint="look at the benches as they are listed now")
    n_cases = await run_in_threadpool(_keep, request, lambda _: found.toml)
    return await _answer(request, "bench_file_now.html.j2", n_cases=n_cases)


async def _answer(request: Request, template: str, *, n_cases: int = 0) -> Response:
    toml, benches = await run_in_threadpool(
        lambda: (practice_of(request).bench_toml(""), practice_of(request).benches())
    )
    bench = _parsed(toml)
    shown = bench.model_dump(mode="json", by_alias=True)
    for table, _, model in _BY:
        shown[table] = [*shown[table], *(dict.fromkeys(model.model_fields) for _ in range(_SPARE))]
    skills, kinds = [skill.value for skill in Skill], list(_KINDS)
    view: dict[str, Any] = {"bench": shown, "skills": skills, "kinds": kinds, "n_cases": n_cases}
    earlier = [_view_earlier(one) for one in benches if one.toml != toml]
    return render(request, template, mark=sha256(toml).hexdigest()[:16], earlier=earlier, **view)


def _view_earlier(bench: EarlierBench) -> dict[str, Any]:
    read = _parsed(bench.toml)
    people = ", ".join(person.id for person in read.person)
    breaks = ", ".join(f"{one.start:%H:%M}\N{EN DASH}{one.end:%H:%M} {one.person or ''}".strip() for one in read.breaks)
    kept = f"{bench.at:%d %b %Y, %H:%M} UTC"
    return {"version": bench.version, "kept": kept, "by": bench.by, "people": people, "breaks": breaks}


def _keep(request: Request, change: Callable[[Bench], bytes]) -> int:
    practice = practice_of(request)
    before = practice.bench_toml("")
    kept = practice.keep_bench(change(_parsed(before)), by=person_of(request))
    page_of(request).day.forget()
    for code in kept:
        tell(request, "case", key=code)
    tell(request, "bench")
    return len(kept)


def _parsed(toml: bytes) -> Bench:
    bench, faults = read_bench(toml)
    if bench is None:
        raise CaseError("the bench cannot be read", hint="mend bench.toml", faults=faults)
    return bench


def _read(form: FormData, bench: Bench) -> bytes:
    """Return the bench as filled in; a row without its name is left out, stock stays as it is."""
    document = bench.model_dump(mode="json", by_alias=True, exclude_none=True)
    document["time_zone"] = str(form.get("time_zone", "")).strip() or "UTC"
    for table, key, _ in _BY:
        document[table] = [row for row in _rows(form, table) if row.get(key)]
    changed, faults = parse_bench(document, file="bench")
    if changed is None or faults:
        raise CaseError("the bench cannot be kept like this", hint="mend what is named, then keep it", faults=faults)
    return bench_to_toml(changed)


def _rows(form: FormData, table: str) -> list[dict[str, Any]]:
    rows: dict[str, dict[str, Any]] = {}
    for name in form:
        parts = name.split(".")
        if len(parts) == 3 and parts[0] == table and parts[1].isdigit():
            row = rows.setdefault(parts[1], {"skills": []} if table == "person" else {})
            values = [str(value).strip() for value in form.getlist(name) if str(value).strip()]
            if values:
                row[parts[2]] = _value(parts[2], values)
    return list(rows.values())


def _value(field: str, values: list[str]) -> object:
    if field == "skills":
        return values
    if field == "resolution_g":
        with suppress(ValueError):
            return float(values[0].replace(",", "."))
    return values[0]
