"""Signing in and out, as a person does it and as an attacker would."""

import asyncio
import re
from datetime import timedelta
from pathlib import Path

import httpx2
import pytest
from tests.unit.web.signing import BASE, NAMES, OWN, PHRASE, QUICK, START, Place, run_apart

from seatwright.web._hub import Change
from seatwright.workflows.accounts import change_password, change_role, set_disabled
from seatwright.workflows.rights import Role

WRONG = "wrong horse battery"


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path / "practice")


def _cookie(answer, name: str) -> str:
    return next(line for line in answer.headers.get_list("set-cookie") if line.startswith(f"{name}="))


def test_a_person_signs_in_goes_where_they_wanted_and_out_again(place: Place) -> None:
    browser = place.browser()
    asked = browser.get("/cases?text=A")
    assert (asked.status_code, asked.headers["location"]) == (303, "/sign-in?next=/cases%3Ftext%3DA")
    answer = browser.sign_in("Technician", target="/cases?text=A")
    assert (answer.status_code, answer.headers["location"]) == (303, "/cases?text=A")
    page = browser.get("/cases").text
    assert "technician" in page
    assert "Sign out" in page
    assert browser.post("/sign-out").headers["location"] == "/sign-in"
    assert browser.get("/cases").status_code == 303
    told = [(row.what, row.account, row.by, row.said) for row in place.accounts().history(limit=2)]
    assert told == [
        ("signed_out", "technician", "technician", "192.0.2.7"),
        ("signed_in", "technician", "technician", "192.0.2.7"),
    ]


@pytest.mark.parametrize("tls", [False, True])
def test_cookies_are_out_of_reach_of_scripts_and_other_sites(tmp_path: Path, tls: bool) -> None:
    browser = Place(tmp_path / "practice", tls=tls).browser()
    entry = _cookie(browser.get("/sign-in"), "seatwright-entry")
    session = _cookie(browser.sign_in("dentist"), "__Host-seatwright" if tls else "seatwright")
    for line in (entry, session):
        flags = {part.strip().lower() for part in line.split(";")[1:]}
        assert {"httponly", "samesite=strict", "path=/"} <= flags
        assert ("secure" in flags) is tls
        assert not any(flag.startswith("domain") for flag in flags)
    assert len(session.split("=", 1)[1].split(";")[0]) >= 43  # 256 bits, base64url


def test_the_token_itself_is_kept_nowhere(place: Place) -> None:
    browser = place.browser()
    token = _cookie(browser.sign_in("dentist"), "seatwright").split("=", 1)[1].split(";")[0]
    assert token not in repr(place.people.sessions)
    assert not any(token.encode() in path.read_bytes() for path in place.folder.rglob("*") if path.is_file())


def test_a_token_planted_before_signing_in_opens_nothing(place: Place) -> None:
    victim, attacker = place.browser(), place.browser("192.0.2.66")
    planted = "A" * 43
    victim.client.cookies.set("seatwright", planted)
    victim.client.cookies.set("seatwright-entry", planted)
    assert victim.sign_in("dentist").status_code == 303
    assert victim.client.cookies.get("seatwright", domain="127.0.0.1") != planted
    attacker.client.cookies.set("seatwright", planted)
    assert attacker.get("/cases").status_code == 303


def test_signing_in_again_ends_the_session_before(place: Place) -> None:
    browser, thief = place.browser(), place.browser()
    browser.sign_in("technician")
    thief.client.cookies = browser.client.cookies
    old = dict(browser.client.cookies)
    browser.sign_in("dentist")
    thief.client.cookies.clear()
    thief.client.cookies.update(old)
    assert thief.get("/cases").status_code == 303


@pytest.mark.parametrize("how", ["signed out", "another password", "disabled", "another role", "too old", "idle"])
def test_a_stolen_session_ends_with(place: Place, how: str) -> None:
    owner, thief = place.browser(), place.browser("192.0.2.66")
    owner.sign_in("technician")
    thief.client.cookies.update(dict(owner.client.cookies))
    assert thief.get("/cases").status_code == 200
    accounts = place.accounts()
    match how:
        case "signed out":
            owner.post("/sign-out")
        case "another password":
            change_password(accounts, QUICK, "technician", "another horse battery", by="lead", now=START)
        case "disabled":
            set_disabled(accounts, "technician", disabled=True, by="lead", now=START)
        case "another role":
            change_role(accounts, "technician", Role.READER, by="lead", now=START)
        case "too old":
            for _ in range(12):
                place.clock.at += timedelta(hours=1, seconds=1)
                owner.get("/cases")
        case "idle":
            for _ in range(121):
                place.clock.at += timedelta(minutes=1)
                assert thief.get("/bench", **{"hx-request": "true"}).status_code in (200, 401)  # redrawn by itself
    answer = thief.get("/cases")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?next=/cases")
    assert thief.get("/bench", **{"hx-request": "true"}).status_code == 401
    assert thief.get("/bench", accept="application/json").json()["error"]["code"] == "access"


def test_a_screen_that_only_shows_stays_the_day(place: Place) -> None:
    wall = place.browser()
    wall.sign_in("reader")
    place.clock.at += timedelta(hours=11)
    assert wall.get("/bench", **{"hx-request": "true"}).status_code == 200
    place.clock.at += timedelta(hours=2)
    assert wall.get("/bench", **{"hx-request": "true"}).status_code == 401


@pytest.mark.parametrize("name", ["dentist", "nobody", "disabled"])
def test_what_is_wrong_is_not_told_apart(place: Place, name: str) -> None:
    if name == "disabled":
        set_disabled(place.accounts(), "reader", disabled=True, by="lead", now=START)
    account, phrase = ("reader", PHRASE) if name == "disabled" else (name, WRONG)
    browser = place.browser()
    browser.get("/sign-in")
    answer = browser.sign_in(account, phrase)
    assert answer.status_code == 401
    told = answer.text.replace(account, "NAME")
    other = place.browser().sign_in("x", WRONG).text.replace('value="x"', 'value="NAME"')
    plain = re.compile(r'name="csrf" value="[^"]+"')
    assert plain.sub("", told) == plain.sub("", other)


def test_a_name_typed_wrongly_is_not_written_down(place: Place) -> None:
    place.browser().sign_in("correct horse typed here", WRONG)
    (row,) = place.accounts().history(limit=1)
    assert (row.what, row.account, row.by) == ("refused", "", "page")
    assert not any(b"typed here" in path.read_bytes() for path in place.folder.rglob("*") if path.is_file())


@pytest.mark.parametrize("name", ["dentist", "nobody"])
def test_guessing_at_one_account_waits_longer_each_time_even_with_the_right_password(place: Place, name: str) -> None:
    waits = []
    for n in range(12):
        answer = place.browser(f"192.0.2.{n}").sign_in(name, WRONG)  # each from another address
        waits.append(int(answer.headers.get("retry-after", 0)))
        if waits[-1]:
            assert answer.status_code == 429
            assert place.browser("198.51.100.1").sign_in(name, PHRASE).status_code == 429
            place.clock.at += timedelta(seconds=waits[-1])
    assert waits == [0, 0, 0, 0, 30, 60, 120, 240, 480, 900, 900, 900]
    if name == "dentist":
        assert place.browser().sign_in(name, PHRASE).status_code == 303
        assert place.browser().sign_in(name, WRONG).status_code == 401  # forgotten by the success


def test_guessing_at_many_accounts_from_one_address_is_slowed_down(place: Place) -> None:
    answers = [place.browser("2001:db8::1").sign_in(f"name{n}", WRONG) for n in range(20)]
    assert [answer.status_code for answer in answers] == [401] * 19 + [429]
    assert "Wait 30 seconds" in answers[-1].text
    assert place.browser("2001:db8::2").sign_in("dentist").status_code == 429  # the same network
    assert place.browser("2001:db8:0:1::1").sign_in("dentist").status_code == 303


def test_guesses_made_at_once_do_not_slip_through(place: Place) -> None:
    async def guess() -> list[int]:
        tries = [place.people.try_sign_in("dentist", f"{WRONG} {n}", address="192.0.2.1") for n in range(30)]
        return [tried.wait_s for tried in await asyncio.gather(*tries)]

    assert run_apart(guess()) == [0] * 4 + [30] * 26
    refused = [row for row in place.accounts().history(limit=100) if row.what == "refused"]
    assert len(refused) == 5  # the others were not even looked at


def test_twenty_people_sign_in_at_once_and_none_gets_anothers_session(place: Place) -> None:
    async def enter(number: int) -> tuple[str, str, str]:
        name = list(NAMES)[number % 3]
        transport = httpx2.ASGITransport(place.app, client=(f"192.0.2.{number}", 50000))
        async with httpx2.AsyncClient(transport=transport, base_url=BASE, headers=OWN) as client:
            entry = re.search(r'name="csrf" value="([^"]+)"', (await client.get("/sign-in")).text).group(1)
            answer = await client.post("/sign-in", data={"name": name, "password": PHRASE, "csrf": entry})
            assert answer.status_code == 303
            return name, (await client.get("/cases")).text, client.cookies["seatwright"]

    async def enter_all() -> list[tuple[str, str, str]]:
        return await asyncio.gather(*(enter(number) for number in range(20)))

    entered = run_apart(enter_all())
    assert all(re.search(rf"<span>{name}</span>", page) for name, page, _ in entered)
    assert len({token for _, _, token in entered}) == 20


@pytest.mark.parametrize(
    "target",
    [
        "//evil.example/",
        "https://evil.example/",
        "/\\evil.example",
        "\t//evil.example",
        "javascript:x",
        "/a\r\nSet-Cookie: x=1",
    ],
)
def test_nobody_is_sent_elsewhere_after_signing_in(place: Place, target: str) -> None:
    answer = place.browser().sign_in("dentist", target=target)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")


def test_a_sign_in_sent_without_its_own_page_is_refused(place: Place) -> None:
    browser = place.browser()
    form = {"name": "dentist", "password": PHRASE}
    assert browser.post("/sign-in", form).status_code == 403
    browser.get("/sign-in")
    assert browser.post("/sign-in", {**form, "csrf": "B" * 43}).status_code == 403
    assert (
        browser.sign_in("dentist", origin="https://evil.example", **{"sec-fetch-site": "cross-site"}).status_code == 403
    )


def test_the_page_says_what_an_open_line_means_and_not_under_tls(tmp_path: Path) -> None:
    assert "This line is not encrypted" in Place(tmp_path / "a").browser().get("/sign-in").text
    assert "not encrypted" not in Place(tmp_path / "b", tls=True).browser().get("/sign-in").text


def test_nobody_who_is_not_signed_in_makes_the_server_take_much(place: Place) -> None:
    browser = place.browser()
    browser.get("/sign-in")
    large = {"name": "dentist", "password": "x" * 200_000}
    assert browser.post("/sign-in", large).status_code == 413
    pieces = (b"name=dentist&password=" + b"x" * 90_000 for _ in range(3))
    headers = {**OWN, "content-type": "application/x-www-form-urlencoded"}
    assert browser.client.post("/sign-in", content=pieces, headers=headers).status_code == 400  # cut off on the way


def test_the_stream_of_changes_ends_with_the_session(place: Place) -> None:
    browser, hub = place.browser(), place.app.state.page.hub
    browser.sign_in("technician")
    cookie = f"seatwright={browser.client.cookies['seatwright']}"

    async def listen() -> str:
        hub.bind(asyncio.get_running_loop())
        transport = httpx2.ASGITransport(place.app)
        async with httpx2.AsyncClient(transport=transport, base_url=BASE, headers={"cookie": cookie}) as client:
            heard = asyncio.create_task(client.get("/live"))
            while not hub.n_listeners:
                await asyncio.sleep(0.01)
            hub.tell(Change("case", {"key": "BEFORE"}))
            await asyncio.sleep(0.05)
            set_disabled(place.accounts(), "technician", disabled=True, by="lead", now=START)
            hub.tell(Change("case", {"key": "AFTER"}))
            return (await asyncio.wait_for(heard, 10)).text

    heard = run_apart(listen())
    assert "BEFORE" in heard
    assert "AFTER" not in heard


NEW = "a longer sentence of mine"


def test_a_person_changes_the_password_stays_signed_in_and_every_other_device_signs_in_again(place: Place) -> None:
    tablet, wall = place.browser(), place.browser()
    tablet.sign_in("technician")
    wall.sign_in("technician")
    asked = {"old": PHRASE, "new": NEW, "again": NEW}
    for wrong in ({"again": f"{NEW}s"}, {"old": WRONG}, {"new": "a" * 12, "again": "a" * 12}):
        refused = tablet.post("/password", {**asked, **wrong})
        assert refused.status_code == 422
        assert "Nothing was changed." in refused.text
    changed = tablet.post("/password", asked)
    assert (changed.status_code, changed.headers["location"]) == (303, "/password?changed=yes")
    assert "It is changed." in tablet.get("/password?changed=yes").text
    assert wall.get("/cases").status_code == 303
    assert place.browser().sign_in("technician").status_code == 401
    assert place.browser().sign_in("technician", NEW).status_code == 303
    told = [(row.what, row.by) for row in place.accounts().history(limit=10) if row.what == "password"]
    assert told == [("password", "technician")]
    assert "Nothing was changed." not in tablet.get("/password?changed=yes").text


def test_guessing_the_old_password_waits_as_guessing_at_the_door_does(place: Place) -> None:
    browser = place.browser()
    browser.sign_in("technician")
    wish = {"old": WRONG, "new": NEW, "again": NEW}
    answers = [browser.post("/password", wish) for _ in range(6)]
    assert [answer.status_code for answer in answers][-1] == 429
    assert int(answers[-1].headers["retry-after"]) > 0
    assert browser.post("/password", {**wish, "old": PHRASE}).status_code == 429
