import importlib.util
from pathlib import Path

from seatwright.dies import rule_table

REFERENCE = Path(__file__).resolve().parents[3] / "docs" / "reference"


def test_die_rules_page_is_current_and_names_every_row() -> None:
    spec = importlib.util.spec_from_file_location("make_die_rules", REFERENCE / "make_die_rules.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    text = (REFERENCE / "die-rules.md").read_text(encoding="utf-8")
    assert module.pages() == {"die-rules.md": text}, "run `make docs`"
    assert all(f"| `{row.rule_id}` |" in text for row in rule_table())
