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
    from seatwright.arch import RegionSpec
    from seatwright.mesh import Surface
    from seatwright.progress import Progress
    from seatwright.workflows.dossier import DossierPrinter
    from seatwright.workflows.ports import CaseSource, EventLog, FolderStore, InputFile
    from seatwright.workflows.results import CastStep, Dossier

__all__ = [
    "LooseScans",
    "SystemClock",
    "compile_kernels",
    "dossier_printer",
    "folder_store",
    "open_case",
    "open_log",
    "read_loose_scans",
    "use_kernel_cache",
    "write_cast_pictures",
    "write_demo_case",
]


@dataclass(frozen=True, slots=True, eq=False)
class LooseScans:
    """Two surfaces and the unit regions, read from files that belong to no case."""

    reference: "Surface"
    poured: "Surface"
    regions: "tuple[RegionSpec, ...]"
    inputs: "tuple[InputFile, ...]"


class SystemClock:
    """The machine's clock, in UTC."""

    def now(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the clock that everybody else is handed


def open_case(folder: Path, *, bench: Path | None = None) -> "CaseSource":
    """Return the source of a case kept in a folder."""
    from seatwright.files import FolderCaseSource  # noqa: PLC0415

    return FolderCaseSource(folder, bench=bench)


def open_log(folder: Path, inputs: "Sequence[InputFile]") -> "EventLog":
    """Return the log of a case folder, to be added to while it is still the one that was read."""
    from seatwright.files import FolderEventLog  # noqa: PLC0415

    return FolderEventLog(folder, sha256=next((file.sha256 for file in inputs if file.name == "log.jsonl"), None))


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


def read_loose_scans(reference: Path, poured: Path, unit_regions: Path, *, length_unit: str) -> LooseScans:
    """Read two surface files and the unit regions, all in the stated length unit."""
    from seatwright.files import describe_file, read_surface, read_unit_regions  # noqa: PLC0415

    return LooseScans(
        reference=read_surface(reference, length_unit=length_unit),
        poured=read_surface(poured, length_unit=length_unit),
        regions=read_unit_regions(unit_regions, length_unit=length_unit),
        inputs=tuple(
            describe_file(path, name)
            for name, path in (("--reference", reference), ("--poured", poured), ("--unit-regions", unit_regions))
        ),
    )


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


def use_kernel_cache() -> Path:
    """Point compiled kernels to a lasting cache, before the compiler is imported; a temporary one when refused."""
    chosen = Path(os.environ.get("NUMBA_CACHE_DIR") or _user_cache() / "seatwright" / "kernels")
    try:
        chosen.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=chosen):
            pass
    except OSError:
        chosen = Path(tempfile.gettempdir()) / f"seatwright-kernels-{os.getuid()}"
        chosen.mkdir(parents=True, exist_ok=True)
    os.environ["NUMBA_CACHE_DIR"] = str(chosen)
    return chosen


def _user_cache() -> Path:
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


def compile_kernels() -> None:
    """Run one small cast check and one picture so that every kernel is compiled and cached."""
    from seatwright.demo import rehearse  # noqa: PLC0415

    rehearse()


if __name__ == "__main__":
    cache = use_kernel_cache()
    compile_kernels()
    sys.stdout.write(f"Kernels compiled into {cache}\n")
