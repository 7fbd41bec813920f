"""A scan is looked at in three dimensions: undercuts along a tilted path, a section, a unit's place set by touch."""

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served

SLOW_MS = 60_000.0


def _volumes(page: Page) -> list[int]:
    """Block-out and undercuts as the page tells them, mm³."""
    told = page.locator("#block-out-told").inner_text()
    return [int(number) for number in re.findall(r"(\d+) mm³", told)]


def test_undercuts_follow_the_tilt_and_a_unit_is_placed_by_touch(
    serve: Callable[..., Served], look: Callable[..., Page]
) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/cases/DEMO-1/surfaces")
    shown = page.locator("#surfaces")
    expect(shown).to_have_attribute("data-shown", "reference", timeout=SLOW_MS)
    expect(page.locator("#under")).to_contain_text("triangles")
    expect(page.locator("#tilt-from")).to_contain_text("occlusal plane: the average arch laid on 8 units")
    page.get_by_text("show undercuts").click()
    expect(shown).to_have_attribute("data-measured-ms", re.compile(r"\d+"), timeout=SLOW_MS)
    page.locator("#lateral").fill("8")
    expect(page.locator("#tilt")).to_have_text("8° sideways, 0° forwards")
    page.locator("#block-out").select_option("0")
    expect(page.locator("#block-out-told")).to_contain_text("walls parallel to the path", timeout=SLOW_MS)
    parallel = _volumes(page)
    page.locator("#block-out").select_option("6")
    expect(page.locator("#block-out-told")).to_contain_text("walls 6° to the path", timeout=SLOW_MS)
    tapered = _volumes(page)
    assert parallel[0] <= parallel[1] == tapered[1] < tapered[0]
    page.locator("#seed").select_option("34")
    box = page.locator("#canvas").bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.82)
    expect(page.locator("#seeded")).to_contain_text("34 is there now", timeout=SLOW_MS)
    page.goto(f"{served.url}/cases/DEMO-1/mouth")
    expect(page.locator("#undo")).to_contain_text("put item region")
