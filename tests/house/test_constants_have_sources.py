"""A number at module level in a step's room names its evidence id or a standard's clause."""

import ast
import re
from pathlib import Path

import pytest

from seatwright.evidence import list_evidence

SRC = Path(__file__).resolve().parents[2] / "src" / "seatwright"
ROOMS = ("arch", "dies", "pour", "forecast", "cast", "survey")
MODULES = sorted(p for room in ROOMS for p in (SRC / room).rglob("*.py"))
SOURCE = re.compile(
    r"evidence: (?P<id>[\w, ]+)|\b(ISO|JCGM|IEC|ASTM)[ \d/:-]+|judgement: \S|common practice|definition: \S"
)


def unsourced_constants(source: str, known_ids: set[str]) -> list[str]:
    """Return 'line: name' for every module-level number without a source on its lines or the line above."""
    lines = source.splitlines()
    found = []
    for node in ast.parse(source).body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        has_number = any(
            isinstance(part, ast.Constant) and isinstance(part.value, int | float) and not isinstance(part.value, bool)
            for part in ast.walk(node.value)
        )
        if not has_number:
            continue
        first = max(node.lineno - 2, 0)
        matches = list(SOURCE.finditer("\n".join(lines[first : node.end_lineno])))
        ids = {i.strip() for m in matches if m["id"] for i in m["id"].split(",")}
        if not matches or not ids <= known_ids:
            found.append(f"{node.lineno}: {ast.unparse(node)[:60]}")
    return found


@pytest.mark.parametrize("module", MODULES, ids=lambda p: str(p.relative_to(SRC)))
def test_module_constants_in_a_step_name_their_source(module: Path) -> None:
    known = {record.id for record in list_evidence()}
    assert not unsourced_constants(module.read_text(encoding="utf-8"), known)


def test_the_check_itself_catches_a_bare_number_and_an_unknown_id() -> None:
    known = {"gyp_stoich"}
    assert unsourced_constants("LIMIT_UM = 50.0\n", known)
    assert unsourced_constants("# evidence: no_such\nLIMIT_UM = 50.0\n", known)
    assert not unsourced_constants("WATER = 18.6  # evidence: gyp_stoich\n", known)
    assert not unsourced_constants("# ISO 6873:2013, 5.1\nLIMIT = 0.15\n", known)
