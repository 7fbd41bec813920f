"""The demo, run once through the real command line, and a runner for more commands."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        document = json.loads(self.out)
        assert isinstance(document, dict)
        return document


def run_seatwright(*arguments: object) -> Ran:
    command = [sys.executable, "-c", "from seatwright.cli import main; main()", *map(str, arguments)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "COLUMNS": "140"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    return Ran(done.returncode, done.stdout, done.stderr)


@pytest.fixture(scope="session")
def seatwright() -> Callable[..., Ran]:
    return run_seatwright


@dataclass(frozen=True, slots=True)
class Demo:
    folder: Path
    ran: Ran

    @property
    def case(self) -> Path:
        return self.folder / "case"

    @property
    def dossier(self) -> Path:
        return self.folder / "dossier"


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    folder = tmp_path_factory.mktemp("demo") / "out"
    ran = run_seatwright("demo", "--out", folder)
    assert ran.code == 0, ran.err
    return Demo(folder, ran)
