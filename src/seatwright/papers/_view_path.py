"""The path of insertion in words: the tilt, what limits it, and what it means for each thing planned."""

from collections.abc import Sequence
from typing import Any

from seatwright.papers._words import view_finding
from seatwright.quantities import tell_signed
from seatwright.survey import MEASURES, PathAnswer, PathSurvey, PathWindow, SideLimit
from seatwright.workflows.results import Dossier
from seatwright.workflows.survey import SurfaceSurvey

__all__ = ["view_path"]


def view_path(dossier: Dossier) -> dict[str, Any]:
    """Return everything that is said of the path; ``verdict`` is empty where there is none."""
    survey = dossier.path
    if survey is None:
        return {"verdict": "", "why_not": dossier.no_path}
    answer = survey.path
    return {
        "verdict": _verdict(survey),
        "is_grave": answer is None,
        "words": answer.tilt.words if answer is not None else "",
        "table": _table(answer, survey.frame.u_deg, survey.frame.how) if answer is not None else "",
        "because": answer.because if answer is not None else "",
        "limits": [_limit(side) for side in survey.window.sides],
        "windows": [_window(w) for w in (survey.window, survey.window_floating) if w is not None],
        "attachments": _attachments(survey),
        "holds": _holds(answer) if answer is not None else [],
        "sides": [t.side for t in answer.trade_offs] if answer is not None else [],
        "measures": _measures(answer) if answer is not None else [],
        "scan": _scan(dossier.path_scan, [area.id for area in dossier.case.relief])
        if dossier.path_scan is not None
        else [],
        "wax": list(dossier.path_scan.wax_steps) if dossier.path_scan is not None else [],
        "findings": [view_finding(f) for f in survey.findings],
        "why_not": "",
    }


def _verdict(survey: PathSurvey) -> str:
    if survey.path is None:
        return survey.no_path
    if survey.is_fixed:
        return f"The path is fixed by {' and '.join(survey.fixed_by)}"
    return "A path is found"


def _table(path: PathAnswer, u_deg: float, how: str) -> str:
    tilt = path.tilt
    known = f", all to ±{2 * u_deg:.1f} (95 %: {how})" if u_deg > 0 else ""
    return (
        f"Seen from the side {_signed(tilt.posterior_deg, 1)}, from the front {_signed(tilt.left_deg, 1)} "
        f"degrees (+: to the back, to the patient's left); on a tilting table first axis "
        f"{_signed(tilt.table_first_deg, 1)}, second {_signed(tilt.table_second_deg, 1)}{known}."
    )


def _signed(value: float, n_places: int) -> str:
    return tell_signed(value, n_places).replace("-", "\N{MINUS SIGN}")


def _limit(side: SideLimit) -> dict[str, str]:
    opening = "" if side.opening_um_per_deg is None else f"{side.opening_um_per_deg:.0f}"
    ends = side.limit if side.feature == "search" else f"{side.feature}: {side.limit}"
    return {"side": side.side, "reach": f"{side.reach_deg:.2f}", "ends": ends, "opening": opening}


def _window(window: PathWindow) -> str:
    name = "Males centered" if window.seat == "centered" else "Partial free to sit to one side"
    if window.is_empty:
        return f"{name}: no window."
    return (
        f"{name}: {window.in_radius_deg:.2f} degrees to the nearest limit, {window.antero_posterior_deg:.2f} front to "
        f"back, {window.lateral_deg:.2f} side to side."
    )


def _attachments(survey: PathSurvey) -> list[dict[str, str]]:
    fits = {f.id: f for f in survey.path.attachments} if survey.path is not None else {}
    return [
        {
            "id": a.id,
            "gap": f"{a.gap_per_side_um:.0f} µm per side" if a.gap_per_side_um else "none: it wedges",
            "centered": f"{a.centered_deg:.2f}",
            "floating": f"{a.floating_deg:.2f}",
            "says": fits[a.id].says if a.id in fits else "no path",
        }
        for a in survey.attachments
    ]


def _holds(path: PathAnswer) -> list[dict[str, str]]:
    rows = []
    for p in path.planes:
        says = p.says if p.says == "not read" else f"{p.says}, {abs(p.opens_deg):.1f} degrees"
        rows.append({"id": p.id, "tooth": str(p.tooth), "says": says, "source": ""})
    for clasp in path.clasps:
        read = "not read"
        if clasp.reads_mm is not None:
            read = f"reads {clasp.reads_mm:.2f} ± {2 * clasp.u_mm:.2f} mm (95 %, {clasp.how}): {clasp.says}"
        says = f"{read}; wants {clasp.wanted_mm:.2f} mm"
        source = clasp.wanted_source.shown()
        rows.append({"id": clasp.clasp, "tooth": str(clasp.tooth), "says": says, "source": source})
    return rows


def _scan(scan: SurfaceSurvey, planned: Sequence[str]) -> list[str]:
    """Return what the bench needs of the reference scan along the path: tripod marks, block-out and relief."""
    marks, fill, told = scan.tripod, scan.fill, []
    if marks is not None:
        sides = ", ".join(f"{side:.0f}" for side in marks.sides_mm)
        told.append(
            f"Tripod marks 1, 2, 3, drawn above, {sides} mm apart, at one height along the path: they bring the tilt "
            f"back to ±{2 * marks.u_retilt_deg[0]:.2f} degree (95 %), if each is good to {marks.u_mark_mm:g} mm "
            "(judgement)."
        )
    else:
        told.append("Tripod marks: no height offers three that are free and wide enough apart.")
    if fill is not None:
        ledges = f", with {fill.n_ledges} ledges at the clasp tips" if fill.n_ledges else ""
        told.append(
            f"Block-out parallel to the path{ledges}: {fill.volume_mm3:.0f} mm³; as solids by "
            "seatwright survey CASE --block-out FILE, relief pads by --relief."
        )
    names = planned if len(planned) == len(scan.pads) else [""] * len(scan.pads)  # one off the scan is a finding
    told += [
        f"{f'Relief {name}'.rstrip()}: {pad.thickness_mm:.2f} mm of wax over {pad.area_mm2:.0f} mm², "
        f"{pad.volume_mm3:.0f} mm³."
        for name, pad in zip(names, scan.pads, strict=True)
    ]
    return told


def _measures(path: PathAnswer) -> list[dict[str, Any]]:
    if path.measures is None:
        return []
    rows = []
    for measure in MEASURES:
        changes = [getattr(t, measure.name, None) for t in path.trade_offs]
        rows.append(
            {
                "words": f"{measure.words}, {measure.unit}",
                "here": f"{getattr(path.measures, measure.name):.2f}",
                "changes": ["" if c is None else _signed(c, 2) for c in changes],
            }
        )
    return rows
