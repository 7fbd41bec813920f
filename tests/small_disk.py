"""A disk of a few megabytes that a test may fill or take write access from; needs the right to mount."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["SmallDisk", "mounted_disk"]


class SmallDisk:
    """A mounted file system of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self) -> None:
        """Fill it up with one file."""
        with (self.folder / "filler").open("wb") as handle, suppress(OSError):
            while True:
                handle.write(b"\0" * 4096)
                handle.flush()

    def refuse_writes(self) -> None:
        subprocess.run(["mount", "-o", "remount,ro", str(self.folder)], check=True)

    def allow_writes(self) -> None:
        subprocess.run(["mount", "-o", "remount,rw", str(self.folder)], check=True)


@contextmanager
def mounted_disk(work: Path, *, megabytes: int) -> Iterator[SmallDisk | None]:
    """Mount an ext4 image by loop, or a memory disk where that cannot be; None where nothing may be mounted."""
    folder, image = work / "disk", work / "disk.img"
    folder.mkdir()
    with image.open("wb") as handle:
        handle.truncate(megabytes << 20)
    ways = (
        [["mkfs.ext4", "-q", "-F", "-m", "0", str(image)], ["mount", "-o", "loop", str(image), str(folder)]],
        [["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "none", str(folder)]],
    )
    if not any(all(_did(command) for command in way) for way in ways):
        yield None
        return
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def _did(command: list[str]) -> bool:
    try:
        return subprocess.run(command, check=False, capture_output=True).returncode == 0
    except FileNotFoundError:
        return False
