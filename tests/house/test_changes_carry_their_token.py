"""What a page of ours sends to change something carries the token of its session, and its buttons ask for the right."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "src" / "seatwright" / "web" / "templates").glob("*.j2"))
SCRIPTS = sorted((ROOT / "frontend" / "src").glob("*.ts"))
FORM = re.compile(r'<form[^>]*method="post"[^>]*>(.{0,120})', re.DOTALL)


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_a_plain_form_carries_the_token_as_a_field(template: Path) -> None:
    for after in FORM.findall(template.read_text(encoding="utf-8")):
        assert "csrf" in after, 'put {% include "csrf.html.j2" %} behind the form\'s tag'


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_a_script_that_changes_something_sends_its_own_headers(script: Path) -> None:
    text = script.read_text(encoding="utf-8")
    assert '"POST"' not in text or "ownHeaders()" in text, "send ownHeaders() of ./tab with it"


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_a_form_that_changes_something_is_drawn_for_those_who_may_alone(template: Path) -> None:
    text = template.read_text(encoding="utf-8")
    # a part that stands in another one's question, or asks for nothing but oneself
    elsewhere = {
        "item_form.html.j2",
        "settings.html.j2",
        "sign_in.html.j2",
        "password.html.j2",
        "whoami.html.j2",
        "count.html.j2",
        "brought.html.j2",
    }
    if template.name not in elsewhere:
        for form in re.finditer(r"hx-post=|method=\"post\"", text):
            opened = re.findall(r"{%-? *(if|endif)([^%]*)%}", text[: form.start()])
            depth: list[str] = []
            for word, condition in opened:
                if word == "if":
                    depth.append(condition)
                else:
                    depth.pop()
            assert any("can(" in condition for condition in depth), text[form.start() : form.start() + 80]


def test_templates_and_scripts_are_found() -> None:
    assert any(FORM.search(path.read_text(encoding="utf-8")) for path in TEMPLATES)
    assert any('"POST"' in path.read_text(encoding="utf-8") for path in SCRIPTS)
