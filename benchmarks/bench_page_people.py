"""Many at once: twenty people sign in in the same moment; what a look at the bench asks of a record of 2,000 open cases.

Run: ``python benchmarks/bench_page_people.py``. The passwords are hashed as a server does it (Argon2id, 64 MiB, three
passes): one after another, so that many at once gain nothing. The record's question is asked by every look at the page,
and every two seconds beside it.
"""

import asyncio
import re
import statistics
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx2
from sqlalchemy import insert

from seatwright.record import Accounts, Passwords, Record, create_record
from seatwright.record._tables import impression_standing, stored_case
from seatwright.web import ServeSettings
from seatwright.web.app import create_app
from seatwright.workflows.accounts import add_account
from seatwright.workflows.rights import Role

BASE = "http://127.0.0.1:8731"
N_PEOPLE, N_CASES, N_LOOKS = 20, 2000, 50
PHRASE = "correct horse battery"
START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
OWN = {"origin": BASE, "sec-fetch-site": "same-origin", "accept": "text/html"}


async def sign_in(app: object, name: str) -> tuple[int, float]:
    """Return the status of a sign-in and its seconds."""
    async with httpx2.AsyncClient(
        transport=httpx2.ASGITransport(app=app), base_url=BASE, headers=OWN, timeout=120
    ) as one:
        page = (await one.get("/sign-in")).text
        entry = re.search(r'name="csrf" value="([^"]+)"', page).group(1)
        begun = time.perf_counter()
        answer = await one.post("/sign-in", data={"name": name, "password": PHRASE, "csrf": entry})
        return answer.status_code, time.perf_counter() - begun


async def sign_in_all(folder: Path) -> None:
    record = create_record(folder, now=START, by="lead")
    for number in range(N_PEOPLE):
        role = Role.DENTIST if number == 0 else Role.TECHNICIAN
        add_account(Accounts(record.database), Passwords(), f"bench-{number}", role, PHRASE, by="lead", now=START)
    record.close()
    app = create_app(ServeSettings(folder, lan=True))
    found = await asyncio.gather(*(sign_in(app, f"bench-{number}") for number in range(N_PEOPLE)))
    waited = sorted(seconds for _, seconds in found)
    statuses = {status for status, _ in found}
    print(
        f"{N_PEOPLE} sign-ins at once: status {statuses}; the first after {waited[0]:.2f} s, the last {waited[-1]:.2f} s"
    )


def fill(record: Record) -> None:
    """Put rows of 2,000 cases, each with two open impressions, where the lists read them."""
    cases, stands = [], []
    for number in range(N_CASES):
        code, at = f"LOAD-{number:04d}", (START + timedelta(minutes=number)).isoformat()
        cases.append(
            {
                "code": code,
                "code_folded": code.casefold(),
                "title": "",
                "arch": "mandible",
                "version": 1,
                "n_events": 3,
                "stage": "at_bench",
                "changed_at": at,
            }
        )
        stands += [
            {
                "case_code": code,
                "impression": name,
                "phase": "waiting",
                "material": "alginate",
                "storage": "open_air",
                "out_at": at,
                "poured_at": "",
                "separated_at": "",
            }
            for name in ("pickup-1", "opposing-1")
        ]
    with record.database.writing() as connection:
        connection.execute(insert(stored_case), cases)
        connection.execute(insert(impression_standing), stands)


def look(folder: Path) -> None:
    record = create_record(folder, now=START, by="lead")
    fill(record)
    times = []
    for _ in range(N_LOOKS):
        begun = time.perf_counter()
        n_found = len(record.list_standing())
        times.append(1000 * (time.perf_counter() - begun))
    begun = time.perf_counter()
    for number in range(N_CASES):
        record.find(f"LOAD-{number:04d}")
    singly = 1000 * (time.perf_counter() - begun)
    slow = sorted(times)[int(0.95 * N_LOOKS)]
    print(
        f"cases at the bench, {n_found} of them: median {statistics.median(times):.1f} ms, 95 % {slow:.1f} ms a look; asked singly {singly:.0f} ms"
    )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        asyncio.run(sign_in_all(Path(place) / "people"))
        look(Path(place) / "cases")
