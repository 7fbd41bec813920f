"""The bench page as a served process: first page, its size, an edit until it is on the screen, twenty clients at work.

Run: ``python benchmarks/bench_page.py [seconds of the twenty clients] [before|during]`` (default 20; the bar is stated for
300). ``before``: the case's checks end before the clients come; ``during``: they begin after the first reading of the
memory, so that all they leave behind counts as growth. Bars:
first page <= 1 s after start, told here once and measured over several starts by ``bench_page_start.py``; <= 300 kB
compressed without surfaces; edit to screen <= 150 ms median; 20 clients for 5 minutes: no error, memory growth <= 50 MB.
Loopback only. The demo case three minutes after its pick-up, scans on a coarser grid, which no measured page loads. Needs
Chromium for the edits; without it they are left out, saying so.
"""

import asyncio
import gzip
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections import Counter
from pathlib import Path

import httpx2
import psutil

from seatwright.demo import make_demo_case
from seatwright.files import bench_to_toml, case_to_toml, encode_ply, events_to_jsonl

ROOT = Path(__file__).resolve().parents[1]
SEATWRIGHT = [sys.executable, "-c", "from seatwright.cli import main; main()"]
ENVIRONMENT = {**os.environ, "SEATWRIGHT_BY": "dentist"}
NOW = "2026-03-02T08:43:00+00:00"
N_CLIENTS = 20
N_EDITS = 40
PAUSE_S = 1.0
CASE = "/cases/DEMO-1"
READ = [
    "/",
    "/bench",
    "/bench/hands/technician",
    "/cases",
    CASE,
    f"{CASE}/record",
    f"{CASE}/checks",
]
FLAGS = ["--no-sandbox", "--disable-gpu"]


def make_practice(folder: Path, *, grid_mm: float | None = 0.5) -> Path:
    """Return a record with the demo case in it, at its pick-up; its scans on the demo's own grid where none is given."""
    made, case = make_demo_case() if grid_mm is None else make_demo_case(grid_mm=grid_mm), folder / "case"
    plan = [line for line in case_to_toml(made.case).decode().splitlines() if not line.startswith("as_of")]
    log = events_to_jsonl(made.events).decode().splitlines()[:3]
    files = {
        "case.toml": "\n".join([*plan, ""]).encode(),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": "\n".join([*log, ""]).encode(),
        **{name: encode_ply(scan.surface()) for name, scan in made.scans.items()},
    }
    for name, data in files.items():
        (case / name).parent.mkdir(parents=True, exist_ok=True)
        (case / name).write_bytes(data)
    record = folder / "practice"
    for arguments in (["init"], ["import", str(case)]):
        subprocess.run(
            [*SEATWRIGHT, "record", *arguments, "--record", str(record)],
            check=True,
            capture_output=True,
            env=ENVIRONMENT,
        )
    return record


def start(record: Path) -> tuple[subprocess.Popen[bytes], str, float, float]:
    """Start the server; return it, its address, seconds from the command to the first page, and to the planned day."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    url, begun = f"http://127.0.0.1:{port}", time.perf_counter()
    options = ["serve", "--data", str(record), "--port", str(port), "--now", NOW]
    process = subprocess.Popen([*SEATWRIGHT, *options], stdout=subprocess.DEVNULL, env=ENVIRONMENT)
    while True:
        try:
            page = fetch(f"{url}/")
            break
        except OSError:
            assert process.poll() is None, "the server ended by itself"
            time.sleep(0.01)
    first = time.perf_counter() - begun
    while b"pickup-1" not in plain(page):  # as the browser does: what is answered only once the bench is set out
        fetch(f"{url}/static/mark.svg", kind="image/*")
        page = fetch(f"{url}/")
    return process, url, first, time.perf_counter() - begun


def fetch(address: str, *, kind: str = "text/html") -> bytes:
    """Return a page as it goes over the line, compressed."""
    headers = {"Accept": kind, "Accept-Encoding": "gzip"}
    with urllib.request.urlopen(urllib.request.Request(address, headers=headers)) as answer:
        return answer.read()


def plain(page: bytes) -> bytes:
    """Return a page as it reads."""
    return gzip.decompress(page) if page[:2] == b"\x1f\x8b" else page


def first_page_bytes(url: str) -> int:
    """Return the bytes of the first page and of all that it loads."""
    page = fetch(f"{url}/")
    text = plain(page).decode()
    found = {part.split('"')[0] for mark in ('href="/static/', 'src="/static/') for part in text.split(mark)[1:]}
    scripts = plain(fetch(f"{url}/static/scripts/page.js")).decode()
    found |= {"scripts/" + part.split('"')[0] for part in scripts.split('"./')[1:] if part.startswith("chunk")}
    return len(page) + sum(len(fetch(f"{url}/static/{name}")) for name in found)


def time_edits(url: str) -> list[float]:
    """Return milliseconds from touch to drawn arch, in headless Chromium, for single gestures on the demo's plan."""
    from playwright.sync_api import sync_playwright

    program = shutil.which("chromium")
    if program is None:
        return []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        page = browser.new_page()
        page.goto(f"{url}/cases/DEMO-1/mouth")
        page.locator('.place[data-tooth="44"]').focus()
        page.keyboard.press("Space")
        times = [page.evaluate(_EDIT, "zirconia" if k % 2 else "metal crown, collar") for k in range(N_EDITS)]
        browser.close()
    return times


_EDIT = """(word) => new Promise((done) => {
  const button = [...document.querySelectorAll("#entry button")].find((one) => one.textContent.trim() === word);
  const before = document.getElementById("entry");
  const begun = performance.now();
  const watch = new MutationObserver(() => {
    if (document.getElementById("entry") === before) return;
    watch.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - begun)));
  });
  watch.observe(before.parentElement, {childList: true});
  button.click();
})"""


def enter_eight_units(url: str) -> tuple[int, int, float]:
    """Return touches, typed numbers and seconds in which a script enters the demo's eight units from nothing."""
    from playwright.sync_api import sync_playwright

    sys.path.insert(0, str(ROOT))
    from tests.end_to_end.web.test_entry import begin, enter_demo_units

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page()
        page.goto(f"{url}/cases")
        begin(page, "EIGHT-1")
        page.evaluate(_COUNT)
        start_s = time.perf_counter()
        enter_demo_units(page)
        taken = time.perf_counter() - start_s
        touches, typed = page.evaluate("[document.body.dataset.touches, document.body.dataset.typed].map(Number)")
        browser.close()
    return touches, typed, taken


_COUNT = """() => {
  const count = document.body.dataset;
  Object.assign(count, {touches: 0, typed: 0});
  document.addEventListener("pointerdown", () => (count.touches = Number(count.touches) + 1), true);
  document.addEventListener("change", () => (count.typed = Number(count.typed) + 1), true);
}"""


async def work(url: str, number: int, until: float, said: Counter[str], checked: asyncio.Event) -> None:
    """Be one client: listen to changes, look at pages, enter a plan of one's own, touch by touch.

    The page of the case, which begins its checks, is not looked at before `checked`.
    """
    own = {"Origin": url, "Accept": "text/html", "HX-Request": "true"}
    async with httpx2.AsyncClient(base_url=url, headers=own, timeout=60) as client:
        ear = asyncio.create_task(listen(client, said))
        answer = await client.post("/cases", data={"code": f"LOAD-{number}", "arch": "mandible"})
        said[f"{answer.status_code}"] += 1
        revision, turn = 1, number
        while time.perf_counter() < until:
            turn += 1
            begun = time.perf_counter()
            if turn % 3:
                address = READ[turn % len(READ)]
                answer = await client.get(address if checked.is_set() or address != CASE else READ[0])
            else:
                gesture = {"gesture": "set_units", "teeth": [31 + turn % 7], "kind": "crown", "body": "zirconia"}
                wish = {"revision": revision, "gestures": [gesture]}
                answer = await client.post(f"/cases/LOAD-{number}/mouth/gestures", json=wish)
                revision += answer.status_code == 200
            said[f"{answer.status_code}"] += 1
            said["ms"] += round(1000 * (time.perf_counter() - begun))
            await asyncio.sleep(PAUSE_S)
        ear.cancel()


async def listen(client: httpx2.AsyncClient, said: Counter[str]) -> None:
    """Hear every change, as a page does."""
    async with client.stream("GET", "/live", timeout=None) as line:
        async for text in line.aiter_lines():
            said["heard"] += text.startswith("event:")


def memory_mb(process: subprocess.Popen[bytes]) -> float:
    """Return the resident memory of the server itself; its workers end with their work."""
    return psutil.Process(process.pid).memory_info().rss / 1e6


def compute_checks(url: str) -> None:
    """Open the case and wait until everything is computed of it."""
    fetch(f"{url}{CASE}")
    while b"data-done" not in plain(fetch(f"{url}{CASE}/checks")):
        time.sleep(0.5)


async def load(
    url: str, process: subprocess.Popen[bytes], seconds: float, *, is_checked: bool
) -> tuple[Counter[str], float, float]:
    """Return what the clients were answered, and the server's memory after a tenth of the time and at the end."""
    said: Counter[str] = Counter()
    begun, checked = time.perf_counter(), asyncio.Event()
    if is_checked:
        checked.set()
    clients = [asyncio.create_task(work(url, number, begun + seconds, said, checked)) for number in range(N_CLIENTS)]
    await asyncio.sleep(seconds / 10)
    warm = memory_mb(process)
    checked.set()
    await asyncio.gather(*clients)
    return said, warm, memory_mb(process)


def main(seconds: float, order: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        record = make_practice(Path(folder))
        start(record)[0].kill()  # fills the caches
        process, url, first, planned = start(record)
        try:
            print(
                f"first page {first:.2f} s after the command, the planned day {planned:.2f} s; {os.getloadavg()[0]:.1f} load"
            )
            print(f"first page with all it loads: {first_page_bytes(url) / 1000:.1f} kB compressed")
            edits = time_edits(url)
            if edits:
                slow = sorted(edits)[int(0.95 * len(edits))]
                print(
                    f"edit to screen: median {statistics.median(edits):.0f} ms, 95 % {slow:.0f} ms (n = {len(edits)})"
                )
                touches, typed, taken = enter_eight_units(url)
                print(f"eight units: {touches} touches, {typed} numbers typed; a script takes {taken:.0f} s")
            else:
                print("edit to screen and eight units: left out, Chromium is absent")
            if order == "before":
                compute_checks(url)
            said, warm, end = asyncio.run(load(url, process, seconds, is_checked=order == "before"))
            is_done = b"data-done" in plain(fetch(f"{url}{CASE}/checks"))
            print(f"the case's checks end {order} the clients' time" + ("" if is_done else ": THEY HAVE NOT ENDED"))
            heard, ms = said.pop("heard"), said.pop("ms")
            print(f"{N_CLIENTS} clients, {seconds:.0f} s: answers {dict(said)}, {ms / sum(said.values()):.0f} ms each;")
            print(f"changes heard {heard}; memory {warm:.0f} -> {end:.0f} MB, growth {end - warm:+.0f} MB")
        finally:
            process.kill()


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0, sys.argv[2] if len(sys.argv) > 2 else "before")
