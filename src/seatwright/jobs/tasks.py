"""The long work that the page asks for, as tasks of a worker: read from the record, computed, answered as one value."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from seatwright import wiring
from seatwright.jobs._overlays import encode_overlays
from seatwright.papers import draw_figures, render_sections, view_dossier
from seatwright.progress import Progress
from seatwright.workflows.dossier import dossier_envelope, gather_dossier
from seatwright.workflows.envelope import encode_json
from seatwright.workflows.parts import Part, Parts, compute_part_of_case

__all__ = ["DossierAnswer", "DossierOrder", "PartAnswer", "PartOrder", "compute_dossier", "compute_part"]


@dataclass(frozen=True, slots=True)
class DossierOrder:
    """Which case, looked at when; `base` is what its files' addresses begin with; `parts` were computed before."""

    record: Path
    code: str
    now: datetime
    base: str
    parts: Parts | None = None


@dataclass(frozen=True, slots=True)
class PartOrder:
    """Which part of which case, looked at when; `parts` are those that are there already."""

    record: Path
    code: str
    now: datetime
    part: Part
    parts: Parts


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """One part: what stands in the field of `Parts` that bears its name."""

    part: Part
    value: Any


@dataclass(frozen=True, slots=True)
class DossierAnswer:
    """Everything computed of one case.

    Attributes
    ----------
    headline, sheet : str
        The verdict, and the arch sheet as SVG text.
    sections : mapping of str to str
        Parts of the page as HTML text.
    files : mapping of str to bytes
        Papers, pictures and data by path.
    overlays : mapping of str to bytes
        Poured scans over their reference, by the scan's name.
    """

    headline: str
    sheet: str
    sections: Mapping[str, str]
    files: Mapping[str, bytes]
    overlays: Mapping[str, bytes] = field(default_factory=dict)


def compute_part(order: PartOrder, progress: Progress) -> PartAnswer:
    """Run one step of a case of the record."""
    record = wiring.open_record(order.record)
    try:
        source = wiring.case_of_record(record, order.code)
        value = compute_part_of_case(
            source, order.part, order.parts, now=order.now, clock=wiring.SystemClock(), progress=progress
        )
    finally:
        record.close()
    return PartAnswer(order.part, value)


def compute_dossier(order: DossierOrder, progress: Progress) -> DossierAnswer:
    """Run every step that a case of the record has something for, and print it."""
    record = wiring.open_record(order.record)
    try:
        source = wiring.case_of_record(record, order.code)
        dossier = gather_dossier(
            source, now=order.now, clock=wiring.SystemClock(), parts=order.parts, progress=progress.part(0.0, 0.6)
        )
        envelope = encode_json(dossier_envelope(dossier), indent=1).encode()
        files = wiring.dossier_printer()(dossier, envelope_json=envelope, progress=progress.part(0.6, 0.95))
        progress.report(0.95, "laying the scans over each other")
        overlays = encode_overlays(source, dossier)
    finally:
        record.close()
    figures = draw_figures(dossier)
    sections = render_sections(view_dossier(dossier), figures=figures, files=sorted(files), base=order.base)
    return DossierAnswer(dossier.headline, figures["arch-sheet"], sections, files, overlays)
