"""A case kept in a folder: ``case.toml``, ``log.jsonl``, ``bench.toml`` and its scans.

Owns where things are and that nothing outside the folder is read. What the documents mean stands in `case`.
"""

import hashlib
from datetime import datetime
from pathlib import Path

from seatwright.case import Bench, Case, Scan, check_log, fold_events, path_fault
from seatwright.errors import CaseError, Fault, InputError, MeshError
from seatwright.files.documents import read_bench, read_case, read_log
from seatwright.files.meshes import check_arch_extent, parse_surface
from seatwright.mesh import Surface
from seatwright.workflows.ports import CaseBundle, Clock, InputFile

__all__ = ["FolderCaseSource", "describe_file"]

_HINT = "mend what is listed; nothing was written"


def describe_file(path: Path, name: str) -> InputFile:
    """Return name, hash and size of a file that a result rests on."""
    data = path.read_bytes()
    return InputFile(name, hashlib.sha256(data).hexdigest(), len(data))


class FolderCaseSource:
    """Reads one case folder; implements `workflows.ports.CaseSource`.

    Parameters
    ----------
    folder : Path
    bench : Path, optional
        The bench file, when it is kept outside the case folder because several cases share it.
    """

    def __init__(self, folder: Path, *, bench: Path | None = None) -> None:
        self._folder = folder
        self._bench = bench or folder / "bench.toml"

    def load(self, *, now: datetime | None, clock: Clock) -> CaseBundle:
        """Read and validate case, bench and log together.

        Raises
        ------
        CaseError
            With every fault of all three files.
        """
        if not (self._folder / "case.toml").is_file():
            raise CaseError(
                f"{self._folder} holds no case.toml",
                hint="give the folder of a case; `seatwright demo` writes one to look at",
                details={"folder": str(self._folder)},
            )
        inputs: list[InputFile] = []
        case, faults = read_case(self._take(self._folder / "case.toml", "case.toml", inputs))
        bench, bench_faults = self._read_bench(inputs)
        log = self._folder / "log.jsonl"
        data = self._take(log, "log.jsonl", inputs) if log.exists() else b""
        events, lines, log_faults = read_log(data)
        moment = now or (case.as_of if case is not None else None) or clock.now()
        found = [*faults, *bench_faults, *log_faults, *check_log(events, case, now=moment, lines=lines)]
        if case is not None:
            found += self._missing_files(case)
        if found or case is None or bench is None:
            n = len(found)
            raise CaseError(
                f"{self._folder.name}: {n} fault{'s' if n != 1 else ''}: {found[0].where}: {found[0].what}",
                hint=_HINT,
                faults=found,
            )
        state = fold_events(events, case, now=moment)
        return CaseBundle(case, events, bench, tuple(inputs), state, moment)

    def surface(self, scan: Scan) -> tuple[Surface, InputFile]:
        """Read a scan in mm; refuse one that cannot be the arch that the case says it is."""
        surface, file = self._read(scan.file, scan)
        check_arch_extent(surface, what=f"scan '{scan.id}' ({scan.length_unit})", file=scan.file)
        return surface, file

    def region_surface(self, name: str, scan: Scan) -> tuple[Surface, InputFile]:
        """Read a unit's own surface file, in the length unit of `scan`."""
        return self._read(name, scan)

    def _read(self, name: str, scan: Scan) -> tuple[Surface, InputFile]:
        inputs: list[InputFile] = []
        try:
            data = self._take(self._inside(name), name, inputs)
        except InputError as error:
            raise MeshError(error.message, hint=error.hint, details=error.details) from error
        return parse_surface(data, name=name, length_unit=scan.length_unit.value), inputs[0]

    def _read_bench(self, inputs: list[InputFile]) -> tuple[Bench | None, tuple[Fault, ...]]:
        if not self._bench.is_file():
            return None, (Fault("bench.toml", "is missing", "state people, equipment and stock in bench.toml"),)
        return read_bench(self._take(self._bench, "bench.toml", inputs))

    def _take(self, path: Path, name: str, inputs: list[InputFile]) -> bytes:
        try:
            data = path.read_bytes()
        except OSError as error:
            raise InputError(
                f"{name}: cannot be read ({error.strerror})",
                hint="check that the file is there and may be read",
                details={"file": name},
            ) from error
        inputs.append(InputFile(name, hashlib.sha256(data).hexdigest(), len(data)))
        return data

    def _inside(self, name: str) -> Path:
        wrong = path_fault(name)
        path = self._folder / name
        if not wrong and not path.resolve().is_relative_to(self._folder.resolve()):
            wrong = "leads outside the case folder"
        if wrong:
            raise InputError(f"{name}: {wrong}", hint="keep the scans of a case inside its folder")
        return path

    def _missing_files(self, case: Case) -> list[Fault]:
        named = [(f"scan[{i}].file", scan.file) for i, scan in enumerate(case.scan)]
        named += [(f"region[{i}].mesh", region.mesh) for i, region in enumerate(case.region) if region.mesh]
        faults = []
        for where, name in named:
            if path_fault(name):
                continue  # already told by the case's own validation
            path = self._folder / name
            if not path.resolve().is_relative_to(self._folder.resolve()):
                what, hint = f"{name!r} leads outside the case folder", "keep the file itself inside the folder"
            elif not path.is_file():
                what, hint = f"the file {name!r} is not there", "put the file into the case folder, or mend the path"
            else:
                continue
            faults.append(Fault(f"case.toml: {where}", what, hint))
        return faults
