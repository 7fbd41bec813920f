"""Builds the adapters, lazily: the one place that knows both the ports and what stands behind them."""

import os
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from seatwright.arch import RegionSpec
    from seatwright.forecast import OwnFigures
    from seatwright.mesh import Surface
    from seatwright.progress import Progress
    from seatwright.record import Record
    from seatwright.workflows.caliper import IndexSource, SheetSource
    from seatwright.workflows.dossier import DossierPrinter
    from seatwright.workflows.entry import DraftStore
    from seatwright.workflows.ports import CaseBundle, CaseSource, Clock, EventLog, FolderStore, InputFile
    from seatwright.workflows.results import CastStep, Dossier

__all__ = [
    "LooseScans",
    "SystemClock",
    "caliper_sheet",
    "caliper_template",
    "case_of_record",
    "compile_kernels",
    "create_record",
    "dossier_place",
    "dossier_printer",
    "drafts_of_record",
    "folder_store",
    "index_sheet",
    "index_template",
    "is_in_record",
    "log_of_record",
    "open_case",
    "open_log",
    "open_record",
    "read_loose_part",
    "read_loose_scans",
    "read_own_figures",
    "use_kernel_cache",
    "user_cache",
    "write_cast_pictures",
    "write_demo_case",
    "write_output",
    "write_solids",
    "write_surface",
]


@dataclass(frozen=True, slots=True, eq=False)
class LooseScans:
    """Reference, scans of the poured cast and the unit regions, read from files that belong to no case."""

    reference: "Surface"
    poured: "tuple[Surface, ...]"
    regions: "tuple[RegionSpec, ...]"
    inputs: "tuple[InputFile, ...]"


class SystemClock:
    """The machine's clock, in UTC."""

    def now(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the clock that everybody else is handed


def open_case(folder: Path, *, bench: Path | None = None) -> "CaseSource":
    """Return the source of a case kept in a folder, or in a practice record when named RECORD/CODE."""
    from seatwright.files import FolderCaseSource  # noqa: PLC0415

    if is_in_record(folder):
        return case_of_record(open_record(folder.parent), folder.name, bench=bench)
    return FolderCaseSource(folder, bench=bench)


def is_in_record(case: Path) -> bool:
    """Return whether a case is named as RECORD/CODE: its parent is the folder of a practice record."""
    return (case.parent / "record.toml").is_file()


def open_record(folder: Path) -> "Record":
    """Open the practice record of a folder."""
    from seatwright.record import open_record as open_place  # noqa: PLC0415

    return open_place(folder)


def create_record(folder: Path, *, by: str, database: str | None) -> "Record":
    """Make an empty practice record."""
    from seatwright.record import create_record as create_place  # noqa: PLC0415

    return create_place(folder, now=SystemClock().now(), by=by, database=database)


def case_of_record(record: "Record", code: str, *, bench: Path | None = None) -> "CaseSource":
    """Return the source of a case of an open record."""
    from seatwright.files import FilesCaseSource  # noqa: PLC0415

    return FilesCaseSource(record.files(code), bench=bench, remembered=record.remembered)


def log_of_record(record: "Record", bundle: "CaseBundle", clock: "Clock") -> "EventLog":
    """Return the log of a case that was read from an open record."""
    from seatwright.workflows.practice_log import open_record_log  # noqa: PLC0415

    return open_record_log(record, bundle, clock=clock)


def drafts_of_record(record: "Record") -> "DraftStore":
    """Return the drafts of an open record."""
    from seatwright.record import Drafts  # noqa: PLC0415

    return Drafts(record.database)


def open_log(folder: Path, bundle: "CaseBundle") -> "EventLog":
    """Return the log of a case, to be added to while it is still the one that was read."""
    from seatwright.files import FolderEventLog  # noqa: PLC0415

    if is_in_record(folder):
        return log_of_record(open_record(folder.parent), bundle, SystemClock())
    return FolderEventLog(folder, sha256={file.name: file.sha256 for file in bundle.inputs}.get("log.jsonl"))


def dossier_place(case: Path) -> Path:
    """Return where a dossier goes when nobody says: into the case folder, or beside it for a case of the record."""
    return Path(f"{case.name}-dossier") if is_in_record(case) else case / "dossier"


def folder_store(root: Path) -> "FolderStore":
    """Return the store that writes folders below `root`, whole or not at all."""
    from seatwright.files import FolderFiles  # noqa: PLC0415

    return FolderFiles(root)


def dossier_printer() -> "DossierPrinter":
    """Return what turns a dossier into page, papers and figures; surfaces are encoded by the files adapter."""
    from seatwright.files import encode_glb  # noqa: PLC0415
    from seatwright.papers import render_dossier  # noqa: PLC0415

    def print_dossier(dossier: "Dossier", *, envelope_json: bytes, progress: "Progress") -> Mapping[str, bytes]:
        return render_dossier(dossier, envelope_json=envelope_json, encode_glb=encode_glb, progress=progress)

    return print_dossier


def write_cast_pictures(
    folder: Path, casts: "Sequence[CastStep]", *, envelope_json: bytes, progress: "Progress"
) -> str:
    """Write the pictures and the result of cast checks as one folder, whole or not at all; return its path."""
    from seatwright.files import encode_glb  # noqa: PLC0415
    from seatwright.papers import render_cast_pictures  # noqa: PLC0415

    pictures = render_cast_pictures(casts, encode_glb=encode_glb, progress=progress)
    target = folder.resolve()
    return folder_store(target.parent).write_whole(target.name, {"cast.json": envelope_json, **pictures})


def read_loose_scans(reference: Path, poured: "Sequence[Path]", unit_regions: Path, *, length_unit: str) -> LooseScans:
    """Read the surface files and the unit regions, all in the stated length unit."""
    from seatwright.files import describe_file, read_unit_regions  # noqa: PLC0415

    [(known, file)] = read_scans([reference], "--reference", length_unit)
    read = read_scans(poured, "--poured", length_unit)
    regions = read_unit_regions(unit_regions, length_unit=length_unit)
    inputs = (file, *(f for _, f in read), describe_file(unit_regions, "--unit-regions"))
    return LooseScans(known, tuple(surface for surface, _ in read), regions, inputs)


def read_scans(paths: "Sequence[Path]", option: str, length_unit: str) -> "list[tuple[Surface, InputFile]]":
    """Read surface files that an option names, all in the stated length unit."""
    from seatwright.files import describe_file, read_surface  # noqa: PLC0415

    return [(read_surface(path, length_unit=length_unit), describe_file(path, option)) for path in paths]


def caliper_sheet(path: Path) -> "SheetSource":
    """Return the source of caliper readings kept in a CSV file."""
    from seatwright.files import CaliperSheetFile  # noqa: PLC0415

    return CaliperSheetFile(path)


def caliper_template(marks: Sequence[str], *, decimal_comma: bool = False) -> bytes:
    """Return a readings file to fill in for these marks."""
    from seatwright.files import caliper_template as make_template  # noqa: PLC0415

    return make_template(marks, decimal_comma=decimal_comma)


def index_sheet(path: Path) -> "IndexSource":
    """Return the source of an index test's foil readings kept in a CSV file."""
    from seatwright.files import IndexSheetFile  # noqa: PLC0415

    return IndexSheetFile(path)


def index_template(seats: Sequence[str], *, decimal_comma: bool = False) -> bytes:
    """Return an index sheet to fill in for these seats."""
    from seatwright.files import index_template as make_template  # noqa: PLC0415

    return make_template(seats, decimal_comma=decimal_comma)


def write_output(path: Path, data: bytes, *, may_replace: bool) -> None:
    """Write one file whole or not at all."""
    from seatwright.files import write_file_whole  # noqa: PLC0415

    write_file_whole(path, data, may_replace=may_replace)


def read_loose_part(
    path: Path, *, length_unit: str, option: str, as_written: bool = False
) -> "tuple[Surface, InputFile]":
    """Read a loose surface file in the stated length unit; `as_written` keeps vertices that share a place apart."""
    from seatwright.files import describe_file, read_surface  # noqa: PLC0415

    return read_surface(path, length_unit=length_unit, as_written=as_written), describe_file(path, option)


def write_surface(
    path: Path, surface: "Surface", vertex_properties: "Mapping[str, NDArray[np.float64] | NDArray[np.uint8]]"
) -> None:
    """Write a PLY file with more properties a vertex, whole or not at all."""
    from seatwright.files import encode_ply, write_file_whole  # noqa: PLC0415

    write_file_whole(path, encode_ply(surface, vertex_properties), may_replace=True)


def write_solids(path: Path, solids: "Sequence[Surface]") -> None:
    """Write closed solids as the name's ending says: STL, PLY, 3MF or GLB; whole or not at all."""
    from seatwright.files import encode_solids, write_file_whole  # noqa: PLC0415

    write_file_whole(path, encode_solids(solids, name=path.name), may_replace=True)


def write_demo_case(folder: Path, *, progress: "Progress") -> str:
    """Make the invented case with its scans and write its folder whole; return the folder's path."""
    from seatwright.demo import make_demo_case  # noqa: PLC0415
    from seatwright.files import bench_to_toml, case_to_toml, encode_ply, events_to_jsonl  # noqa: PLC0415

    made = make_demo_case(progress=progress.part(0.0, 0.9))
    files = {
        "case.toml": case_to_toml(made.case),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": events_to_jsonl(made.events),
        **{name: encode_ply(scan.surface()) for name, scan in made.scans.items()},
    }
    progress.report(0.95, "writing the case")
    return folder_store(folder.parent).write_whole(folder.name, files)


def read_own_figures(path: Path) -> "tuple[OwnFigures, InputFile]":
    """Read the figures that replace the published ones."""
    from seatwright.files import read_own_figures as read  # noqa: PLC0415

    return read(path)


def use_kernel_cache() -> Path:
    """Point compiled kernels to a lasting cache, before the compiler is imported; a temporary one when refused."""
    chosen = Path(os.environ.get("NUMBA_CACHE_DIR") or user_cache() / "kernels")
    try:
        chosen.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=chosen):
            pass
    except OSError:
        chosen = Path(tempfile.gettempdir()) / f"seatwright-kernels-{os.getuid()}"
        chosen.mkdir(parents=True, exist_ok=True)
    os.environ["NUMBA_CACHE_DIR"] = str(chosen)
    return chosen


def user_cache() -> Path:
    """Return where this machine's user keeps what can be made again."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "seatwright"


def compile_kernels() -> None:
    """Run one small cast check and one picture so that every kernel is compiled and cached."""
    from seatwright.demo import rehearse  # noqa: PLC0415

    rehearse()


if __name__ == "__main__":
    cache = use_kernel_cache()
    compile_kernels()
    sys.stdout.write(f"Kernels compiled into {cache}\n")
