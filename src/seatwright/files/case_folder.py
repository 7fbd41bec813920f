"""A case kept in a folder: ``case.toml``, ``log.jsonl``, ``bench.toml`` and its scans.

Owns where things are, that nothing outside the folder is read, and that nothing is read before its size is known.
What the documents mean stands in `case`; their text in `documents`.
"""

import hashlib
from datetime import datetime
from pathlib import Path

from seatwright.case import Case, Scan, check_log, closest_hint, fold_events, path_fault
from seatwright.errors import CaseError, Fault, InputError, MeshError
from seatwright.files.documents import MAX_DOCUMENT_BYTES, MAX_LOG_BYTES, read_bench, read_case, read_log
from seatwright.files.meshes import LARGEST_BYTES, check_arch_extent, parse_surface
from seatwright.mesh import Surface
from seatwright.workflows.ports import CaseBundle, Clock, InputFile

__all__ = ["FolderCaseSource", "describe_file"]

_BENCH, _CASE, _LOG = "bench.toml", "case.toml", "log.jsonl"


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
        self._bench = bench

    def load(self, *, now: datetime | None, clock: Clock) -> CaseBundle:
        """Read and validate case, bench and log together.

        Raises
        ------
        CaseError
            With every fault of all three files, and of the scans' places.
        """
        self._require_case()
        inputs: list[InputFile] = []
        faults: list[Fault] = []
        case_data = self._document(_CASE, inputs, faults)
        case, found = read_case(case_data) if case_data is not None else (None, ())
        faults += found
        bench_data = self._document(_BENCH, inputs, faults, outside=self._bench)
        bench, found = read_bench(bench_data) if bench_data is not None else (None, ())
        faults += found
        has_log = (self._folder / _LOG).exists() or (self._folder / _LOG).is_symlink()
        log_data = self._document(_LOG, inputs, faults) if has_log else b""
        events, lines, found = read_log(log_data) if log_data is not None else ((), (), ())
        faults += found
        moment = now or (case.as_of if case is not None else None) or clock.now()
        faults += check_log(events, case, now=moment, lines=lines)
        if case is not None:
            faults += self._missing_files(case)
        if faults or case is None or bench is None:
            raise _case_error(faults, self._folder)
        return CaseBundle(case, events, bench, tuple(inputs), fold_events(events, case, now=moment), moment)

    def surface(self, scan: Scan) -> tuple[Surface, InputFile]:
        """Read a scan in mm; refuse one that cannot be the arch that the case says it is.

        Raises
        ------
        MeshError
            Naming the file, what is wrong and what mends it.
        """
        surface, file = self._read_surface(scan.file, scan)
        check_arch_extent(surface, what=f"scan '{scan.id}' ({scan.length_unit})", file=scan.file)
        return surface, file

    def region_surface(self, name: str, scan: Scan) -> tuple[Surface, InputFile]:
        """Read a unit's own surface file, in the length unit of `scan`."""
        return self._read_surface(name, scan)

    def _require_case(self) -> None:
        if (self._folder / _CASE).is_file():
            return
        details: dict[str, object] = {"folder": str(self._folder)}
        if self._folder.is_file():
            raise CaseError(f"{self._folder} is a file", hint="give the folder that holds case.toml", details=details)
        if not self._folder.is_dir():
            raise CaseError(f"there is no folder {self._folder}", hint="check the path of the case", details=details)
        raise CaseError(
            f"{self._folder} holds no case.toml",
            hint="give the folder of a case; `seatwright demo` writes one to look at",
            details=details,
        )

    def _document(
        self, name: str, inputs: list[InputFile], faults: list[Fault], *, outside: Path | None = None
    ) -> bytes | None:
        """Read one of the three documents; on failure add a fault and return None."""
        path = outside or self._folder / name
        limit = MAX_LOG_BYTES if name == _LOG else MAX_DOCUMENT_BYTES
        if outside is None and (wrong := self._place_fault(name)):
            faults.append(Fault(name, wrong, "keep the file itself in the case folder"))
            return None
        try:
            data = _read_limited(path, limit)
        except InputError as error:
            faults.append(Fault(name, error.message, error.hint))
            return None
        inputs.append(
            InputFile(f"--bench {path.name}" if outside else name, hashlib.sha256(data).hexdigest(), len(data))
        )
        return data

    def _read_surface(self, name: str, scan: Scan) -> tuple[Surface, InputFile]:
        try:
            wrong = path_fault(name) or self._place_fault(name)
            if wrong:
                raise InputError(wrong, hint="keep the scans of a case inside its folder")
            data = _read_limited(self._folder / name, LARGEST_BYTES)
        except InputError as error:
            raise MeshError(f"{name}: {error.message}", hint=error.hint, details={"file": name}) from error
        file = InputFile(name, hashlib.sha256(data).hexdigest(), len(data))
        return parse_surface(data, name=name, length_unit=scan.length_unit.value), file

    def _place_fault(self, name: str) -> str:
        """Return what is wrong with where a name leads once links are followed; empty when it stays inside."""
        try:
            place = (self._folder / name).resolve()
        except (OSError, RuntimeError):  # a link that leads to itself
            return "is a link that leads nowhere"
        return "" if place.is_relative_to(self._folder.resolve()) else "leads outside the case folder"

    def _missing_files(self, case: Case) -> list[Fault]:
        named = [(f"scan[{i}].file", scan.file) for i, scan in enumerate(case.scan)]
        named += [(f"region[{i}].mesh", region.mesh) for i, region in enumerate(case.region) if region.mesh]
        faults = []
        for where, name in named:
            if path_fault(name):
                continue  # already told by the case's own validation
            place = f"case.toml: {where}"
            path = self._folder / name
            if wrong := self._place_fault(name):
                faults.append(Fault(place, f"{name!r} {wrong}", "keep the file itself inside the folder"))
            elif path.is_dir():
                faults.append(Fault(place, f"{name!r} is a folder", "name the file in it"))
            elif not path.is_file():
                faults.append(Fault(place, f"the file {name!r} is not there", _file_hint(path)))
        return faults


def _file_hint(path: Path) -> str:
    try:
        names = sorted(p.name for p in path.parent.iterdir() if p.is_file())
    except OSError:
        names = []
    hint = closest_hint(path.name, names, noun="file")
    return hint if hint.startswith("did you mean") else "put the file into the case folder, or mend the path"


def _read_limited(path: Path, limit: int) -> bytes:
    """Read a plain file of at most so many bytes; its size is known before anything is allocated."""
    if not path.exists():
        raise InputError("is missing", hint="put it there; the example written by `seatwright demo` shows one")
    if not path.is_file():
        raise InputError("is no plain file", hint="put the file itself there")
    try:
        size = path.stat().st_size
        if size > limit:
            raise InputError(f"is {size} bytes; at most {limit} are read", hint="check that it is the right file")
        with path.open("rb") as handle:
            data = handle.read(limit + 1)
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", hint="check that the file may be read") from error
    if len(data) > limit:
        raise InputError(f"grew beyond {limit} bytes while it was read", hint="check that it is the right file")
    return data


def _case_error(faults: list[Fault], folder: Path) -> CaseError:
    first, n = faults[0], len(faults)
    more = f" (and {n - 1} more)" if n > 1 else ""
    return CaseError(
        f"{folder.resolve().name}: {first.where}: {first.what}{more}",
        hint="mend what is listed; nothing was written",
        faults=faults,
    )
