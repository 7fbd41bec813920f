"""A technician works through the day by touch; clocks tick, storage changes, a missing crown is caught."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import Served, command

Look = Callable[..., Page]


@pytest.fixture
def pick_up_day(pick_up_folder: Path, serve: Callable[..., Served]) -> Served:
    """The demo case three minutes after its pick-up left the mouth."""
    served = serve(now="2026-03-02T08:43:00+00:00")
    command("record", "import", str(pick_up_folder), "--record", str(served.record))
    return served


def test_a_step_is_started_and_finished_by_one_touch_each_and_every_screen_follows(
    pick_up_day: Served, look: Look
) -> None:
    bench, hands = look(f"{pick_up_day.url}/"), look(f"{pick_up_day.url}/bench/hands/dentist")
    expect(hands.locator("h1")).to_have_text("Take opposing-2")
    hands.get_by_role("button", name="Start: take opposing-2").click()
    expect(hands.get_by_role("button", name="Done: take opposing-2")).to_be_visible()
    expect(bench.locator(".hand", has_text="dentist")).to_contain_text("Done: take opposing-2")
    technician = look(f"{pick_up_day.url}/bench/hands/technician")
    expect(technician.locator(".steps li")).not_to_have_count(0)


def test_a_colleague_who_goes_home_is_relieved_and_the_record_says_so(pick_up_day: Served, look: Look) -> None:
    page = look(f"{pick_up_day.url}/bench/hands/technician")
    page.get_by_text("Take over a colleague").click()
    page.get_by_role("button", name="Take over from").first.click()
    expect(page.locator(".said")).to_contain_text("technician takes over from")
    expect(page.locator("#touch, a.touch-huge")).to_be_visible()
    page.goto(f"{pick_up_day.url}/cases/DEMO-1/record")
    expect(page.locator(".timeline")).to_contain_text("technician takes over from")


def test_what_a_command_writes_into_the_record_is_on_every_screen_soon(
    pick_up_folder: Path, serve: Callable[..., Served], look: Look
) -> None:
    served = serve(now="2026-03-02T08:43:00+00:00")
    page = look(f"{served.url}/")
    expect(page.locator("h1")).to_have_text("Nothing is at the bench")
    command("record", "import", str(pick_up_folder), "--record", str(served.record))
    expect(page.locator(".clock-card", has_text="pickup-1")).to_be_visible(timeout=15_000)


def test_the_bench_goes_by_its_own_clock_whatever_moment_a_stored_case_is_looked_at(
    serve: Callable[..., Served], look: Look
) -> None:
    page = look(f"{serve(demo=True, now='2026-03-04T09:40:00+00:00').url}/")  # six minutes before the demo's own moment
    late = page.locator(".clock-card.grave", has_text="opposing-2")
    expect(late).to_contain_text("still within, but")
    expect(late).to_contain_text("min too late when poured")


def test_the_clock_of_an_impression_ticks_down(pick_up_day: Served, look: Look) -> None:
    page = look(f"{pick_up_day.url}/bench/hands/dentist")
    page.get_by_role("button", name="Start").click()
    timer = page.locator(".big [data-until]")
    first = timer.inner_text()
    expect(timer).not_to_have_text(first, timeout=4000)


def test_how_an_impression_is_kept_is_logged_with_one_touch(pick_up_day: Served, look: Look) -> None:
    page = look(f"{pick_up_day.url}/")
    page.get_by_role("button", name="laid aside dry").click()
    expect(page.locator(".clock-card", has_text="pickup-1")).to_contain_text("Kept: dry")
    page.goto(f"{pick_up_day.url}/cases/DEMO-1/record")
    expect(page.locator(".timeline")).to_contain_text("pickup-1")
    expect(page.locator(".timeline li", has_text="dry")).to_have_count(1)


def test_a_crown_left_on_its_tooth_holds_the_pour(pick_up_day: Served, look: Look) -> None:
    page = look(f"{pick_up_day.url}/")
    page.get_by_role("link", name="Count crowns").click()
    expect(page.locator("input:checked")).to_have_count(0)
    page.get_by_role("group", name="33").get_by_text("LEFT ON ITS TOOTH").click()
    page.get_by_role("button", name="Log this count").click()
    expect(page.locator("h1")).to_contain_text("Where is each crown")  # the other crowns are not judged yet
    page.get_by_role("button", name="All others are firm").click()
    expect(page.locator("h1")).to_contain_text("Who counted is not said")
    page.go_back()
    page.get_by_role("group", name="33").get_by_text("LEFT ON ITS TOOTH").click()
    page.get_by_role("group", name="Counted by").get_by_text("technician").click()
    page.get_by_role("button", name="All others are firm").click()
    expect(page.locator("h1")).to_contain_text("held")
    expect(page.locator(".strip").first).to_contain_text("33")


def test_a_decision_outlives_the_server_half_written_and_is_told_once_on_the_line_of_time(
    pick_up_day: Served, look: Look
) -> None:
    page = look(f"{pick_up_day.url}/cases/DEMO-1/record")
    page.get_by_label("Decision").fill("Pour the pick-up first.")
    pick_up_day.kill()
    page.get_by_label("Reason").fill("Its window is the longer, but its dies take all hands.")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("#told")).to_contain_text("The server does not answer")
    pick_up_day.start()
    page.reload()
    expect(page.locator("#draft-told")).to_contain_text("not in the record yet")
    expect(page.get_by_label("Decision")).to_have_value("Pour the pick-up first.")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator(".timeline")).to_contain_text("its dies take all hands")
    page.reload()
    expect(page.locator(".timeline").get_by_text("Pour the pick-up first.")).to_have_count(1)
    expect(page.get_by_label("Decision")).to_have_value("")
    expect(page.locator("#draft-told")).to_be_hidden()


def test_a_wrong_touch_is_taken_back_for_five_minutes_and_stays_in_the_record(pick_up_day: Served, look: Look) -> None:
    page = look(f"{pick_up_day.url}/")
    page.get_by_role("button", name="Start: take opposing-2").click()
    expect(page.get_by_role("button", name="Done: take opposing-2")).to_be_visible()
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_role("button", name="Start: take opposing-2")).to_be_visible()
    expect(page.locator(".said")).to_contain_text("Taken back: began take opposing-2")
    expect(page.get_by_role("button", name="Take back: began take opposing-2")).to_have_count(0)
    page.goto(f"{pick_up_day.url}/cases/DEMO-1/record")
    expect(page.locator(".timeline .corrected")).to_contain_text("began take opposing-2")
    expect(page.locator(".timeline")).to_contain_text("it did not happen (because: touched by mistake")


def test_a_break_is_entered_for_the_bench_and_put_back_and_a_bench_that_cannot_be_is_refused(
    pick_up_day: Served, look: Look
) -> None:
    page = look(f"{pick_up_day.url}/bench/file")
    page.locator('[name="break.0.start"]').fill("12:30")
    page.locator('[name="break.0.end"]').fill("13:00")
    page.locator('[name="break.0.person"]').select_option("technician")
    page.get_by_role("button", name="Keep this bench").click()
    expect(page.locator(".said")).to_contain_text("Cases that have this bench now: 1")
    page.reload()
    expect(page.locator('[name="break.0.start"]')).to_have_value("12:30")
    page.locator('[name="break.1.start"]').fill("11:00")
    page.get_by_role("button", name="Keep this bench").click()
    expect(page.locator("#told")).to_contain_text("The bench cannot be kept like this")
    expect(page.locator('[name="break.1.start"]')).to_have_value("11:00")
    pick_up_day.kill()
    pick_up_day.start()
    page.reload()  # what was filled in and not kept is there after a restart
    expect(page.locator('[name="break.1.start"]')).to_have_value("11:00")
    page.get_by_role("button", name="Show it as it is kept").click()
    expect(page.locator('[name="break.1.start"]')).to_have_value("")
    page.get_by_text("The benches before").click()
    page.get_by_role("button", name="Put this one back").click()
    expect(page.locator('[name="break.0.start"]')).to_have_value("")
    page.get_by_text("The benches before").click()
    expect(page.locator(".earlier li")).to_have_count(1)  # the one with the break, to be put back in turn
    expect(page.locator(".earlier")).to_contain_text("12:30")
    page.goto(pick_up_day.url)
    expect(page.locator("h1")).to_contain_text("pour in its window")
