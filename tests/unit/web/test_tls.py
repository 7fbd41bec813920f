"""The how-to's own lines make a certificate that a client trusts, and the page speaks TLS with it."""

import os
import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
import uvicorn
from tests.unit.web.signing import Place

from seatwright.web import check_tls

HOW_TO = Path(__file__).resolve().parents[3] / "docs" / "how-to" / "serve-on-the-network.md"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if shutil.which("openssl") is None:
        message = "openssl is absent: install it (Debian: openssl)"
        if "openssl" in os.environ.get("SEATWRIGHT_REQUIRE", "").split(","):
            pytest.fail(message)
        pytest.skip(message)
    folder = tmp_path_factory.mktemp("made")
    (lines,) = [block for block in HOW_TO.read_text().split("```")[1::2] if "openssl" in block]
    lines = lines.replace("DNS:bench.local,IP:192.0.2.7", "DNS:localhost,IP:127.0.0.1")
    subprocess.run(["sh", "-ec", lines], cwd=folder, check=True, capture_output=True)
    return folder


@pytest.fixture
def url(made: Path, tmp_path: Path) -> Iterator[str]:
    place = Place(tmp_path / "practice", tls=True)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()  # whoever comes before the server runs waits
        config = uvicorn.Config(
            place.app, log_level="error", ssl_certfile=made / "bench.crt", ssl_keyfile=made / "bench.key"
        )
        server = uvicorn.Server(config)
        running = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        running.start()
        yield f"https://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        running.join()


def test_the_how_to_makes_a_certificate_that_a_client_trusts(made: Path, url: str) -> None:
    check_tls(made / "bench.crt", made / "bench.key")
    trusting = ssl.create_default_context(cafile=made / "own-ca.crt")
    trusting.verify_flags |= ssl.VERIFY_X509_STRICT  # as RFC 5280 asks, no more leniently than a browser
    with httpx2.Client(verify=trusting) as client:
        answer = client.get(f"{url}/sign-in")
    assert answer.status_code == 200
    assert "not encrypted" not in answer.text
    assert "; secure" in answer.headers["set-cookie"].lower()
    with httpx2.Client(verify=ssl.create_default_context()) as client, pytest.raises(httpx2.ConnectError):
        client.get(f"{url}/sign-in")
    assert (made / "bench.key").stat().st_mode & 0o077 == 0
