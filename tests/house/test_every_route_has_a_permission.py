"""Every address that the bench page answers states who may ask for it; who may do what is one table."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.routing import BaseRoute, Mount

from seatwright.web import ServeSettings
from seatwright.web._permissions import PERMISSIONS, actions_of
from seatwright.web.app import create_app
from seatwright.workflows.rights import RIGHTS, Action, Role, may


def routes_of(routes: list[BaseRoute], prefix: str = "") -> Iterator[tuple[str, str]]:
    """Yield method and path of every route, those of included routers too."""
    for route in routes:
        inner = getattr(route, "original_router", None)
        if inner is not None:
            yield from routes_of(inner.routes, prefix + route.include_context.prefix)
        elif isinstance(route, Mount):
            yield "GET", f"{prefix}{route.path}/{{path:path}}"
        else:
            for method in sorted(route.methods - {"HEAD"}):
                yield method, prefix + route.path


@pytest.fixture(scope="module")
def routes(tmp_path_factory: pytest.TempPathFactory) -> set[tuple[str, str]]:
    return set(routes_of(create_app(ServeSettings(Path(tmp_path_factory.mktemp("record")))).routes))


def test_every_route_has_a_row_and_every_row_a_route(routes: set[tuple[str, str]]) -> None:
    assert ("POST", "/cases/{code}/mouth/keep") in routes
    stated = [(row.method, row.path) for row in PERMISSIONS]
    assert len(stated) == len(set(stated))
    covered = {route for route in routes if route[1].startswith("/static/")}
    assert routes - covered - set(stated) == set(), "add a row to seatwright/web/_permissions.py"
    assert {row for row in stated if not row[1].startswith("/static/")} - routes == set(), "rows without a route"


def test_a_request_asks_for_the_right_of_its_route() -> None:
    for row in PERMISSIONS:
        path = row.path.replace("{path:path}", "a/b.pdf")
        for name in ("code", "scan", "who", "table"):
            path = path.replace(f"{{{name}}}", "bar")
        assert actions_of(row.method, path) == {row.action}, row
    assert actions_of("HEAD", "/cases") == {Action.READ}
    assert actions_of("DELETE", "/cases") == frozenset()


def test_every_action_has_one_row_of_rights_and_a_reader_changes_nothing() -> None:
    assert [right.action for right in RIGHTS] == list(Action)
    assert {action for action in Action if may(Role.READER, action)} == {Action.OPEN, Action.OWN, Action.READ}
    assert {action for action in Action if may(None, action)} == {Action.OPEN}
    assert {action for action in Action if not may(Role.TECHNICIAN, action)} == {Action.KEEP}
    assert all(may(Role.DENTIST, action) for action in Action)
