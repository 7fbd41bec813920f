"""A generated arch with known truth, shared with the benchmarks."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def arches() -> ModuleType:
    """Load the module that generates arches and scenes."""
    path = Path(__file__).resolve().parents[3] / "benchmarks" / "generated_arch.py"
    spec = importlib.util.spec_from_file_location("generated_arch", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
