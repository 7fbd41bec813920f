"""The raw files of a case kept in a folder; implements `workflows.ports.CaseFiles`.

Owns where things are, that nothing outside the folder is read, and that nothing is read before its size is known.
"""

import hashlib
from pathlib import Path

from seatwright.case import closest_hint, path_fault
from seatwright.errors import CaseError, InputError
from seatwright.files._limited import read_limited
from seatwright.files.case_source import FilesCaseSource
from seatwright.workflows.ports import InputFile

__all__ = ["FolderCaseFiles", "FolderCaseSource", "describe_file"]


def describe_file(path: Path, name: str) -> InputFile:
    """Return name, hash and size of a file that a result rests on."""
    data = path.read_bytes()
    return InputFile(name, hashlib.sha256(data).hexdigest(), len(data))


class FolderCaseFiles:
    """The files of one case folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    @property
    def title(self) -> str:
        """Name of the folder."""
        return self._folder.resolve().name

    def require(self) -> None:
        """Raise `CaseError` when this is no folder with a case."""
        if (self._folder / "case.toml").is_file():
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

    def has(self, name: str) -> bool:
        """Return whether something stands under this name, a broken link included."""
        path = self._folder / name
        return path.exists() or path.is_symlink()

    def check(self, name: str) -> tuple[str, str] | None:
        """Return what is wrong with a named file, and what mends it."""
        path = self._folder / name
        if wrong := self._place_fault(name):
            return f"{name!r} {wrong}", "keep the file itself inside the folder"
        if path.is_dir():
            return f"{name!r} is a folder", "name the file in it"
        if not path.is_file():
            return f"the file {name!r} is not there", _file_hint(path)
        return None

    def sha256_of(self, name: str) -> str | None:  # noqa: ARG002 - no name's content is known here
        """Return None: what stands in a folder is known once it is read."""
        return None

    def read(self, name: str, *, max_bytes: int) -> bytes:
        """Return the bytes of a file inside the folder."""
        if wrong := path_fault(name) or self._place_fault(name):
            raise InputError(wrong, hint="keep the file itself in the case folder")
        return read_limited(self._folder / name, max_bytes)

    def _place_fault(self, name: str) -> str:
        """Return what is wrong with where a name leads once links are followed; empty when it stays inside."""
        try:
            place = (self._folder / name).resolve()
        except (OSError, RuntimeError):  # a link that leads to itself
            return "is a link that leads nowhere"
        return "" if place.is_relative_to(self._folder.resolve()) else "leads outside the case folder"


class FolderCaseSource(FilesCaseSource):
    """Reads one case folder; implements `workflows.ports.CaseSource`.

    Parameters
    ----------
    folder : Path
    bench : Path, optional
        The bench file, when it is kept outside the case folder because several cases share it.
    """

    def __init__(self, folder: Path, *, bench: Path | None = None) -> None:
        super().__init__(FolderCaseFiles(folder), bench=bench)


def _file_hint(path: Path) -> str:
    try:
        names = sorted(p.name for p in path.parent.iterdir() if p.is_file())
    except OSError:
        names = []
    hint = closest_hint(path.name, names, noun="file")
    return hint if hint.startswith("did you mean") else "put the file into the case folder, or mend the path"
