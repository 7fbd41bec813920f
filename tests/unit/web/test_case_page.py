"""A case that is being entered still: shown where it is entered, each gap with the field that it is in."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from seatwright.web._settings import ServeSettings
from seatwright.web.app import create_app

OWN = "http://127.0.0.1:8731"


@pytest.fixture
def page(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(ServeSettings(data=tmp_path / "practice")), base_url=OWN) as client:
        client.headers.update({"Origin": OWN, "Accept": "text/html"})
        yield client


def test_a_case_that_is_a_draft_alone_is_shown_at_its_mouth_and_an_unknown_one_is_refused(page: TestClient) -> None:
    page.post("/cases", data={"code": "NEW-1", "arch": "maxilla"})
    shown = page.get("/cases/NEW-1", follow_redirects=False)
    assert (shown.status_code, shown.headers["location"]) == (303, "/cases/NEW-1/mouth")
    assert page.get("/cases/NEW-2").status_code == 404


def test_a_gap_at_a_unit_names_its_field(page: TestClient) -> None:
    page.post("/cases", data={"code": "NEW-1", "arch": "maxilla"})
    gesture = {"gesture": "set_units", "teeth": [16], "kind": "crown"}
    part = page.post("/cases/NEW-1/mouth/gestures", json={"revision": 1, "gestures": [gesture]})
    assert "<strong>16</strong> body is missing" in part.text
    assert "1 unit<" in part.text


def test_a_hint_shows_its_command_as_one_and_nothing_else_as_markup(page: TestClient) -> None:
    refused = page.get("/cases/NEW-2")
    assert "(<code>seatwright record list</code>)" in refused.text
    assert "&lt;" not in refused.text
