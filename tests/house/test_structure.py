"""The house rules that a reader relies on: small modules, small functions, documented names."""

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path

import pytest

from seatwright.late import read_late_names

SRC = Path(__file__).resolve().parents[2] / "src" / "seatwright"
MODULES = sorted(SRC.rglob("*.py"))
MAX_MODULE_LINES = 300
MAX_BODY_LINES = 60
BANNED_NAMES = {"utils", "util", "helpers", "common", "misc", "core", "base", "manager"}


def _name(path: Path) -> str:
    return str(path.relative_to(SRC))


@pytest.mark.parametrize("module", MODULES, ids=_name)
def test_module_stays_within_300_lines(module: Path) -> None:
    assert len(module.read_text(encoding="utf-8").splitlines()) <= MAX_MODULE_LINES


@pytest.mark.parametrize("module", MODULES, ids=_name)
def test_module_has_a_telling_name_and_a_docstring(module: Path) -> None:
    assert module.stem.strip("_") not in BANNED_NAMES
    assert ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))), "say what the module owns"


def _functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def _body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = function.body
    if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
        body = body[1:]
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("module", MODULES, ids=_name)
def test_functions_stay_within_60_lines(module: Path) -> None:
    tree = ast.parse(module.read_text(encoding="utf-8"))
    too_long = {f.name: _body_lines(f) for f in _functions(tree) if _body_lines(f) > MAX_BODY_LINES}
    assert not too_long


@pytest.mark.parametrize("package", sorted(p.parent for p in MODULES if p.name == "__init__.py"), ids=lambda p: p.name)
def test_package_init_only_reexports(package: Path) -> None:
    tree = ast.parse((package / "__init__.py").read_text(encoding="utf-8"))
    late = [node for node in tree.body if isinstance(node, ast.If)]
    for block in late:
        assert isinstance(block.test, ast.Name)
        assert block.test.id == "TYPE_CHECKING"
        assert all(isinstance(node, ast.ImportFrom) for node in block.body)
        assert [ast.unparse(node) for node in block.orelse] == ["__getattr__ = open_late(__name__, __file__)"]
    allowed = (ast.Import, ast.ImportFrom, ast.Assign, ast.Expr)
    assert all(isinstance(node, allowed) for node in tree.body if node not in late)
    assigned = {t.id for n in tree.body if isinstance(n, ast.Assign) for t in n.targets if isinstance(t, ast.Name)}
    assert assigned <= {"__all__", "__version__"}


LATE = sorted(p for p in MODULES if p.name == "__init__.py" and "open_late(" in p.read_text(encoding="utf-8"))


@pytest.mark.parametrize("init", LATE, ids=_name)
def test_room_that_opens_late_gives_every_name_and_no_other(init: Path) -> None:
    room = importlib.import_module(".".join(init.parent.relative_to(SRC.parent).parts))
    assert set(read_late_names(init.read_text(encoding="utf-8"))) == set(room.__all__)
    assert all(getattr(room, name) is not None for name in room.__all__)
    with pytest.raises(AttributeError, match="no attribute 'nothing_of_the_kind'"):
        _ = room.nothing_of_the_kind


def test_changelog_fragments_have_a_known_kind() -> None:
    fragments = [p for p in (SRC.parents[1] / "changelog.d").glob("*.md") if p.name != "README.md"]
    assert fragments
    kinds = {p.name.split(".")[-2] for p in fragments}
    assert kinds <= {"added", "changed", "fixed", "removed", "numbers"}
