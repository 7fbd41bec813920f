"""The generated reference pages are current, and the published schemas accept the demo's documents."""

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema
from tests.examples import demo_bench, demo_case, demo_events

from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl

ROOT = Path(__file__).resolve().parents[2]
REFERENCE = ROOT / "docs" / "reference"


def test_generated_pages_are_current() -> None:
    command = [sys.executable, str(REFERENCE / "make_all.py"), "--check"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={"PYTHONPATH": str(ROOT / "src")})
    assert done.returncode == 0, done.stdout + done.stderr


def _schema(name: str) -> dict[str, object]:
    schema = json.loads((REFERENCE / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return schema


def _plain(text: bytes) -> object:
    return json.loads(json.dumps(tomllib.loads(text.decode()), default=lambda moment: moment.isoformat()))


def test_published_schemas_accept_the_example_documents() -> None:
    jsonschema.validate(_plain(case_to_toml(demo_case())), _schema("case"))
    jsonschema.validate(_plain(bench_to_toml(demo_bench())), _schema("bench"))
    for line in events_to_jsonl(demo_events()).splitlines():
        jsonschema.validate(json.loads(line), _schema("event"))


def test_published_case_schema_refuses_an_unknown_field() -> None:
    document = _plain(case_to_toml(demo_case()))
    document["nickname"] = "x"
    validator = jsonschema.Draft202012Validator(_schema("case"))
    assert list(validator.iter_errors(document))
