"""A case read from its raw files, wherever they are kept: ``case.toml``, ``log.jsonl``, ``bench.toml`` and its scans.

Owns that everything is validated together. What the documents mean stands in `case`; their text in `documents`; where
the files are is known to `CaseFiles` alone.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, fields
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from seatwright import __version__, files
from seatwright.case import Case, Scan, check_log, fold_events, path_fault
from seatwright.errors import CaseError, Fault, InputError, MeshError
from seatwright.files._csv_table import MAX_CSV_BYTES
from seatwright.files._limited import LARGEST_BYTES, read_limited
from seatwright.files.documents import MAX_DOCUMENT_BYTES, MAX_LOG_BYTES, read_bench, read_case, read_log
from seatwright.workflows.ports import (
    CaliperSheet,
    CaseBundle,
    CaseFiles,
    Clock,
    IndexSheet,
    InputFile,
    Remembered,
    ScanVolume,
)
from seatwright.workflows.scan_volume import measure_scan_volume

if TYPE_CHECKING:
    from seatwright.mesh import Surface

__all__ = ["FilesCaseSource"]

_BENCH, _CASE, _LOG = "bench.toml", "case.toml", "log.jsonl"


class FilesCaseSource:
    """Reads one case; implements `workflows.ports.CaseSource`.

    Parameters
    ----------
    files : CaseFiles
    bench : Path, optional
        The bench file, when it is kept outside the case because several cases share it.
    remembered : Remembered, optional
        What was measured on scans before.
    """

    def __init__(self, files: CaseFiles, *, bench: Path | None = None, remembered: Remembered | None = None) -> None:
        self._files = files
        self._bench = bench
        self._remembered = remembered

    def load(self, *, now: datetime | None, clock: Clock) -> CaseBundle:
        """Read and validate case, bench and log together.

        Raises
        ------
        CaseError
            With every fault of all three files, and of the scans' places.
        """
        self._files.require()
        inputs: list[InputFile] = []
        faults: list[Fault] = []
        case_data = self._document(_CASE, inputs, faults)
        case, found = read_case(case_data) if case_data is not None else (None, ())
        faults += found
        bench_data = self._document(_BENCH, inputs, faults, outside=self._bench)
        bench, found = read_bench(bench_data) if bench_data is not None else (None, ())
        faults += found
        log_data = self._document(_LOG, inputs, faults) if self._files.has(_LOG) else b""
        events, lines, found = read_log(log_data) if log_data is not None else ((), (), ())
        faults += found
        moment = now or (case.as_of if case is not None else None) or clock.now()
        faults += check_log(events, case, now=moment, lines=lines)
        if case is not None:
            faults += self._missing_files(case)
        if faults or case is None or bench is None:
            raise _case_error(faults, self._files.title)
        return CaseBundle(case, events, bench, tuple(inputs), fold_events(events, case, now=moment), moment)

    def surface(self, scan: Scan) -> "tuple[Surface, InputFile]":
        """Read a scan in mm; refuse one that cannot be the arch that the case says it is.

        Raises
        ------
        MeshError
            Naming the file, what is wrong and what mends it.
        """
        surface, file = self._read_surface(scan.file, scan)
        files.check_arch_extent(surface, what=f"scan '{scan.id}' ({scan.length_unit})", file=scan.file)
        return surface, file

    def scan_volume(self, scan: Scan) -> ScanVolume:
        """Return the volume that a scan stands for: measured, or as this version measured the same content before."""
        sha256 = self._files.sha256_of(scan.file)
        if self._remembered is None or sha256 is None:
            return measure_scan_volume(self.surface(scan)[0])
        key = f"volume-{__version__}-{scan.length_unit.value}-{sha256}"
        if (known := _volume_of(self._remembered.recall(key))) is not None:
            return known
        volume = measure_scan_volume(self.surface(scan)[0])
        self._remembered.keep(key, asdict(volume))
        return volume

    def region_surface(self, name: str, scan: Scan) -> "tuple[Surface, InputFile]":
        """Read a unit's own surface file, in the length unit of `scan`."""
        return self._read_surface(name, scan)

    def caliper_sheet(self, name: str) -> CaliperSheet:
        """Read caliper readings kept in the case."""
        data = self._files.read(name, max_bytes=MAX_CSV_BYTES)
        readings, n_empty = files.parse_caliper_csv(data, file=name)
        return CaliperSheet(readings, n_empty, InputFile(name, hashlib.sha256(data).hexdigest(), len(data)))

    def index_sheet(self, name: str) -> IndexSheet:
        """Read an index test's foil readings kept in the case."""
        data = self._files.read(name, max_bytes=MAX_CSV_BYTES)
        readings, places, n_empty = files.parse_index_csv(data, file=name)
        return IndexSheet(readings, places, n_empty, InputFile(name, hashlib.sha256(data).hexdigest(), len(data)))

    def _document(
        self, name: str, inputs: list[InputFile], faults: list[Fault], *, outside: Path | None = None
    ) -> bytes | None:
        """Read one of the three documents; on failure add a fault and return None."""
        limit = MAX_LOG_BYTES if name == _LOG else MAX_DOCUMENT_BYTES
        try:
            data = read_limited(outside, limit) if outside else self._files.read(name, max_bytes=limit)
        except InputError as error:
            faults.append(Fault(name, error.message, error.hint))
            return None
        shown = f"--bench {outside.name}" if outside else name
        inputs.append(InputFile(shown, hashlib.sha256(data).hexdigest(), len(data)))
        return data

    def _read_surface(self, name: str, scan: Scan) -> "tuple[Surface, InputFile]":
        try:
            data = self._files.read(name, max_bytes=LARGEST_BYTES)
        except InputError as error:
            raise MeshError(f"{name}: {error.message}", hint=error.hint, details={"file": name}) from error
        file = InputFile(name, hashlib.sha256(data).hexdigest(), len(data))
        return files.parse_surface(data, name=name, length_unit=scan.length_unit.value), file

    def _missing_files(self, case: Case) -> list[Fault]:
        named = [(f"scan[{i}].file", scan.file) for i, scan in enumerate(case.scan)]
        named += [(f"region[{i}].mesh", region.mesh) for i, region in enumerate(case.region) if region.mesh]
        if case.by_hand is not None:
            by_hand = {"by_hand.distances": case.by_hand.distances, "by_hand.gaps": case.by_hand.gaps}
            named += [(where, name) for where, name in by_hand.items() if name is not None]
        faults = []
        for where, name in named:
            if path_fault(name):
                continue  # already told by the case's own validation
            if wrong := self._files.check(name):
                faults.append(Fault(f"case.toml: {where}", *wrong))
        return faults


def _volume_of(numbers: Mapping[str, float | None] | None) -> ScanVolume | None:
    """Return a volume that was kept; None when what was kept is none."""
    if numbers is None or numbers.keys() != {field.name for field in fields(ScanVolume)}:
        return None
    under_mm3, plan_mm2 = numbers["under_mm3"], numbers["plan_mm2"]
    return None if under_mm3 is None or plan_mm2 is None else ScanVolume(numbers["enclosed_mm3"], under_mm3, plan_mm2)


def _case_error(faults: list[Fault], title: str) -> CaseError:
    first, n = faults[0], len(faults)
    more = f" (and {n - 1} more)" if n > 1 else ""
    return CaseError(
        f"{title}: {first.where}: {first.what}{more}",
        hint="mend what is listed; nothing was written",
        faults=faults,
    )
