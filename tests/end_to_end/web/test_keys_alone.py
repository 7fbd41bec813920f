"""The main flows without a pointer: each is worked by keys, and the focus is never lost on the way."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served, command

Look = Callable[..., Page]


@pytest.fixture
def practice(serve: Callable[..., Served], pick_up_folder: Path) -> Served:
    served = serve(now="2026-03-02T08:43:00+00:00")
    command("record", "import", str(pick_up_folder), "--record", str(served.record))
    return served


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the focus is there; every stop on the way must be seen."""
    for _ in range(120):
        page.keyboard.press("Tab")
        seen = page.evaluate(_SEEN)
        assert seen["outline"] != "none", f"the focus is not seen on {seen['html']}"
        if page.evaluate("(wanted) => document.activeElement.matches(wanted)", selector):
            return
    pytest.fail(f"{selector} is not reached by Tab")


_SEEN = """() => {
  const at = document.activeElement, box = at.closest(".pick") ?? at;
  const outline = at === document.body ? "auto" : getComputedStyle(at).outlineStyle;
  return {outline: outline === "none" ? getComputedStyle(box).outlineStyle : outline, html: at.outerHTML.slice(0, 120)};
}"""


def test_a_step_is_started_and_finished_and_an_impression_laid_aside_by_keys(practice: Served, look: Look) -> None:
    page = look(f"{practice.url}/")
    tab_to(page, "#touch-1")
    before = page.locator("#touch-1").inner_text()
    page.keyboard.press("Enter")
    expect(page.locator("#touch-1")).to_have_text(before.replace("Start", "Done"))
    expect(page.locator("#touch-1")).to_be_focused()
    page.wait_for_timeout(900)  # a second touch at once is not counted
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").filter(has_text="its shortest is")).to_be_visible()
    expect(page.locator("#touch-1")).to_be_focused()
    page.wait_for_timeout(900)
    page.keyboard.press("Enter")
    expect(page.locator("#touch-1")).not_to_have_text(before.replace("Start", "Done"))
    page.reload()
    tab_to(page, "[name=storage][value=dry]")
    page.keyboard.press("Space")
    expect(page.locator("[name=storage][value=dry]")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("[name=storage][value=dry]")).to_be_focused()


def test_a_case_is_begun_its_units_entered_and_the_step_undone_by_keys(practice: Served, look: Look) -> None:
    page = look(f"{practice.url}/cases")
    tab_to(page, "[name=code]")
    page.keyboard.type("KEYS-1")
    tab_to(page, "[name=arch]")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    expect(page.locator("#entry")).to_be_visible()
    tab_to(page, '.place[data-tooth="46"]')
    page.keyboard.press("Space")
    tab_to(page, "button[data-gestures*=zirconia]")
    page.keyboard.press("Enter")
    expect(page.locator('.place[data-tooth="46"]')).to_have_attribute("aria-label", "46, 1 gap, crown")
    expect(page.locator("button[data-gestures*=zirconia]").first).to_be_focused()
    tab_to(page, "#undo")
    page.keyboard.press("Enter")
    expect(page.locator('.place[data-tooth="46"]')).to_have_attribute("aria-label", "46, natural tooth")


def test_the_first_key_leads_past_the_navigation(practice: Served, look: Look) -> None:
    page = look(f"{practice.url}/cases")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#main")).to_be_focused()
