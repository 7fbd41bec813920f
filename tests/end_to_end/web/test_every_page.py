"""Every page, light and dim, filled, empty and refused: nothing that axe-core finds, and a print that reads on white."""

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from pypdf import PdfReader
from tests.end_to_end.web.conftest import ROOT, Served, command, free_port

AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
PICK_UP_NOW = "2026-03-02T08:43:00+00:00"
FILLED = {
    "bench": "/",
    "hands": "/bench/hands/technician",
    "count": "/bench/count?case=DEMO-1&impression=pickup-1",
    "cases": "/cases",
    "case": "/cases/DEMO-1",
    "mouth": "/cases/DEMO-1/mouth",
    "record": "/cases/DEMO-1/record",
    "surfaces": "/cases/DEMO-1/surfaces",
    "settings": "/settings",
    "bench itself": "/bench/file",
    "not there": "/cases/NOPE",
    "nobody": "/bench/hands/nobody",
}
EMPTY = {
    "bench without work": "/",
    "bench of no case": "/bench/file",
    "no cases": "/cases",
    "none found": "/cases?text=x",
    "no page": "/nope",
    "mouth of a new case": "/cases",
}


@pytest.fixture(scope="module")
def addresses(tmp_path_factory: pytest.TempPathFactory, pick_up_folder: Path) -> Iterator[dict[str, str]]:
    """Every page of a practice at its pick-up, and of one in which nothing is yet."""
    found: dict[str, str] = {}
    running = []
    for name, pages in (("filled", FILLED), ("empty", EMPTY)):
        record = tmp_path_factory.mktemp(name) / "practice"
        command("record", "init", "--record", str(record))
        if pages is FILLED:
            command("record", "import", str(pick_up_folder), "--record", str(record))
        served = Served(record, free_port(), PICK_UP_NOW)
        running.append(served)
        served.start()
        found |= {page: served.url + address for page, address in pages.items()}
    yield found
    for served in running:
        served.kill()


def violations(page: Page) -> list[str]:
    """Return what axe-core finds on a page, each with the first element concerned."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [f"{one['id']}: {one['help']}: {one['nodes'][0]['html'][:200]}" for one in found]


def settle(page: Page, name: str) -> None:
    """Bring a page into the state in which it is used: checks computed, a unit chosen, its forms open."""
    if name == "case":
        page.locator("#work [data-done]").wait_for(timeout=180_000)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.get_by_role("button", name="Type its places").click()
        page.locator("#relief-form form.item").wait_for()
    if name == "mouth":
        page.locator('.place[data-tooth="35"]').focus()
        page.keyboard.press("Space")
        page.locator(".adds button", has_text="clasp").click()
        page.locator("form.item").wait_for()
    if name == "surfaces":
        page.locator("#surfaces[data-shown]").wait_for(timeout=60_000)
        page.locator("#pad").select_option("relief-1")
    if name in ("hands", "bench", "bench itself"):
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    if name == "record":
        page.get_by_label("Decision").fill("half written")
        page.locator("#draft-told").wait_for()
    if name == "mouth of a new case":
        page.get_by_label("Code, never a name").fill(
            page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches ? 'DIM-1' : 'LIGHT-1'")
        )
        page.get_by_text("maxilla").click()
        page.get_by_role("button", name="Begin, at the mouth").click()
        page.locator('.place[data-tooth="16"]').focus()
        page.keyboard.press("Space")
        page.get_by_role("button", name="crown", exact=True).click()
        page.locator('.place[data-tooth="16"][aria-label*="gap"]').wait_for()


@pytest.mark.skipif(not AXE.is_file(), reason="axe-core is absent: run npm ci in frontend/")
@pytest.mark.parametrize("light", ["light", "dark"])
def test_every_page_has_no_violation_by_light_and_in_a_dim_room(
    light: str, addresses: dict[str, str], browser: Browser
) -> None:
    context = browser.new_context(color_scheme=light, reduced_motion="reduce")  # type: ignore[arg-type]
    page = context.new_page()
    found: dict[str, list[str]] = {}
    for name, address in addresses.items():
        page.goto(address)
        settle(page, name)
        found[name] = violations(page)
    context.close()
    assert not {name: said for name, said in found.items() if said}


def test_an_image_without_words_is_found_by_the_check_itself(browser: Browser) -> None:
    page = browser.new_page()
    page.set_content("<html lang=en><title>x</title><main><h1>x</h1><img src='data:,'></main></html>")
    assert any(said.startswith("image-alt") for said in violations(page))
    page.close()


def test_no_page_is_wider_than_a_telephone(addresses: dict[str, str], browser: Browser) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    wide = {}
    for name, address in addresses.items():
        page.goto(address)
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if over > 0:
            wide[name] = over
    page.close()
    assert not wide


def test_every_page_prints_dark_on_white_from_a_dim_room_too(addresses: dict[str, str], browser: Browser) -> None:
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    for name, address in addresses.items():
        page.goto(address)
        page.emulate_media(media="print", color_scheme="dark")
        paper, ink, shown = page.evaluate(_PRINTED)
        assert paper in ("rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"), name
        assert ink == "rgb(0, 0, 0)", name
        assert not shown, f"{name} prints what can only be touched: {shown}"
        text = PdfReader(io.BytesIO(page.pdf(format="A4"))).pages[0].extract_text()
        assert re.search(r"\w{4}", text), name
        page.emulate_media(media="screen")
    context.close()


_PRINTED = """() => {
  const style = getComputedStyle(document.body);
  const touched = [...document.querySelectorAll("button, nav, summary, .adds")];
  return [style.backgroundColor, style.color,
          touched.filter((one) => one.offsetParent !== null).map((one) => one.textContent.trim().slice(0, 30))];
}"""
