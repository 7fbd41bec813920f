"""Who may ask what, asked by direct request past every page; and changes that no page of ours asked for."""

from urllib.parse import unquote

import pytest
from tests.unit.web.signing import NAMES, Browser, Place, run_apart

from seatwright.web._permissions import PERMISSIONS, Permission
from seatwright.workflows.rights import Action, may

FILLED = {"code": "A-1", "who": "dentist", "scan": "s", "table": "bar", "path:path": "x.pdf"}
CHANGES = [row for row in PERMISSIONS if row.method == "POST" and row.action is not Action.OPEN]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Place:
    return Place(tmp_path_factory.mktemp("record") / "practice")


@pytest.fixture(scope="module")
def people(place: Place) -> dict[str, Browser]:
    browsers = {name: place.browser() for name in NAMES}
    for name, browser in browsers.items():
        assert browser.sign_in(name).status_code == 303
    return browsers


def _path(row: Permission) -> str:
    path = row.path
    for name, value in FILLED.items():
        path = path.replace(f"{{{name}}}", value)
    return path


def _named(row: Permission) -> str:
    return f"{row.method} {row.path}"


def _ask(browser: Browser, row: Permission, **headers: str):
    ask = browser.post if row.method == "POST" else browser.get
    return ask(_path(row), **headers)


CLOSED = [row for row in PERMISSIONS if row.action is not Action.OPEN and row.path != "/live"]


def _is_published(place: Place, row: Permission, status: int) -> bool:
    if row.path == "/openapi.json":
        return True  # the document does not tell of itself
    item = place.app.openapi()["paths"][row.path.replace(":path", "")]
    return str(status) in item[row.method.lower()]["responses"]


@pytest.mark.parametrize("row", CLOSED, ids=_named)
def test_nobody_gets_in_unsigned(place: Place, row: Permission) -> None:
    answer = _ask(place.browser(), row)
    assert _is_published(place, row, answer.status_code)
    assert answer.status_code == (303 if row.method == "GET" else 401)
    assert answer.headers.get("location", "/sign-in").startswith("/sign-in")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("row", [row for row in CLOSED if row.path != "/sign-out"], ids=_named)
def test_each_role_gets_what_it_may_and_a_clear_page_for_the_rest(
    place: Place, people: dict[str, Browser], row: Permission, name: str
) -> None:
    answer = _ask(people[name], row)
    assert _is_published(place, row, answer.status_code)
    if may(NAMES[name], row.action):
        assert answer.status_code not in (401, 403), answer.text
        assert answer.status_code < 500, answer.text
    else:
        assert answer.status_code == 403
        assert f"A {name} may not" in answer.text
        assert "sign in as one" in answer.text


@pytest.mark.parametrize("row", CHANGES, ids=_named)
@pytest.mark.parametrize("token", ["", "x" * 43, "é"])
def test_a_change_without_the_token_of_its_page_is_refused(
    people: dict[str, Browser], row: Permission, token: str
) -> None:
    answer = people["dentist"].post(_path(row), **{"x-csrf-token": token.encode("latin-1")})
    assert answer.status_code == 403
    assert "older than your sign-in" in answer.text


def test_the_token_of_somebody_else_is_none(people: dict[str, Browser]) -> None:
    answer = people["dentist"].post("/cases", **{"x-csrf-token": people["technician"].csrf})
    assert answer.status_code == 403


def test_a_plain_form_carries_the_token_as_a_field(people: dict[str, Browser]) -> None:
    browser = people["dentist"]
    form = {"code": "NEW-1", "arch": "mandible", "csrf": browser.csrf}
    answer = browser.post("/cases", form, **{"x-csrf-token": ""})
    assert (answer.status_code, answer.headers["location"]) == (303, "/cases/NEW-1/mouth")
    other = {"code": "NEW-2", "arch": "mandible", "csrf": "x", "reason": "y" * 200_000}
    assert browser.post("/cases", other, **{"x-csrf-token": ""}).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [{"origin": "https://evil.example", "sec-fetch-site": "cross-site"}, {"origin": "null", "sec-fetch-site": ""}],
)
def test_a_change_asked_by_another_site_is_refused_token_or_not(
    people: dict[str, Browser], headers: dict[str, str]
) -> None:
    assert people["dentist"].post("/cases", {"code": "B-1", "arch": "mandible"}, **headers).status_code == 403


@pytest.mark.parametrize("host", ["rebound.example", "192.0.2.1.nip.example", "127.0.0.1.evil.example"])
def test_a_name_that_was_made_to_point_here_gets_nothing(people: dict[str, Browser], host: str) -> None:
    answer = people["dentist"].get("/cases", host=host)
    assert answer.status_code == 421
    assert "A-1" not in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/static/../record.toml",
        "/static/%2e%2e/%2e%2e/record.toml",
        "/static/..%2f..%2f..%2frecord.toml",
        "/static/..%5c..%5crecord.toml",
        "/static//etc/passwd",
        "/sign-in/../cases",
        "/sign-in/%2e%2e/cases",
        "//cases",
        "/cases/..%2f..%2fx/mouth",
        "/cases/A-1/files/..%2f..%2frecord.toml",
        "/CASES",
        "/cases/A-1/mouth/keep/",
        "/cases%00",
        "/.well-known/../cases",
    ],
)
def test_a_tricked_path_opens_nothing(place: Place, people: dict[str, Browser], path: str) -> None:
    cookie = f"seatwright={people['reader'].client.cookies['seatwright']}"
    assert _ask_raw(place, "GET", path, "")[0] in (303, 404)
    status, body = _ask_raw(place, "GET", path, cookie)
    assert status in (303, 307, 404, 422), (status, body)
    assert b"schema" not in body
    assert _ask_raw(place, "POST", path, cookie)[0] in (403, 404)


def _ask_raw(place: Place, method: str, path: str, cookie: str) -> tuple[int, bytes]:
    """Ask for a path as it stands, which no ordinary client would send; the server decodes it once."""
    sent: list[dict] = []
    headers = {"host": "127.0.0.1:8731", "origin": "http://127.0.0.1:8731", "accept": "text/html", "cookie": cookie}
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
        "path": unquote(path), "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
        "client": ("192.0.2.7", 50000), "server": ("127.0.0.1", 8731),
    }  # fmt: skip

    async def receive() -> dict:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict) -> None:
        sent.append(message)

    run_apart(place.app(scope, receive, send))
    return sent[0]["status"], b"".join(message.get("body", b"") for message in sent)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "MADE-UP"])
def test_a_method_that_no_row_names_is_refused(people: dict[str, Browser], method: str) -> None:
    browser = people["reader"]
    headers = {"origin": "http://127.0.0.1:8731", "x-csrf-token": browser.csrf}
    assert browser.client.request(method, "/cases/A-1/mouth/keep", headers=headers).status_code == 404


def test_a_reader_sees_no_button_that_changes_anything(people: dict[str, Browser]) -> None:
    for path in ("/", "/cases", "/cases/NEW-1/mouth"):
        page = people["reader"].get(path).text
        shown = page.replace('action="/sign-out"', "")
        assert "hx-post" not in shown, path
        assert 'method="post" action' not in shown, path
        assert 'id="keep"' not in shown
        assert "data-gestures" not in shown
    assert 'id="keep"' not in people["technician"].get("/cases/NEW-1/mouth").text
    assert "a dentist keeps it" in people["technician"].get("/cases/NEW-1/mouth").text
    assert 'id="keep"' in people["dentist"].get("/cases/NEW-1/mouth").text


def test_the_stream_of_changes_is_closed_to_the_unsigned(place: Place) -> None:
    assert place.browser().get("/live").status_code == 303
    assert place.browser().get("/live", accept="text/event-stream").status_code == 401
