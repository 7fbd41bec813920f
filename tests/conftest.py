"""What several rooms' tests share: where the real scans are, and the long-run switch."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")  # a busy machine is no finding

ROOT = Path(__file__).resolve().parent.parent


def _required(what: str) -> bool:
    return what in os.environ.get("SEATWRIGHT_REQUIRE", "").split(",")


@pytest.fixture(scope="session")
def scans_folder() -> Path:
    """Folder with the real scanned casts; a skip where it is absent, a failure where it is required."""
    folder = Path(os.environ.get("SEATWRIGHT_SCANS", ROOT.parent / "shared" / "scans"))
    if not (folder / "lower_cast.ply").is_file():
        message = f"the real scans are absent ({folder}): set SEATWRIGHT_SCANS to their folder"
        if _required("scans"):
            pytest.fail(message)
        pytest.skip(message)
    return folder


@pytest.fixture(scope="session")
def long_run() -> None:
    """Mark a long study: left out of a run unless SEATWRIGHT_LONG is set (`make test-all`)."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave long studies out; they are not skipped, since a skip says that something is missing."""
    if os.environ.get("SEATWRIGHT_LONG"):
        return
    long = [item for item in items if "long_run" in getattr(item, "fixturenames", ())]
    items[:] = [item for item in items if item not in long]
    if long:
        config.hook.pytest_deselected(items=long)
