"""A served practice where people sign in, without a socket: accounts, a clock to set, and hands to sign in with."""

import asyncio
import re
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeVar

from argon2 import PasswordHasher as Argon2
from fastapi.testclient import TestClient

from seatwright.record import Accounts, Passwords, create_record, open_record
from seatwright.web import ServeSettings
from seatwright.web.app import create_app
from seatwright.workflows.accounts import add_account
from seatwright.workflows.rights import Role

Returned = TypeVar("Returned")
QUICK = Passwords(Argon2(time_cost=1, memory_cost=64, parallelism=1))
PHRASE = "correct horse battery"
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
BASE = "http://127.0.0.1:8731"
OWN = {"origin": BASE, "sec-fetch-site": "same-origin", "accept": "text/html"}
NAMES = {"dentist": Role.DENTIST, "technician": Role.TECHNICIAN, "reader": Role.READER}


def run_apart(work: Coroutine[object, object, Returned]) -> Returned:
    """Run a coroutine in a thread of its own: a browser that other tests left open keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


@dataclass(slots=True)
class SetClock:
    """A clock that a test sets."""

    at: datetime = START

    def now(self) -> datetime:
        return self.at


@dataclass(slots=True)
class Place:
    """The application, with an account for each role."""

    folder: Path
    tls: bool = False
    clock: SetClock = field(default_factory=SetClock)
    app: object = None

    def __post_init__(self) -> None:
        record = create_record(self.folder, now=START - timedelta(days=1), by="lead")
        for name, role in NAMES.items():
            add_account(Accounts(record.database), QUICK, name, role, PHRASE, by="lead", now=START - timedelta(days=1))
        record.close()
        mark = Path(__file__) if self.tls else None  # TLS is not spoken here: cookies alone look at it
        self.app = create_app(ServeSettings(self.folder, lan=True, certificate=mark), clock=self.clock)
        self.app.state.page.practice.writing = self.clock
        self.app.state.page.people.hasher = QUICK

    @property
    def people(self):
        return self.app.state.page.people

    def accounts(self) -> Accounts:
        """Return the accounts as another process sees them."""
        return Accounts(open_record(self.folder).database)

    def browser(self, address: str = "192.0.2.7") -> "Browser":
        """Return a browser of its own."""
        base = BASE.replace("http", "https") if self.tls else BASE
        return Browser(TestClient(self.app, base_url=base, client=(address, 50000), follow_redirects=False))


@dataclass(slots=True)
class Browser:
    """Asks as a page of ours would."""

    client: TestClient
    csrf: str = ""

    def get(self, path: str, **headers: str):
        return self.client.get(path, headers={**OWN, **headers})

    def post(self, path: str, data: dict[str, str] | None = None, **headers: str):
        """Post a form with the token of the page, unless headers say otherwise."""
        sent = {**OWN, "origin": str(self.client.base_url).rstrip("/"), "x-csrf-token": self.csrf, **headers}
        return self.client.post(path, data=data or {}, headers={key: value for key, value in sent.items() if value})

    def sign_in(self, name: str, phrase: str = PHRASE, *, target: str = "/cases", **headers: str):
        """Load the sign-in page, fill it in, and return the answer."""
        page = self.get("/sign-in").text
        entry = re.search(r'name="csrf" value="([^"]+)"', page).group(1)
        form = {"name": name, "password": phrase, "csrf": entry, "next": target}
        answer = self.post("/sign-in", form, **{"x-csrf-token": "", **headers})
        if answer.status_code == 303:
            self.csrf = re.search(r'<meta name="csrf" content="([^"]+)"', self.get("/cases").text).group(1)
        return answer
