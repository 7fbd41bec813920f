import importlib.util
from pathlib import Path

from seatwright.pour import list_ladders, list_timings

REFERENCE = Path(__file__).resolve().parents[3] / "docs" / "reference"


def test_pour_windows_page_is_current_and_names_every_row() -> None:
    spec = importlib.util.spec_from_file_location("make_pour_windows", REFERENCE / "make_pour_windows.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    text = (REFERENCE / "pour-windows.md").read_text(encoding="utf-8")
    assert module.pages() == {"pour-windows.md": text}, "run `make docs`"
    assert all(f"`{ladder.id}`" in text for ladder in list_ladders())
    assert all(f"| `{timing.step}` | {timing.what} |" in text for timing in list_timings())
