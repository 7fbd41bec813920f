"""The whole job on one case, and its dossier written whole or not at all."""

from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import datetime
from typing import Any, Protocol

from seatwright.findings import Severity, sort_findings
from seatwright.forecast import ForecastResult
from seatwright.progress import SILENT, Progress
from seatwright.survey import PathSurvey
from seatwright.workflows.caliper import ByHand, check_by_hand
from seatwright.workflows.envelope import encode_json, make_envelope
from seatwright.workflows.parts import Part, Parts, compute_part
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseSource, Clock, FolderStore
from seatwright.workflows.results import Dossier
from seatwright.workflows.summary import summarize_hollow, summarize_job, write_headline
from seatwright.workflows.survey import SurfaceSurvey
from seatwright.workflows.timetable import BenchDay

__all__ = ["DossierPrinter", "dossier_envelope", "gather_dossier", "write_dossier"]

_NOT_COMPUTED = "This was stopped, or failed; it can be computed again."
_SHARES = {Part.CAST: (0.05, 0.7), Part.FORECAST: (0.7, 0.95), Part.TIMETABLE: (0.95, 0.96), Part.SURVEY: (0.96, 0.99)}
"""Part of the whole that each takes."""


class DossierPrinter(Protocol):
    """Turns a dossier into files: page, PDFs, figures."""

    def __call__(self, dossier: Dossier, *, envelope_json: bytes, progress: Progress) -> Mapping[str, bytes]:
        """Return every file by its path inside the dossier folder."""
        ...


def gather_dossier(
    source: CaseSource,
    *,
    now: datetime | None,
    clock: Clock,
    quick: bool = False,
    parts: Parts | None = None,
    progress: Progress = SILENT,
) -> Dossier:
    """Run every step that the case has something for and gather the results.

    `quick` leaves out what takes seconds; `parts` were computed before, and what is missing in them was stopped.
    """
    progress.report(0.0, "reading the case")
    plan = plan_case(source, now=now, clock=clock)
    case = plan.bundle.case
    nothing = (None, "") if quick else (None, _NOT_COMPUTED)
    if parts is None:
        parts = Parts() if quick else _compute_all(source, plan, progress)
    casts, scan_files = parts.cast or ((), ())
    by_hand = check_by_hand(source, case)
    fit, no_fit = parts.forecast or nothing
    day, no_day = parts.timetable or nothing
    path, no_path = parts.survey or nothing
    checked = [f for step in casts for f in step.result.findings]
    if by_hand is not None:
        checked += [f for f in by_hand.findings if f.severity is not Severity.NOTE]
        scan_files = (*scan_files, *by_hand.inputs)
    if path is not None:
        checked += [f for f in path.findings if f.severity is not Severity.NOTE]
        scan_files = tuple({f.name: f for f in (*scan_files, *path.inputs[len(plan.bundle.inputs) :])}.values())
    findings = sort_findings((*plan.findings, *checked, *(fit.findings if fit is not None else ())))
    headline, severity = write_headline(findings)
    return Dossier(
        case=case,
        bench=plan.bundle.bench,
        state=plan.bundle.state,
        now=plan.bundle.now,
        inputs=(*plan.bundle.inputs, *scan_files),
        support=plan.support,
        axes=plan.axes,
        dies=plan.dies,
        pour=plan.pour,
        casts=casts,
        headline=headline,
        headline_severity=severity,
        hollow=summarize_hollow(plan, casts),
        job=summarize_job(plan, casts, fit, path.result if path is not None else None, by_hand=by_hand),
        findings=findings,
        day=day,
        no_day=no_day,
        fit=fit,
        no_fit=no_fit,
        path=path.result if path is not None else None,
        path_scan=path.bench if path is not None else None,
        no_path=no_path,
        by_hand=by_hand,
    )


def _compute_all(source: CaseSource, plan: Plan, progress: Progress) -> Parts:
    """Compute every part; the forecast after the cast check that it rests on."""
    parts = Parts()
    for part, share in _SHARES.items():
        value: Any = compute_part(source, plan, part, parts, progress=progress.part(*share))
        parts = replace(parts, **{part.value: value})
    return parts


def _survey_result(path: PathSurvey | None, scan: SurfaceSurvey | None) -> dict[str, object] | None:
    """Return what the dossier keeps of a survey; its findings stand with all the others."""
    if path is None:
        return None
    kept = {f.name: getattr(path, f.name) for f in fields(path) if f.name != "findings"}
    return {**kept, "bench": None if scan is None else {k: v for k, v in scan.result().items() if k != "path"}}


def _forecast_result(fit: ForecastResult | None) -> dict[str, object] | None:
    """Return what the dossier keeps of a forecast; its inputs one by one stand in `seatwright forecast --json`."""
    if fit is None:
        return None
    kept = [field.name for field in fields(fit) if field.name not in ("inputs", "correlations", "findings")]
    return {name: getattr(fit, name) for name in kept}


def _by_hand_result(by_hand: ByHand | None) -> dict[str, object] | None:
    """Return what caliper and foil say, the sheets left out."""
    if by_hand is None:
        return None
    answers = {"caliper": by_hand.caliper, "index": by_hand.index}
    return {name: answer.result for name, answer in answers.items() if answer is not None}


def _timetable_result(day: BenchDay | None) -> dict[str, object] | None:
    """Return what the dossier keeps of a timetable; how long the search took would differ from run to run."""
    if day is None:
        return None
    table = day.timetable
    return {
        "tasks": table.tasks,
        "objective": table.objective,
        "bound": table.bound,
        "proven": table.proven,
        "late": table.late,
        "misses": table.misses,
    }


def dossier_envelope(dossier: Dossier) -> dict[str, object]:
    """Return ``dossier.json``: every step's result in one envelope, surfaces left out."""
    result = {
        "case": dossier.case,
        "now": dossier.now,
        "headline": dossier.headline,
        "job": dossier.job,
        "support": dossier.support,
        "axes": dossier.axes,
        "dies": dossier.dies,
        "pour": dossier.pour,
        "timetable": _timetable_result(dossier.day),
        "cast": [
            {
                "reference": step.reference_scan.id,
                "poured": step.poured_scan.id,
                "check": step.result,
                "deviation": step.figures,
            }
            for step in dossier.casts
        ],
        "by_hand": _by_hand_result(dossier.by_hand),
        "forecast": _forecast_result(dossier.fit),
        "survey": _survey_result(dossier.path, dossier.path_scan),
    }
    return make_envelope("dossier", inputs=dossier.inputs, result=result, findings=dossier.findings)


def write_dossier(
    source: CaseSource,
    out: str,
    *,
    printer: DossierPrinter,
    store: FolderStore,
    now: datetime | None,
    clock: Clock,
    progress: Progress = SILENT,
) -> tuple[Dossier, str]:
    """Gather, print and save the dossier of a case; return it and the folder's path."""
    store.require_free(out)
    dossier = gather_dossier(source, now=now, clock=clock, progress=progress.part(0.0, 0.6))
    envelope = encode_json(dossier_envelope(dossier), indent=1).encode()
    files = printer(dossier, envelope_json=envelope, progress=progress.part(0.6, 0.95))
    progress.report(0.96, "writing the dossier")
    return dossier, store.write_whole(out, files)
