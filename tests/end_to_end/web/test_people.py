"""On a page where people sign in: a technician works, a reader looks, and each sees what they may do."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher as Argon2
from playwright.sync_api import Browser, Page, expect
from tests.end_to_end.web.conftest import Served, free_port
from tests.end_to_end.web.test_every_page import AXE, violations

from seatwright import record_wiring, wiring
from seatwright.record import Accounts, Passwords, create_record, open_record
from seatwright.workflows.accounts import add_account, set_disabled
from seatwright.workflows.practice import import_case
from seatwright.workflows.rights import Role

Look = Callable[..., Page]
PHRASE = "correct horse battery"
QUICK = Passwords(Argon2(time_cost=1, memory_cost=64, parallelism=1))
CLOCK = wiring.SystemClock()


@pytest.fixture(scope="module")
def lan(tmp_path_factory: pytest.TempPathFactory, pick_up_folder: Path) -> Iterator[Served]:
    """The pick-up's day, served as on the network, though at an address that only this machine reaches."""
    folder = tmp_path_factory.mktemp("lan") / "practice"
    record = create_record(folder, now=CLOCK.now(), by="lead")
    files, source, base = record_wiring.open_case_files(pick_up_folder)
    import_case(record, files, source, by="lead", reason="", clock=CLOCK, base=base)
    for role in Role:
        add_account(Accounts(record.database), QUICK, role.value, role, PHRASE, by="lead", now=CLOCK.now())
    record.close()
    served = Served(folder, free_port(), "2026-03-02T08:43:00+00:00", ("--lan", "--host", "127.0.0.1"))
    served.start()
    yield served
    served.kill()


def sign_in(page: Page, name: str, phrase: str = PHRASE) -> None:
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(phrase)
    page.get_by_role("button", name="Sign in").click()


def test_a_technician_signs_in_works_and_leaves_and_a_reader_only_looks(lan: Served, look: Look) -> None:
    bench = look(f"{lan.url}/bench/hands/dentist")
    expect(bench).to_have_title("Sign in · Seatwright")
    sign_in(bench, "technician", "wrong horse battery")
    expect(bench.get_by_role("alert")).to_contain_text("Name or password is wrong")
    sign_in(bench, "technician")
    expect(bench.locator(".whoami")).to_contain_text("technician")
    bench.get_by_role(
        "button", name="Start: take opposing-2"
    ).click()  # at the dentist's hands: the technician wrote it
    expect(bench.get_by_role("button", name="Done: take opposing-2")).to_be_visible()
    reader = look(f"{lan.url}/cases/DEMO-1/record")
    sign_in(reader, "reader")
    expect(reader.locator(".timeline li", has_text="opposing-2").last).to_contain_text("technician")
    expect(reader.get_by_label("Decision")).to_have_count(0)
    for path in ("/", "/bench/hands/dentist", "/bench/file", "/cases", "/cases/DEMO-1/surfaces", "/cases/DEMO-1/mouth"):
        reader.goto(f"{lan.url}{path}")
        expect(reader.locator("main button:not([hidden])")).to_have_count(0)
    expect(reader.locator("#entry")).to_be_visible()
    reader.goto(f"{lan.url}/bench/count?case=DEMO-1&impression=pickup-1")
    expect(reader.locator("h1")).to_have_text("A reader may not start or finish a step, or say what happened")
    bench.get_by_role("button", name="Sign out").click()
    expect(bench).to_have_title("Sign in · Seatwright")
    bench.go_back()
    expect(bench).to_have_title("Sign in · Seatwright")
    rows = Accounts(open_record(lan.record).database).history(limit=4)
    assert [(row.what, row.account) for row in rows] == [
        ("signed_out", "technician"),
        ("signed_in", "reader"),
        ("signed_in", "technician"),
        ("refused", "technician"),
    ]


def test_a_plan_is_entered_by_a_technician_and_kept_by_a_dentist(lan: Served, look: Look) -> None:
    page = look(f"{lan.url}/cases/DEMO-1/mouth")
    sign_in(page, "technician")
    place = page.locator('.place[data-tooth="44"]')
    place.focus()
    page.keyboard.press("Space")
    with page.expect_response("**/mouth/gestures"):
        page.locator("#entry").get_by_role("button", name="noble alloy", exact=True).first.click()
    expect(page.locator(".entry-foot")).to_contain_text("draft")
    expect(page.locator("#keep")).to_have_count(0)
    expect(page.locator(".entry-foot")).to_contain_text("a dentist keeps it")
    dentist = look(f"{lan.url}/cases/DEMO-1/mouth")
    sign_in(dentist, "dentist")
    with dentist.expect_response("**/mouth/keep") as kept:
        dentist.locator("#keep").click()
    assert kept.value.status == 200, kept.value.text()
    expect(dentist.locator(".entry-foot")).to_contain_text("kept as version 2")
    dentist.goto(f"{lan.url}/cases/DEMO-1/record")
    expect(dentist.locator(".timeline li", has_text="version 2")).to_contain_text("dentist")


def test_a_page_left_open_says_that_its_person_is_signed_out(lan: Served, look: Look) -> None:
    page = look(f"{lan.url}/bench/hands/dentist")
    sign_in(page, "technician")
    accounts = Accounts(open_record(lan.record).database)
    set_disabled(accounts, "technician", disabled=True, by="lead", now=CLOCK.now())
    page.locator("#touch").click()
    expect(page.locator("#told")).to_contain_text("You are signed out")
    page.get_by_role("link", name="Sign in again").click()
    expect(page).to_have_title("Sign in · Seatwright")


@pytest.mark.skipif(not AXE.is_file(), reason="axe-core is absent: run npm ci in frontend/")
@pytest.mark.parametrize("light", ["light", "dark"])
def test_signing_in_and_being_refused_have_no_violation(lan: Served, browser: Browser, light: str) -> None:
    context = browser.new_context(color_scheme=light)
    page, found = context.new_page(), {}
    page.goto(f"{lan.url}/bench/count?case=DEMO-1&impression=pickup-1")
    found["sign in"] = violations(page)
    sign_in(page, "reader", "wrong horse battery")
    found["wrong"] = violations(page)
    sign_in(page, "reader")
    expect(page.locator("h1")).to_contain_text("A reader may not")
    found["refused"] = violations(page)
    page.goto(f"{lan.url}/password")
    found["password"] = violations(page)
    page.goto(f"{lan.url}/cases/DEMO-1/mouth")
    found["mouth of a reader"] = violations(page)
    context.close()
    assert {name: said for name, said in found.items() if said} == {}
