"""A dentist enters the demo's eight units from nothing; others edit the same case; the server is killed meanwhile."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served

Serve = Callable[..., Served]
Look = Callable[..., Page]


def begin(page: Page, code: str) -> None:
    page.get_by_label("Code, never a name").fill(code)
    page.get_by_label("mandible").check()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#entry")).to_be_visible()


def _place(page: Page, tooth: int) -> tuple[float, float]:
    box = page.locator(f'.place[data-tooth="{tooth}"]').bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def sweep(page: Page, *teeth: int) -> None:
    page.mouse.move(*_place(page, teeth[0]))
    page.mouse.down()
    for tooth in teeth[1:]:
        page.mouse.move(*_place(page, tooth), steps=4)
    page.mouse.up()


def choose(page: Page, *teeth: int) -> None:
    if page.locator("#choose-none").is_visible():
        page.locator("#choose-none").click()
    for tooth in teeth:
        sweep(page, tooth)
    if teeth:
        expect(page.locator("#chosen")).to_have_text(" ".join(map(str, teeth)))


def drawn_again(page: Page, before: str | None) -> None:
    """Wait until the answer is on the screen: a machine with much to do draws it a moment later."""
    expect(page.locator("#entry")).not_to_have_attribute("data-revision", before or "")


def press(page: Page, name: str, *, status: int = 200) -> None:
    before = page.locator("#entry").get_attribute("data-revision")
    with page.expect_response("**/mouth/*") as answer:
        page.locator("#entry").get_by_role("button", name=name, exact=True).first.click()
    assert answer.value.status == status, answer.value.text()
    if status != 422:
        drawn_again(page, before)


def type_in(page: Page, label: str, value: str) -> None:
    before = page.locator("#entry").get_attribute("data-revision")
    with page.expect_response("**/mouth/*") as answer:
        page.get_by_label(label).fill(value)
        page.get_by_label(label).press("Tab")
    assert answer.value.status == 200
    drawn_again(page, before)


def enter_demo_units(page: Page) -> None:
    choose(page, 36, 34, 32, 31, 41, 46, 47)
    press(page, "missing, in the partial")
    choose(page, 38, 48)
    press(page, "missing, not replaced")
    choose(page)
    sweep(page, 33, 34, 35)
    press(page, "one bridge")
    choose(page, 33, 42, 43)
    press(page, "metal-ceramic, facial butt")
    choose(page, 35)
    press(page, "metal-ceramic, collar")
    press(page, "post and core")
    choose(page, 34)
    press(page, "noble alloy")
    press(page, "feldspathic")
    choose(page, 43, 42)
    press(page, "splinted")
    choose(page, 33, 35, 43)
    type_in(page, "neck, mm", "5.5")
    choose(page, 42)
    type_in(page, "neck, mm", "3.6")
    choose(page, 44)
    press(page, "zirconia")
    press(page, "inside primed")
    type_in(page, "neck, mm", "5.0")
    choose(page, 45)
    press(page, "screwed implant crown")
    press(page, "noble alloy")
    choose(page, 37)
    press(page, "conus")
    press(page, "noble alloy")
    press(page, "metal knife edge")
    type_in(page, "neck, mm", "8")
    type_in(page, "wall taper, degrees", "6")


@pytest.fixture
def entered(serve: Serve, look: Look) -> tuple[Served, Page]:
    served = serve()
    page = look(f"{served.url}/cases")
    begin(page, "NEW-1")
    return served, page


def test_eight_units_are_entered_by_touch_and_only_the_delivery_is_missing(entered: tuple[Served, Page]) -> None:
    _, page = entered
    enter_demo_units(page)
    missing = page.locator(".gaps li strong").all_inner_texts()
    assert not [word for word in missing if word.isdigit()], page.locator(".gaps").inner_text()
    assert "tolerance" in missing


def _put(page: Page, what: str, **said: str) -> None:
    page.locator(".adds").get_by_role("button", name=what, exact=True).click()
    form = page.locator("form.item")
    for field, value in said.items():
        box = form.locator(f'[name="{field.replace("__", ".")}"]')
        if box.first.evaluate("box => box.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)
    before = page.locator("#entry").get_attribute("data-revision")
    with page.expect_response("**/mouth/items/*") as answer:
        form.get_by_role("button", name="Put it in").click()
    assert answer.value.status == 200, answer.value.text()
    drawn_again(page, before)


def test_a_whole_plan_is_entered_kept_and_opens_as_a_case(entered: tuple[Served, Page]) -> None:
    served, page = entered
    choose(page, 36, 37)
    press(page, "metal-ceramic, collar")
    type_in(page, "neck, mm", "6,5" if page.evaluate("navigator.language").startswith("de") else "6.5")
    choose(page, 38, 48)
    press(page, "missing, not replaced")
    choose(page, 46, 47)
    press(page, "missing, in the partial")
    _put(
        page, "impression", id="pickup-1", role="pick_up", arch="mandible", material="polyether", tray="rigid_custom",
        adhesive="yes", route="overall", lifts="36 37", pour__stone="type_4",
    )  # fmt: skip
    _put(page, "attachment", id="slide-36", kind="slide", tooth="36", surface="distal", motion="rigid",
         male_joined="cast_on", length_mm="5", clearance_um="20", clearance_is="total")  # fmt: skip
    page.locator('[name="unit_shift_um"]').fill("50")
    page.locator('.tolerance [name="reason"]').fill("agreed with the laboratory; judgement")
    page.get_by_role("button", name="Set", exact=True).click()
    expect(page.locator(".entry-foot")).to_contain_text("not kept yet")
    press(page, "Keep this plan")
    expect(page.locator(".entry-foot")).to_contain_text("kept as version 1")
    page.goto(f"{served.url}/cases/NEW-1")
    expect(page.locator("#dies")).to_contain_text("gel")
    expect(page.locator("#pour")).to_contain_text("pickup-1")
    page.goto(f"{served.url}/cases?text=new")
    expect(page.locator("#cases")).to_contain_text("planned")


def test_a_draft_is_there_after_the_server_was_killed(entered: tuple[Served, Page]) -> None:
    served, page = entered
    choose(page, 36)
    press(page, "metal-ceramic, collar")
    served.kill()
    press_without_server(page, "zirconia")
    served.start()
    page.reload()
    expect(page.locator('.place[data-tooth="36"]')).to_have_attribute("aria-label", "36, 1 gap, crown")
    expect(page.locator("#undo")).to_contain_text("36 set units crown noble alloy feldspathic")
    page.locator("#undo").click()
    expect(page.locator('.place[data-tooth="36"]')).to_have_attribute("aria-label", "36, natural tooth")


def press_without_server(page: Page, name: str) -> None:
    page.locator("#entry").get_by_role("button", name=name, exact=True).first.click()
    expect(page.locator("#told")).to_contain_text("The server does not answer")


def test_two_browsers_on_one_plan_see_the_conflict_and_lose_nothing(entered: tuple[Served, Page], look: Look) -> None:
    served, mine = entered
    theirs = look(f"{served.url}/cases/NEW-1/mouth")
    mine.evaluate("document.getElementById('entry').removeAttribute('data-redraw')")  # as if the line were slow
    choose(theirs, 46)
    press(theirs, "zirconia")
    choose(mine, 36)
    press(mine, "metal-ceramic, collar", status=409)
    expect(mine.get_by_role("alert")).to_contain_text("Somebody else changed this plan")
    expect(mine.locator('.place[data-tooth="46"]')).to_have_attribute("aria-label", "46, 1 gap, crown")
    mine.get_by_role("button", name="Do mine on top of it").click()
    for page in (mine, theirs):
        expect(page.locator('.place[data-tooth="46"]')).to_have_attribute("aria-label", "46, 1 gap, crown")
        expect(page.locator('.place[data-tooth="36"]')).to_have_attribute("aria-label", "36, 1 gap, crown")


def test_the_arch_is_worked_by_keys_alone(entered: tuple[Served, Page]) -> None:
    _, page = entered
    page.locator('.place[data-tooth="36"]').focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#chosen")).to_have_text("36 37")
    page.locator("#entry").get_by_role("button", name="zirconia", exact=True).first.focus()
    page.keyboard.press("Enter")
    expect(page.locator('.place[data-tooth="37"]')).to_have_attribute("aria-label", "37, 1 gap, crown")


def test_a_gesture_that_cannot_be_done_says_why(entered: tuple[Served, Page]) -> None:
    _, page = entered
    choose(page, 33, 35)
    press(page, "one bridge", status=422)
    expect(page.locator("#told")).to_contain_text("33 and 35 are no neighbors")


def test_a_clasp_is_hung_on_a_unit_by_touch_and_the_table_shows_what_hangs_on_it(entered: tuple[Served, Page]) -> None:
    _, page = entered
    choose(page, 44, 45)
    press(page, "metal-ceramic, collar")
    choose(page, 44)
    page.locator('.hang-side[data-side="facial"]').click()
    press(page, "wrought clasp, gold")
    press(page, "rest, occlusal")
    group = page.locator('.items-table tbody[data-tooth="44"]')
    expect(group).to_contain_text("clasp-44-facial")
    expect(group).to_contain_text("wrought, gold")
    expect(page.locator('.items-table tbody[data-tooth="45"]')).to_be_hidden()
    choose(page)
    expect(page.locator('.items-table tbody[data-tooth="45"]')).to_be_visible()
    page.locator("#undo").click()
    expect(group).not_to_contain_text("rest-44-facial")


@pytest.mark.parametrize(
    ("tooth", "sides"),
    [
        (35, {"right": "facial", "left": "lingual", "top": "distal", "bottom": "mesial", "middle": "…"}),
        (45, {"left": "facial", "right": "lingual", "top": "distal", "bottom": "mesial", "middle": "…"}),
    ],
)
def test_a_touch_at_the_edge_of_a_tooth_names_its_side(entered: tuple[Served, Page], tooth: int, sides: dict) -> None:
    """A mandible is drawn with its incisors below and the patient's left at the right, so each side is known."""
    _, page = entered
    box = page.locator(f'.place[data-tooth="{tooth}"] path').first.bounding_box()
    assert box
    at = {"left": (0.12, 0.5), "right": (0.88, 0.5), "top": (0.5, 0.12), "bottom": (0.5, 0.88), "middle": (0.5, 0.5)}
    for place, side in sides.items():
        x, y = at[place]
        page.mouse.click(box["x"] + x * box["width"], box["y"] + y * box["height"])
        expect(page.locator("#hang-side")).to_have_text(side)
        page.locator("#choose-none").click()
