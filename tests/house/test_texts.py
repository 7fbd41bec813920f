"""Text stands apart from layout: templates and scripts name keys of one catalogue, and each key is used."""

import re
from pathlib import Path

import pytest

from seatwright.case.entry import ITEM_MODELS
from seatwright.web._checks import WORKS
from seatwright.web._texts import catalogue

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "src" / "seatwright" / "web" / "templates").glob("*.j2"))
SCRIPTS = sorted((ROOT / "frontend" / "src").glob("*.ts"))
SPOKEN_IN_PYTHON = {"presets": "_presets.py", "keeps": "_bench.py"}
_PARTS = re.compile(r"(\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}|<code.*?</code>|<[^>]*>)", re.DOTALL)
_SPOKEN = re.compile(r'\b(?:aria-label|placeholder|alt|title)="([^"]*)"')
_SAID = re.compile(r"\bsay\.(\w+)\.(\w+)")
_LITERAL = re.compile(r"""/(?:[^/\n]|\\/)+/\.exec|"((?:[^"\\\n]|\\.)*)"|'((?:[^'\\\n]|\\.)*)'|`([^`]*)`""")
_WORDS = re.compile("[A-Za-z]{2,} [a-z]{2,}")


def prose_of(template: str) -> list[str]:
    """Return what a template says by itself, in text and in spoken names."""
    parts = _PARTS.split(template)
    written = [re.sub(r"&\w+;", "", part) for part in parts[::2]]
    spoken = [re.sub(r"\{[{%].*?[%}]\}", "", said) for part in parts[1::2] for said in _SPOKEN.findall(part)]
    return [said.strip() for said in (*written, *spoken) if re.search("[A-Za-z]", said)]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_prose(path: Path) -> None:
    assert prose_of(path.read_text(encoding="utf-8")) == []


def test_prose_in_a_template_would_be_found() -> None:
    assert prose_of('<p aria-label="Sides">{{ say.a.b }} left</p>') == ["left", "Sides"]


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_script_holds_no_prose(path: Path) -> None:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not re.match(r"\s*(//|/\*|\*)", line)]
    assert texts_in("\n".join(lines)) == []


def texts_in(script: str) -> list[str]:
    """Return the literals that are sentences, not selectors."""
    plain = re.sub(r"//.*", "", script)
    found = [re.sub(r"\$\{.*?\}", "", "".join(parts)) for parts in _LITERAL.findall(plain)]
    return [text for text in found if _WORDS.search(text) and not text.startswith(("#", ".", "["))]


def test_prose_in_a_script_would_be_found() -> None:
    assert texts_in('tell(`${n} triangles are read`); find("#a .b")') == [" triangles are read"]


def test_every_key_of_the_catalogue_is_used_and_every_used_key_is_there() -> None:
    used = {pair for path in TEMPLATES for pair in _SAID.findall(path.read_text(encoding="utf-8"))}
    scripts = "\n".join(path.read_text(encoding="utf-8") for path in SCRIPTS)
    used |= {("works", work) for work in WORKS}  # named by what is computed
    for table, module in SPOKEN_IN_PYTHON.items():
        text = (ROOT / "src" / "seatwright" / "web" / module).read_text(encoding="utf-8")
        used |= {(table, key) for key in re.findall(r'_SAY\["(\w+)"\]', text)}
    used |= {("items", table) for table in ITEM_MODELS}  # named by what a case may hold
    used |= {("scripts", key) for key in re.findall(r'\bsay\("(\w+)"', scripts)}
    assert {(table, key) for table, keys in catalogue().items() for key in keys} == used
