"""The project speaks of the project alone: no machine paths, no registry hosts, no hosts in lock files."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MACHINE_PATH = re.compile(r"(^|[^a-z0-9.])/(work|root|opt|home)/|/tmp/")


def _tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.fail("this check needs a git clone: it reads the tracked files")
    return [ROOT / line for line in listed.stdout.splitlines()]


def test_tracked_text_names_no_machine_path() -> None:
    offenders = []
    for path in _tracked():
        if path == Path(__file__) or not path.is_file():
            continue
        data = path.read_bytes()
        if b"\0" not in data and MACHINE_PATH.search(data.decode("utf-8", "replace")):
            offenders.append(str(path.relative_to(ROOT)))
    assert not offenders


def test_lock_file_names_no_host() -> None:
    assert "://" not in (ROOT / "requirements.lock").read_text(encoding="utf-8")
