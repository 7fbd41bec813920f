"""Relief pads: drawn on the scan or typed on the case's survey, changed, taken out, undone; a conflict loses nothing."""

from collections.abc import Callable

from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served

SLOW_MS = 120_000.0
Look = Callable[..., Page]


def _draw_pad(page: Page) -> None:
    """Draw a strip of two places on the reference scan and put it into the draft."""
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "reference", timeout=SLOW_MS)
    expect(page.locator("#under")).to_contain_text("triangles")
    page.locator("#pad").select_option("relief-1")
    page.locator("#pad-gauge").select_option("28")
    page.locator("#pad-reach").fill("3,5")
    box = page.locator("#canvas").bounding_box()
    assert box
    for down in (0.82, 0.8):
        page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] * down)
    expect(page.locator("#pad-told")).to_contain_text("Places: 2")
    page.locator("#pad-put").click()
    expect(page.locator("#pad-told")).to_contain_text("relief-1 is in the draft")


def test_a_pad_is_drawn_changed_contested_undone_and_taken_out(serve: Callable[..., Served], look: Look) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/cases/DEMO-1/surfaces")
    _draw_pad(page)
    page.goto(f"{served.url}/cases/DEMO-1#relief")
    relief = page.locator("#relief")
    expect(relief).to_contain_text("relief-1 gauge 28 (0.32 mm), 3.5 mm to each side, 2 places", timeout=SLOW_MS)
    theirs = look(f"{served.url}/cases/DEMO-1#relief")
    theirs.get_by_role("button", name="Change relief-1").click(timeout=SLOW_MS)
    theirs.evaluate("document.getElementById('relief').removeAttribute('data-redraw')")  # as if the line were slow
    page.get_by_role("button", name="Type its places").click()
    page.locator("#relief-form textarea").fill("1 2 3\n4,5 5")
    page.get_by_role("button", name="Put it in").click()
    expect(page.locator("#told")).to_contain_text("is not x, y and z")
    page.locator("#relief-form textarea").fill("20 17 -4,6")
    page.get_by_role("button", name="Put it in").click()
    expect(relief).to_contain_text("relief-2 gauge 26 (0.40 mm), 4 mm to each side, 1 place")
    theirs.locator('#relief-form [name="gauge"]').fill("24")
    theirs.get_by_role("button", name="Put it in").click()
    expect(theirs.locator("#relief [role=alert]")).to_contain_text("Somebody else changed this plan")
    expect(theirs.locator("#relief")).to_contain_text("relief-2")
    expect(theirs.locator('#relief-form [name="gauge"]')).to_have_value("24")
    theirs.get_by_role("button", name="Put it in").click()
    expect(theirs.locator("#relief")).to_contain_text("relief-1 gauge 24 (0.51 mm)")
    expect(relief).to_contain_text("relief-1 gauge 24 (0.51 mm)")
    page.get_by_role("button", name="Undo: put item relief relief-1").click()
    expect(relief).to_contain_text("relief-1 gauge 28 (0.32 mm)")
    page.get_by_role("button", name="Take out relief-2").click()
    expect(relief).not_to_contain_text("gauge 26")
    relief.get_by_role("button", name="Keep this plan").click()
    expect(relief.locator("form.entry-foot")).to_have_count(0)
    page.reload()
    expect(relief).to_contain_text("relief-1 gauge 28 (0.32 mm)", timeout=SLOW_MS)


def test_the_survey_is_shown_anew_with_the_pad_once_it_is_kept(
    serve: Callable[..., Served], look: Look, long_run: None
) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/cases/DEMO-1/surfaces")
    _draw_pad(page)
    page.goto(f"{served.url}/cases/DEMO-1#relief")
    page.locator("#relief").get_by_role("button", name="Keep this plan").click(timeout=SLOW_MS)
    expect(page.locator("#survey")).to_contain_text("Relief relief-1: 0.32 mm of wax over", timeout=SLOW_MS)


def test_no_pad_is_drawn_on_a_scan_that_is_not_the_reference(
    serve: Callable[..., Served], look: Look, long_run: None
) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/cases/DEMO-1/surfaces?scan=poured")
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "poured", timeout=SLOW_MS)
    page.locator("#pad").select_option("relief-1")
    box = page.locator("#canvas").bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.82)
    expect(page.locator("#under")).to_contain_text("choose it first")
    expect(page.locator("#pad-put")).to_be_disabled()
