"""What passes before any page: foreign names, foreign pages and oversized bodies are turned away."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from seatwright.errors import SeatwrightError
from seatwright.web import ServeSettings
from seatwright.web._answers import STATUS_OF, status_of
from seatwright.web.app import create_app

OWN = {"origin": "http://127.0.0.1:8731", "sec-fetch-site": "same-origin"}


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    settings = ServeSettings(
        Path(tmp_path_factory.mktemp("record")), names=("bench.example",), max_body_bytes=1000, max_upload_bytes=5000
    )
    with TestClient(create_app(settings), base_url="http://127.0.0.1:8731") as made:
        yield made


@pytest.mark.parametrize("host", ["127.0.0.1:8731", "localhost", "[::1]:8731", "bench.example:8731", "Bench.Example"])
def test_its_own_names_are_answered(client: TestClient, host: str):
    assert client.get("/static/mark.svg", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "127.0.0.1.evil.example",
        "",
        "[",
        "a@127.0.0.1.x",
        "localhost.:80.x",
        "127.0.0.1/sign-in?x=",
        "127.0.0.1#",
        "x@127.0.0.1",
        "127.0.0.1\\x",
        "127.0.0.1:80:80",
        "127.0.0.1 x",
    ],
)
def test_another_name_is_refused_whatever_it_points_to(client: TestClient, host: str):
    answer = client.get("/static/mark.svg", headers={"host": host})
    assert answer.status_code == 421
    assert "default-src 'self'" in answer.headers["content-security-policy"]


def test_a_request_with_two_hosts_is_refused(client: TestClient):
    hosts = [("host", "evil.example"), ("host", "127.0.0.1:8731")]
    assert client.get("/static/mark.svg", headers=hosts).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example", "sec-fetch-site": "cross-site"},
        {"origin": "https://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {},
    ],
)
def test_a_change_asked_by_a_foreign_page_is_refused(client: TestClient, headers: dict[str, str]):
    assert client.post("/nowhere", headers=headers).status_code == 403


@pytest.mark.parametrize(
    "headers", [OWN, {"origin": OWN["origin"]}, {"origin": "null", "sec-fetch-site": "same-origin"}]
)
def test_a_change_asked_by_our_own_page_passes(client: TestClient, headers: dict[str, str]):
    assert client.post("/nowhere", headers=headers).status_code in (404, 405)


def test_a_body_that_says_it_is_too_large_is_refused(client: TestClient):
    assert client.post("/nowhere", headers=OWN, content=b"x" * 1001).status_code == 413
    assert client.post("/cases/A-1/scans?name=a.stl", headers=OWN, content=b"x" * 5001).status_code == 413
    assert client.post("/cases/A-1/scans?name=a.stl", headers=OWN, content=b"x" * 4999).status_code == 404


def test_every_answer_carries_the_policy_and_no_script_from_elsewhere(client: TestClient):
    policy = client.get("/static/page.css").headers["content-security-policy"]
    assert "unsafe" not in policy
    assert "script-src 'self'" in policy


def test_a_missing_page_is_told_in_words_or_as_json(client: TestClient):
    page = client.get("/nowhere", headers={"accept": "text/html"})
    assert page.status_code == 404
    assert "<h1>" in page.text
    assert client.get("/nowhere").json()["error"]["code"] == "input"


def test_every_error_of_the_tree_has_a_status_below_500_or_503():
    kinds = [SeatwrightError]
    while kinds:
        kind = kinds.pop()
        kinds += kind.__subclasses__()
        if kind is not SeatwrightError and kind.__module__ == "seatwright.errors":
            assert kind in STATUS_OF, kind
            assert status_of(kind("x")) < 500 or status_of(kind("x")) == 503
    assert status_of(SeatwrightError("x")) == 500
