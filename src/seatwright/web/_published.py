"""What the page publishes about itself: each address with what it takes, what it answers, the right it asks for."""

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from seatwright.web._permissions import PERMISSIONS

__all__ = ["ANSWERS", "form_body", "publisher"]


class ToldError(BaseModel):
    """What went wrong, in the command line's shape."""

    code: str
    message: str
    hint: str
    details: dict[str, Any]


class Told(BaseModel):
    """An error as a program gets it; a browser gets it as a page."""

    error: ToldError


def _told(what: str) -> dict[str, Any]:
    return {"model": Told, "description": what, "content": {"text/html": {}, "text/plain": {}}}


ANSWERS: dict[int | str, dict[str, Any]] = {
    303: {"description": "Go there; to the sign-in page, where somebody has to sign in"},
    400: _told("What was sent cannot be read"),
    401: _told("Nobody is signed in"),
    403: _told("Who asks may not, or no page of ours asked"),
    404: _told("Nothing is at this address, or the record has no such case"),
    409: _told("Somebody else was faster; look at it as it is now"),
    413: _told("More than can be taken in one go"),
    421: _told("This server does not answer to that name"),
    422: _told("What was sent is not what this address expects"),
    503: _told("The record cannot be read or written now"),
}
"""What any address may answer beside what it is for."""


_Fields = dict[str, dict[str, Any]]


def form_body(
    *, required: _Fields, more: dict[str, Any] | None = None, optional: _Fields | None = None
) -> dict[str, Any]:
    """Return the published form of a route that reads its fields itself; `more` is what further fields hold."""
    schema = {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": sorted(required),
        "additionalProperties": more if more is not None else False,
    }
    return {"requestBody": {"required": True, "content": {"application/x-www-form-urlencoded": {"schema": schema}}}}


def publisher(app: FastAPI) -> Callable[[], dict[str, Any]]:
    """Return what makes the application's OpenAPI document, once."""

    def publish() -> dict[str, Any]:
        if app.openapi_schema is None:
            made = get_openapi(title=app.title, version=app.version, description=app.description, routes=app.routes)
            app.openapi_schema = _completed(made)
        return app.openapi_schema

    return publish


def _completed(made: dict[str, Any]) -> dict[str, Any]:
    """Say with each operation what it asks for, and say once what many answer."""
    asked = {(row.method.lower(), row.path): row.action.value for row in PERMISSIONS}
    shared: dict[str, Any] = {}
    for path, item in made["paths"].items():
        for method, operation in item.items():
            operation["x-asks-for"] = asked[method, path.replace("{path}", "{path:path}")]
            for status, answer in operation["responses"].items():
                if answer["description"] == ANSWERS.get(int(status), {}).get("description"):
                    shared[f"Status{status}"] = {**answer, **_as_any_client_gets_it(answer)}
                    operation["responses"][status] = {"$ref": f"#/components/responses/Status{status}"}
    made.setdefault("components", {})["responses"] = dict(sorted(shared.items()))
    return made


def _as_any_client_gets_it(answer: dict[str, Any]) -> dict[str, Any]:
    """Return an error's content as JSON, page and text, whatever class of answer the route itself has."""
    content: dict[str, Any] = answer.get("content", {})
    schema = next((kind["schema"] for kind in content.values() if "schema" in kind), None)
    if schema is None:
        return {}
    return {"content": {"application/json": {"schema": schema}, "text/html": {}, "text/plain": {}}}
