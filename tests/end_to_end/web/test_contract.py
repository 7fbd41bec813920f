"""Whatever is sent, the page answers as its published document says, and never fails."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import CHECKS, load_all_checks
from tests.contract.conftest import SetClock
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events
from tests.unit.web.signing import Place

from seatwright import record_wiring, wiring
from seatwright.case import Arch
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl
from seatwright.record import create_record
from seatwright.web import ServeSettings
from seatwright.web._attempts import Attempts
from seatwright.web.app import create_app
from seatwright.workflows.entry import Desk, begin_case
from seatwright.workflows.practice import import_case

load_all_checks()
CHECKED = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
]
REAL = {
    "code": ["DEMO-7", "NEW-1"],
    "case": ["DEMO-7"],
    "impression": ["pickup-1", "opposing-2"],
    "who": ["dentist", "technician"],
    "name": ["pickup-1", "36", "a.stl"],
    "revision": [0, 1, 2],
    "found44": ["IN_TRAY"],
    "path": ["bench-card.pdf"],
}
"""What there is, so that requests get past the first look."""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    place = tmp_path_factory.mktemp("contract")
    case = demo_case(scan=(), region=()).model_copy(update={"code": "DEMO-7", "as_of": None})
    (place / "case").mkdir()
    (place / "case" / "case.toml").write_bytes(case_to_toml(case))
    (place / "case" / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (place / "case" / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    clock = SetClock(DEMO_NOW)
    record = create_record(place / "practice", now=clock.now(), by="lead")
    files, source, base = record_wiring.open_case_files(place / "case")
    import_case(record, files, source, by="lead", reason="", clock=clock, base=base)
    begin_case(Desk(record, wiring.drafts_of_record(record), "lead", clock), "NEW-1", Arch.MANDIBLE)
    record.close()
    made = create_app(ServeSettings(place / "practice", names=("testserver",), workers=1), clock=clock)
    with TestClient(made) as opened:
        yield opened


OPERATIONS = [
    pytest.param(method, path, mode, id=f"{method} {path} {mode.value}")
    for path, item in create_app(ServeSettings(Path("practice"))).openapi()["paths"].items()
    for method, operation in item.items()
    for mode in GenerationMode
    if path != "/live"  # it never ends
    and (mode is GenerationMode.POSITIVE or {"parameters", "requestBody"} & operation.keys())  # else nothing is wrong
]


def _made_real(where: object, real: dict[str, list[object]], choose: st.DataObject) -> None:
    """Put what there is in the place of half of what was made up."""
    for name in sorted(real.keys() & where.keys()) if isinstance(where, dict) else ():
        if choose.draw(st.booleans()):
            where[name] = choose.draw(st.sampled_from(real[name]))


def _fuzz(client, method: str, path: str, mode: GenerationMode, n: int, *, csrf: str = "") -> None:
    schema = schemathesis.openapi.from_dict(client.get("/openapi.json").json())
    operation = schema[path][method]
    tasks = re.findall(r'name="task" value="([^"]+)"', client.get("/").text) if path.endswith("/touch") else []
    real = {**REAL, "task": tasks} if tasks else REAL
    checks = CHECKS.get_by_names(CHECKED)

    @seed(20260302)
    @settings(
        max_examples=n,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(mode), choose=st.data())
    def ask(case: schemathesis.Case, choose: st.DataObject) -> None:
        for where in (case.path_parameters, case.query, case.body):
            _made_real(where, real, choose)
        sent = case.as_transport_kwargs(
            base_url=str(client.base_url), headers={"Sec-Fetch-Site": "same-origin", "X-CSRF-Token": csrf}
        )
        if not sent.get("cookies"):
            sent.pop("cookies", None)
        body = sent.pop("data", None)
        sent["content" if isinstance(body, str | bytes) else "data"] = body
        case.validate_response(client.request(**sent, follow_redirects=False), checks=checks)

    ask()


@pytest.mark.parametrize(("method", "path", "mode"), OPERATIONS)
def test_no_request_makes_the_page_fail(client, method: str, path: str, mode: GenerationMode) -> None:
    _fuzz(client, method, path, mode, 5)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Place:
    return Place(tmp_path_factory.mktemp("contract") / "practice")


def _fuzz_signed_in(place: Place, method: str, path: str, mode: GenerationMode, n: int) -> None:
    """As a dentist who is signed in, until a request signs them out."""
    place.people.attempts = Attempts()
    browser = place.browser()
    assert browser.sign_in("dentist").status_code == 303
    _fuzz(browser.client, method, path, mode, n, csrf=browser.csrf)


ENTRANCE = [one for one in OPERATIONS if one.values[1] in ("/sign-in", "/sign-out")]


@pytest.mark.parametrize(("method", "path", "mode"), ENTRANCE)
def test_no_request_makes_the_entrance_fail(place: Place, method: str, path: str, mode: GenerationMode) -> None:
    _fuzz_signed_in(place, method, path, mode, 20)


@pytest.mark.parametrize(("method", "path", "mode"), OPERATIONS)
def test_no_request_of_many_makes_the_page_of_people_fail(
    place: Place, method: str, path: str, mode: GenerationMode, long_run
) -> None:
    _fuzz_signed_in(place, method, path, mode, 100)


@pytest.mark.parametrize(("method", "path", "mode"), OPERATIONS)
def test_no_request_of_many_makes_the_page_fail(client, method: str, path: str, mode: GenerationMode, long_run) -> None:
    _fuzz(client, method, path, mode, 100)
