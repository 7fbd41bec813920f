"""Each device shows teeth, decimals, light and alarm as chosen on it, and says nothing of it to others or to files."""

import json
from collections.abc import Callable

from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served


def test_a_choice_holds_on_every_page_of_this_device_and_on_no_other(
    serve: Callable[..., Served], look: Callable[..., Page]
) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/settings")
    page.get_by_text("#19 (Universal)").click()
    page.get_by_text("comma").click()
    page.get_by_text("dim room").click()
    page.get_by_text("sound", exact=True).click()
    page.get_by_role("button", name="Keep on this device").click()
    expect(page.get_by_role("radio", name="comma")).to_be_checked()
    expect(page.locator("html")).to_have_attribute("data-light", "dim")
    expect(page.locator("html")).to_have_attribute("data-sound", "off")
    page.goto(f"{served.url}/cases/DEMO-1/mouth")
    expect(page.locator('.place[data-tooth="36"]')).to_have_attribute("aria-label", "#19 (36), missing, in the partial")
    page.locator('.place[data-tooth="35"]').focus()
    page.keyboard.press("Space")
    expect(page.locator("#chosen")).to_have_text("#20 (35)")
    page.goto(f"{served.url}/cases/DEMO-1")
    expect(page.locator("#plan")).to_contain_text("0,2° ± 0,3°")
    expect(page.locator("#dies .number").first).to_have_text("#29 (45)")
    expect(page.locator(".notation")).to_contain_text("is ISO 3950")
    other = look(f"{served.url}/cases/DEMO-1")
    expect(other.locator("#plan")).to_contain_text("0.2° ± 0.3°")
    expect(other.locator("#dies .number").first).to_have_text("45")
    kept = {cookie["name"]: cookie for cookie in page.context.cookies()}["seatwright-page"]
    assert (kept["httpOnly"], kept["sameSite"]) == (True, "Strict")
    assert "Universal" not in json.dumps(sorted(path.name for path in served.record.rglob("*")))
