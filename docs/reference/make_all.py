"""Write every generated reference page, or check that each is current (``--check``).

A generator is a module ``make_<name>.py`` beside this one with ``pages() -> dict[str, str]``: file name -> text.
"""

import importlib.util
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def _pages() -> dict[str, str]:
    pages: dict[str, str] = {}
    for path in sorted(HERE.glob("make_*.py")):
        if path.name == Path(__file__).name:
            continue
        spec = importlib.util.spec_from_file_location(path.stem, path)
        if spec is None or spec.loader is None:
            raise SystemExit(f"cannot load {path.name}")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        pages |= module.pages()
    return pages


def main() -> int:
    """Write or check; return the number of stale pages when checking."""
    stale = 0
    for name, text in _pages().items():
        page = HERE / name
        if "--check" in sys.argv:
            if not page.is_file() or page.read_text(encoding="utf-8") != text:
                stale += 1
                print(f"docs/reference/{name} is stale: run `make docs`")
        else:
            page.write_text(text, encoding="utf-8")
    return stale


if __name__ == "__main__":
    sys.exit(main())
