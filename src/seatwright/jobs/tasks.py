"""The long work that the page asks for, as tasks of a worker: read from the record, computed, put on the disk."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from seatwright import wiring
from seatwright.jobs._overlays import encode_overlays
from seatwright.jobs._shelved import Shelved, shelve_files, shelve_value, take_value
from seatwright.papers import draw_figures, render_sections, say_sections, view_dossier
from seatwright.progress import Progress
from seatwright.workflows.dossier import dossier_envelope, gather_dossier
from seatwright.workflows.envelope import encode_json
from seatwright.workflows.parts import Part, Parts, compute_part_of_case

__all__ = [
    "DossierAnswer",
    "DossierOrder",
    "DossierWords",
    "PartAnswer",
    "PartOrder",
    "Shelved",
    "ShelvedParts",
    "compute_dossier",
    "compute_part",
]

ShelvedParts = Mapping[str, Shelved]
"""What was computed before, by the name of its field in `Parts`."""
_WORDS = "words.json"


@dataclass(frozen=True, slots=True)
class DossierOrder:
    """Which case, looked at when; `base` is what its files' addresses begin with; `parts` were computed before.

    `place` is the folder that the answer is written below.
    """

    record: Path
    code: str
    now: datetime
    base: str
    parts: ShelvedParts
    place: Path


@dataclass(frozen=True, slots=True)
class PartOrder:
    """Which part of which case, looked at when; `parts` are those that are there already, `place` as before."""

    record: Path
    code: str
    now: datetime
    part: Part
    parts: ShelvedParts
    place: Path


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """One part: what stands in the field of `Parts` that bears its name, on the disk."""

    part: Part
    value: Shelved


@dataclass(frozen=True, slots=True)
class DossierAnswer:
    """Everything computed of one case, in a folder on the disk.

    Attributes
    ----------
    folder : Path
    files : mapping of str to str
        Papers, pictures and data: where each lies below the folder, by its own path.
    overlays : mapping of str to str
        Poured scans over their reference: where each lies below the folder, by the scan's name.
    """

    folder: Path
    files: Mapping[str, str]
    overlays: Mapping[str, str]

    def words(self) -> "DossierWords":
        """Read what stands on the page.

        Raises
        ------
        FileNotFoundError
            The answer was let go meanwhile.
        """
        return DossierWords(**json.loads((self.folder / _WORDS).read_text(encoding="utf-8")))


@dataclass(frozen=True, slots=True)
class DossierWords:
    """The verdict, the arch sheet as SVG text, the parts of the page as HTML text, and what each says in one line."""

    headline: str
    sheet: str
    sections: Mapping[str, str]
    says: Mapping[str, Mapping[str, str]]


def compute_part(order: PartOrder, progress: Progress) -> PartAnswer:
    """Run one step of a case of the record."""
    record = wiring.open_record(order.record)
    try:
        source = wiring.case_of_record(record, order.code)
        value = compute_part_of_case(
            source, order.part, _take(order.parts), now=order.now, clock=wiring.SystemClock(), progress=progress
        )
    finally:
        record.close()
    return PartAnswer(order.part, shelve_value(order.place, order.part.value, value))


def compute_dossier(order: DossierOrder, progress: Progress) -> DossierAnswer:
    """Run every step that a case of the record has something for, and print it."""
    record = wiring.open_record(order.record)
    try:
        source = wiring.case_of_record(record, order.code)
        dossier = gather_dossier(
            source,
            now=order.now,
            clock=wiring.SystemClock(),
            parts=_take(order.parts),
            progress=progress.part(0.0, 0.6),
        )
        envelope = encode_json(dossier_envelope(dossier), indent=1).encode()
        files = wiring.dossier_printer()(dossier, envelope_json=envelope, progress=progress.part(0.6, 0.95))
        progress.report(0.95, "laying the scans over each other")
        overlays = encode_overlays(source, dossier)
    finally:
        record.close()
    figures = draw_figures(dossier)
    view = view_dossier(dossier)
    sections = render_sections(view, figures=figures, files=sorted(files), base=order.base)
    words = DossierWords(dossier.headline, figures["arch-sheet"], sections, say_sections(view))
    return _shelve(order.place, words, files, overlays)


def _take(parts: ShelvedParts) -> Parts:
    return Parts(**{name: take_value(shelved) for name, shelved in parts.items()})


def _shelve(
    place: Path, words: DossierWords, files: Mapping[str, bytes], overlays: Mapping[str, bytes]
) -> DossierAnswer:
    lies_at = {path: f"files/{path}" for path in files}
    laid_at = {scan: f"overlays/{number}" for number, scan in enumerate(overlays)}
    data = {
        _WORDS: json.dumps(asdict(words)).encode(),
        **{lies_at[path]: content for path, content in files.items()},
        **{laid_at[scan]: content for scan, content in overlays.items()},
    }
    return DossierAnswer(shelve_files(place, "papers", data), lies_at, laid_at)
