"""Builds the adapters, lazily: the one place that knows both the ports and what stands behind them."""

import os
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from seatwright.workflows.ports import CaseSource, FolderStore

__all__ = ["SystemClock", "compile_kernels", "folder_store", "open_case", "use_kernel_cache"]


class SystemClock:
    """The machine's clock, in UTC."""

    def now(self) -> datetime:
        """Return the present moment."""
        return datetime.now(UTC)  # noqa: TID251 - this is the clock that everybody else is handed


def open_case(folder: Path, *, bench: Path | None = None) -> CaseSource:
    """Return the source of a case kept in a folder."""
    from seatwright.files import FolderCaseSource  # noqa: PLC0415

    return FolderCaseSource(folder, bench=bench)


def folder_store() -> FolderStore:
    """Return the store that writes folders whole or not at all."""
    from seatwright.files import WholeFolders  # noqa: PLC0415

    return WholeFolders()


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
    """Run a small cast check once so that every kernel is compiled and cached."""
    from seatwright.demo import exercise_kernels  # noqa: PLC0415

    exercise_kernels()


if __name__ == "__main__":
    cache = use_kernel_cache()
    compile_kernels()
    sys.stdout.write(f"Kernels compiled into {cache}\n")
