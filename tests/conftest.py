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
    """Skip a long study unless SEATWRIGHT_LONG is set (`make test-all`)."""
    if not os.environ.get("SEATWRIGHT_LONG"):
        pytest.skip("long study: run with `make test-all`")
