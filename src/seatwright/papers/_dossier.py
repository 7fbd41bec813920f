"""Every file of a dossier folder from one value: page, papers, figures, data."""

from collections.abc import Mapping

from seatwright.figures import (
    draw_arch_sheet,
    draw_clock,
    draw_fit,
    draw_path_window,
    draw_places,
    draw_ranked_links,
    draw_timetable_bars,
    draw_undercut_map,
)
from seatwright.papers._codes import draw_code
from seatwright.papers._page import render_page
from seatwright.papers._pictures import GlbEncoder, draw_by_hand, draw_cast_figures, paint_cast
from seatwright.papers._step_cards import typeset_step_cards
from seatwright.papers._typeset import rasterize_svg, typeset_pdf
from seatwright.papers._view import view_dossier
from seatwright.progress import SILENT, Progress
from seatwright.workflows.results import Dossier

__all__ = ["draw_figures", "render_dossier"]


def render_dossier(
    dossier: Dossier, *, envelope_json: bytes, encode_glb: GlbEncoder, progress: Progress = SILENT
) -> Mapping[str, bytes]:
    """Return every file of the dossier folder by its path in it.

    Parameters
    ----------
    dossier : Dossier
    envelope_json : bytes
        Passed through as ``dossier.json``.
    encode_glb : callable
        Turns vertices (n, 3) in mm, faces (m, 3), colors (n, 3) uint8 and a legend into the bytes of a GLB file.

    Notes
    -----
    The same dossier gives the same bytes.
    """
    progress.report(0.0, "drawing the figures")
    figures = draw_figures(dossier)
    view = view_dossier(dossier)
    files: dict[str, bytes] = {f"figures/{name}.svg": svg.encode() for name, svg in figures.items()}
    for k, (name, svg) in enumerate(figures.items()):
        progress.report(0.1 + 0.4 * k / len(figures), f"turning {name} into pixels")
        files[f"figures/{name}.png"] = rasterize_svg(svg)
    progress.report(0.55, "typesetting the bench card")
    drawings = {f"{n}.svg": svg.encode() for n, svg in figures.items() if not n.startswith("deviation")}
    files["bench-card.pdf"] = typeset_pdf("bench-card.typ", view, now=dossier.now, files=drawings)
    progress.report(0.75, "typesetting the die labels")
    files["die-labels.pdf"] = typeset_pdf(
        "die-labels.typ", {**view, "labels": _labels(view)}, now=dossier.now, files=_codes(view)
    )
    if dossier.day is not None:
        files["step-cards.pdf"] = typeset_step_cards(dossier.day)
    progress.report(0.9, "writing the page")
    files["dossier.json"] = envelope_json
    for number, cast in enumerate(dossier.casts, start=1):
        files[f"deviation-{number}.glb"] = paint_cast(cast, encode_glb)
    files["index.html"] = render_page(view, figures=figures, files=sorted(files)).encode()
    return dict(sorted(files.items()))


def draw_figures(dossier: Dossier) -> dict[str, str]:
    """Return every drawing of a dossier as SVG text by name."""
    figures = {"arch-sheet": draw_arch_sheet(dossier)}
    if dossier.pour.impressions:
        figures["clock"] = draw_clock(dossier.pour)
    if dossier.day is not None:
        figures["timetable"] = draw_timetable_bars(dossier.day.timetable, zone=dossier.day.zone)
    for number, cast in enumerate(dossier.casts, start=1):
        figures |= draw_cast_figures(cast, number)
    if dossier.by_hand is not None:
        figures |= draw_by_hand(dossier.by_hand)
    if dossier.fit is not None:
        figures["fit"] = draw_fit(dossier.fit)
        figures["places"] = draw_places(dossier.fit.features)
        figures["ranked-links"] = draw_ranked_links(dossier.fit)
    if dossier.path is not None:
        figures["path-window"] = draw_path_window(dossier.path)
    if dossier.path_scan is not None:
        scan = dossier.path_scan
        frame = dossier.path.frame if dossier.path is not None else None
        name = "the reference scan"
        figures["undercut-map"] = draw_undercut_map(scan.field, scan.lines, scan.tripod, name=name, frame=frame)
    return figures


def _labels(view: dict[str, object]) -> list[dict[str, str]]:
    """Return one label per die: what it says and what its code says."""
    units = view["units"]
    assert isinstance(units, list)  # noqa: S101 - built by view_dossier
    return [
        {
            "label": unit["label"],
            "technique": unit["technique"],
            "never": unit["never"],
            "code": code_text(str(view["code"]), unit),
            "image": f"code-{unit['tooth']}.svg",
        }
        for unit in units
        if unit["has_die"]
    ]


def code_text(case_code: str, unit: Mapping[str, object]) -> str:
    """Return what a die's square code says: case, ISO 3950 tooth number, technique; ASCII only."""
    return f"{case_code}/{unit['tooth']}/{unit['word']}"


def _codes(view: dict[str, object]) -> dict[str, bytes]:
    return {label["image"]: draw_code(label["code"]).encode() for label in _labels(view)}
