"""One case, its sections in the order of the job: verdict first, then the number, then why."""

import mimetypes
from contextlib import suppress
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Path, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from seatwright.errors import InputError
from seatwright.jobs.tasks import DossierWords
from seatwright.papers import draw_figures, render_sections, say_sections, view_dossier
from seatwright.web._answers import render
from seatwright.web._asked import page_of, practice_of
from seatwright.web._checks import Checked
from seatwright.web._computed import ARRAYS, give_file
from seatwright.workflows.dossier import gather_dossier

__all__ = ["case_routes"]

case_routes = APIRouter(prefix="/cases/{code}", default_response_class=HTMLResponse)
Work = Annotated[Literal["", "cast", "survey", "forecast", "timetable", "papers"], Form()]
Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")]

_KINDS: dict[str, dict[str, object]] = {
    kind: {}
    for kind in (
        "application/json",
        ARRAYS,
        "application/pdf",
        "image/png",
        "image/svg+xml",
    )
}
"""What a paper or picture may be."""
_GRAVE = ("stop", "warning", "caution")
_GRAVITY = (*_GRAVE, "note", "")
_ORDER = (
    ("plan", "Mouth"),
    ("dies", "Dies"),
    ("pour", "Pour"),
    ("timetable", "Timetable"),
    ("fit", "Fit"),
    ("cast", "Cast"),
    ("survey", "Survey"),
    ("later", "Later"),
    ("all", "All findings"),
)


@case_routes.get("")
async def case_page(request: Request, code: Code) -> Response:
    """Show the case: at once what follows from plan and log, then what takes seconds as it comes.

    One that is being entered still is shown where that is done.
    """
    if await run_in_threadpool(_is_draft_alone, request, code):
        return RedirectResponse(f"/cases/{code}/mouth", status_code=303)
    view = await run_in_threadpool(_view, request, code)
    return render(request, "case.html.j2", case=view, code=code, work=view["work"])


@case_routes.get("/part")
async def case_part(request: Request, code: Code) -> Response:
    """Show the part that changes."""
    view = await run_in_threadpool(_view, request, code)
    return render(request, "case_now.html.j2", case=view, code=code, work=view["work"])


@case_routes.get("/checks")
async def work_part(request: Request, code: Code) -> Response:
    """Show how the long work stands; once it is over, the page asks for what it found."""
    work = page_of(request).checks.known(code)
    answer = render(request, "case_work.html.j2", code=code, work=work)
    if work is not None and work.is_over:
        answer.headers["HX-Trigger"] = "workdone"
    return answer


@case_routes.post("/checks/begin")
async def begin_work(request: Request, code: Code, work: Work = "") -> Response:
    """Begin all works, or one of them again after it was stopped or failed."""
    content, checks = await run_in_threadpool(practice_of(request).content_of, code), page_of(request).checks
    known = await run_in_threadpool(lambda: checks.again(code, content, work) if work else checks.begin(code, content))
    return render(request, "case_work.html.j2", code=code, work=known)


@case_routes.post("/checks/cancel")
async def cancel_work(request: Request, code: Code, work: Work = "") -> Response:
    """Stop one work, or all."""
    await run_in_threadpool(page_of(request).checks.cancel, code, work)
    return render(request, "case_work.html.j2", code=code, work=page_of(request).checks.known(code))


@case_routes.get("/files/{path:path}", response_class=Response, responses={200: {"content": _KINDS}})
async def computed_file(request: Request, code: Code, path: str) -> Response:
    """Give a paper or picture of the latest work."""
    known = page_of(request).checks.known(code)
    answer = known.answer if known is not None else None
    if answer is None or path not in answer.files:
        raise InputError("this file is not computed yet", hint="open the case and wait until its work is done")
    kind = mimetypes.guess_type(path)[0] or ARRAYS
    attached = kind in ("text/html", "image/svg+xml", ARRAYS)
    return await give_file(answer.folder / answer.files[path], kind, attached=attached)


def _is_draft_alone(request: Request, code: str) -> bool:
    practice = practice_of(request)
    return practice.record.find(code) is None and practice.drafts.load_draft(code) is not None


def _view(request: Request, code: str) -> dict[str, object]:
    page, practice = page_of(request), practice_of(request)
    content = practice.content_of(code)
    work = page.checks.known(code)
    if work is None or not work.is_of(content):
        work = page.checks.begin(code, content)
    words = _words_of(work)
    if words is None:
        now = max(practice.clock.now(), practice.load(code).now)
        dossier = gather_dossier(practice.source(code), now=now, clock=practice.clock, quick=True)
        figures, view = draw_figures(dossier), view_dossier(dossier)
        sections = render_sections(view, figures=figures, files=(), base="")
        words = DossierWords(dossier.headline, figures["arch-sheet"], sections, say_sections(view))
    return {
        "code": code,
        "headline": words.headline,
        "sheet": words.sheet,
        "first": words.sections.get("first", ""),
        "sections": _fold(words),
        "work": work,
        "drafted": practice.drafts.load_draft(code) is not None,
    }


def _fold(words: DossierWords) -> list[dict[str, object]]:
    """Return the sections in the order of the job, each with its line; open is the gravest, of equal ones the first."""
    names = [(name, word) for name, word in _ORDER if name in words.sections]
    severities = [words.says.get(name, {}).get("severity", "") for name, _ in names]
    at = min(range(len(names)), key=lambda k: _GRAVITY.index(severities[k])) if any(severities) else 0
    return [
        {
            "name": name,
            "word": word,
            "html": words.sections[name],
            "says": words.says.get(name, {}).get("says", ""),
            "severity": severities[k],
            "findings": [n for n in (_count_findings(words.sections[name], kind) for kind in _GRAVE) if n[1]],
            "is_open": k == at,
        }
        for k, (name, word) in enumerate(names)
    ]


def _count_findings(section: str, severity: str) -> tuple[str, int]:
    return severity, section.count(f'<article class="finding {severity}"')


def _words_of(work: Checked) -> DossierWords | None:
    """Return what the papers of a case say; None before they are there, and while they are computed anew."""
    if work.answer is None:
        return None
    with suppress(FileNotFoundError):
        return work.answer.words()
    return None
