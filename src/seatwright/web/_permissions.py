"""Which right each address asks for: one row for every route, looked up before any page sees a request.

A route without a row is refused to everybody once people sign in, and a house test fails. To add a route, add its row.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from re import Pattern

from starlette.routing import compile_path

from seatwright.workflows.rights import Action

__all__ = ["PERMISSIONS", "Permission", "actions_of"]


@dataclass(frozen=True, slots=True)
class Permission:
    """What one route asks for; the path is written as the route writes it."""

    method: str
    path: str
    action: Action


_A = Action
PERMISSIONS: tuple[Permission, ...] = (
    Permission("GET", "/static/{path:path}", _A.OPEN),
    Permission("GET", "/sign-in", _A.OPEN),
    Permission("POST", "/sign-in", _A.OPEN),
    Permission("POST", "/sign-out", _A.OWN),
    Permission("GET", "/password", _A.OWN),
    Permission("POST", "/password", _A.OWN),
    Permission("GET", "/openapi.json", _A.READ),
    Permission("GET", "/settings", _A.OWN),
    Permission("POST", "/settings", _A.OWN),
    # what is shown
    Permission("GET", "/live", _A.READ),
    Permission("GET", "/", _A.READ),
    Permission("GET", "/bench", _A.READ),
    Permission("GET", "/bench/hands/{who}", _A.READ),
    Permission("GET", "/bench/hands/{who}/part", _A.READ),
    Permission("GET", "/cases", _A.READ),
    Permission("GET", "/cases/{code}", _A.READ),
    Permission("GET", "/cases/{code}/part", _A.READ),
    Permission("GET", "/cases/{code}/checks", _A.READ),
    Permission("GET", "/cases/{code}/files/{path:path}", _A.READ),
    Permission("GET", "/cases/{code}/record", _A.READ),
    Permission("GET", "/cases/{code}/surfaces", _A.READ),
    Permission("GET", "/cases/{code}/surfaces/{scan}/mesh", _A.READ),
    Permission("POST", "/cases/{code}/surfaces/{scan}/undercut", _A.READ),  # computes and keeps nothing
    Permission("POST", "/cases/{code}/surfaces/{scan}/block-out", _A.READ),  # computes and keeps nothing
    Permission("GET", "/cases/{code}/surfaces/draft", _A.READ),
    Permission("GET", "/cases/{code}/surfaces/overlay", _A.READ),
    Permission("GET", "/cases/{code}/mouth", _A.READ),
    Permission("GET", "/cases/{code}/mouth/part", _A.READ),
    Permission("GET", "/cases/{code}/relief", _A.READ),
    # what takes the machine's time
    Permission("POST", "/cases/{code}/checks/begin", _A.COMPUTE),
    Permission("POST", "/cases/{code}/checks/cancel", _A.COMPUTE),
    # what is done at the bench
    Permission("POST", "/bench/touch", _A.LOG),
    Permission("POST", "/bench/keep", _A.LOG),
    Permission("GET", "/bench/count", _A.LOG),
    Permission("POST", "/bench/count", _A.LOG),
    Permission("POST", "/bench/hands/{who}/touch", _A.LOG),
    Permission("POST", "/bench/hands/{who}/take-back", _A.LOG),
    Permission("POST", "/bench/hands/{who}/take-over", _A.LOG),
    Permission("POST", "/bench/take-back", _A.LOG),
    Permission("POST", "/bench/plan-again", _A.LOG),
    Permission("GET", "/bench/file", _A.READ),
    Permission("POST", "/bench/file", _A.LOG),
    Permission("POST", "/bench/file/put-back", _A.LOG),
    Permission("POST", "/cases/{code}/record/decided", _A.LOG),
    # what is planned
    Permission("POST", "/cases", _A.ENTER),
    Permission("POST", "/cases/{code}/mouth/gestures", _A.ENTER),
    Permission("POST", "/cases/{code}/mouth/undo", _A.ENTER),
    Permission("GET", "/cases/{code}/mouth/items/{table}", _A.ENTER),
    Permission("POST", "/cases/{code}/mouth/items/{table}", _A.ENTER),
    Permission("POST", "/cases/{code}/mouth/tolerance", _A.ENTER),
    Permission("POST", "/cases/{code}/mouth/keep", _A.KEEP),
    Permission("GET", "/cases/{code}/relief/form", _A.ENTER),
    Permission("POST", "/cases/{code}/relief", _A.ENTER),
    Permission("POST", "/cases/{code}/relief/remove", _A.ENTER),
    Permission("POST", "/cases/{code}/relief/undo", _A.ENTER),
    Permission("POST", "/cases/{code}/relief/keep", _A.KEEP),
    # scans that are brought
    Permission("POST", "/cases/{code}/scans", _A.ENTER),
    Permission("GET", "/cases/{code}/scans/{brought}", _A.ENTER),
    Permission("GET", "/cases/{code}/scans/{brought}/mesh", _A.ENTER),
    Permission("POST", "/cases/{code}/scans/{brought}/drop", _A.ENTER),
    Permission("POST", "/cases/{code}/scans/{brought}/keep", _A.ENTER),
    Permission("POST", "/cases/{code}/surfaces/undo", _A.ENTER),
    Permission("POST", "/cases/{code}/surfaces/keep", _A.KEEP),
)
"""Every route, once."""


def actions_of(method: str, path: str) -> frozenset[Action]:
    """Return the rights that a request asks for; none where no row fits, which is refused.

    Where several rows fit a path, all their rights are asked for: so that this never lets through what the router then
    hands to a stricter route.

    Examples
    --------
    >>> sorted(actions_of("POST", "/cases/A-1/mouth/keep"))
    [<Action.KEEP: 'keep'>]
    >>> actions_of("POST", "/nowhere")
    frozenset()
    """
    asked = "GET" if method == "HEAD" else method
    return frozenset(row.action for pattern, row in _compiled() if row.method == asked and pattern.match(path))


@lru_cache(maxsize=1)
def _compiled() -> tuple[tuple[Pattern[str], Permission], ...]:
    return tuple(_compile(PERMISSIONS))


def _compile(rows: Iterable[Permission]) -> Iterable[tuple[Pattern[str], Permission]]:
    for row in rows:
        pattern, _, _ = compile_path(row.path)
        yield pattern, row
