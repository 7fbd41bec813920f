"""From the command to the bench with its planned day: as it is answered, and as it is drawn in a browser.

Run: ``python benchmarks/bench_page_start.py [starts]`` (default 9). Bar: the first page <= 1 s after start. The first page
is the bench itself with every clock, its cost, the next step of each pair of hands, all of it planned after the command;
the page that waits until then is told beside it, and so is a page of a case, asked for in the moment in which the bench
is there. The imported demo case with its scans as they are, three minutes after its pick-up; loopback; each start is a
new process. Once over ``--lan`` with a certificate: until the page to sign in at, and until the bench where somebody
signs in at once. Needs Chromium for the frames and openssl for the certificate; without them these are left out.
"""

import os
import re
import shutil
import socket
import ssl
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections.abc import Sequence
from http.cookiejar import CookieJar
from pathlib import Path

from bench_page import ENVIRONMENT, FLAGS, NOW, SEATWRIGHT, make_practice

from seatwright.record import Accounts, Passwords, open_record
from seatwright.wiring import SystemClock
from seatwright.workflows.accounts import add_account
from seatwright.workflows.rights import Role

NAME, PHRASE = "dentist-1", "correct horse battery"
HERE = "127.0.0.1"
USED = {name: value for name, value in ENVIRONMENT.items() if name != "PYTHONDONTWRITEBYTECODE"}
"""A tool in use was started before: its bytecode is there."""


def launch(record: Path, *options: str) -> tuple[subprocess.Popen[bytes], str, float]:
    """Start the server; return it, where it listens and the moment of the command."""
    with socket.socket() as probe:
        probe.bind((HERE, 0))
        port = probe.getsockname()[1]
    command = [*SEATWRIGHT, "serve", "--data", str(record), "--port", str(port), "--now", NOW, *options]
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=USED)
    return process, f"{HERE}:{port}", begun


def end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()


class Client:
    """A client with cookies that asks again until somebody listens."""

    def __init__(self, url: str, trusts: Path | None = None) -> None:
        context = ssl.create_default_context(cafile=trusts)
        self.url = url
        self.opener = urllib.request.build_opener(
            urllib.request.HTTPSHandler(context=context), urllib.request.HTTPCookieProcessor(CookieJar())
        )

    def ask(self, place: str, *, accept: str = "text/html", form: dict[str, str] | None = None) -> str:
        data = urllib.parse.urlencode(form).encode() if form is not None else None
        request = urllib.request.Request(self.url + place, data, {"Accept": accept, "Origin": self.url})
        while True:
            try:
                return self.opener.open(request).read().decode()
            except urllib.error.HTTPError:
                raise
            except OSError:
                time.sleep(0.005)


def start(record: Path) -> tuple[float, float, float]:
    """Return seconds from the command to three pages: the first, the bench with its day, and then one of a case."""
    process, place, begun = launch(record)
    client = Client(f"http://{place}")
    client.ask("/")
    first = time.perf_counter() - begun
    client.ask("/static/mark.svg", accept="image/*")  # as the page that waits does: answered with the application
    require_day(client.ask("/"))
    day = time.perf_counter() - begun
    client.ask("/cases/DEMO-1/mouth")
    case = time.perf_counter() - begun
    end(process)
    return first, day, case


def require_day(page: str) -> None:
    """Hold that a page is the bench with its clocks, costs and next steps."""
    for word in ("pickup-1", "µm over its longest span", "pour at", "technician"):
        assert word in page, f"the page says nothing of {word!r}"


def draw(record: Path, n_starts: int) -> list[float]:
    """Return seconds from the command to the day's first frame in a headless Chromium that was open already.

    It goes there as soon as the server listens. When the frame was drawn is told by the browser itself.
    """
    from playwright.sync_api import sync_playwright

    program, times = shutil.which("chromium"), []
    if program is None:
        return []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        for _ in range(n_starts):
            page = browser.new_page()
            begun_ms = time.time_ns() / 1e6
            process, place, _ = launch(record)
            wait_until_it_listens(place)
            page.goto(f"http://{place}/", wait_until="commit")
            page.get_by_text("pickup-1").first.wait_for()
            times.append((page.evaluate(_DRAWN_AT_MS) - begun_ms) / 1000)
            require_day(page.content())
            page.close()
            end(process)
        browser.close()
    return times


def wait_until_it_listens(place: str) -> None:
    host, _, port = place.rpartition(":")
    while True:
        try:
            socket.create_connection((host, int(port))).close()
            return
        except OSError:
            time.sleep(0.002)


_DRAWN_AT_MS = """() => new Promise((done) => {
  new PerformanceObserver((list) => {
    const first = list.getEntriesByName("first-contentful-paint")[0];
    if (first) done(performance.timeOrigin + first.startTime);
  }).observe({ type: "paint", buffered: true });
})"""


def sign_in(record: Path, folder: Path) -> tuple[float, float]:
    """Return seconds from the command, over TLS, to the page to sign in at and to the bench of who does so at once."""
    files = ["--certificate", str(folder / "page.pem"), "--key", str(folder / "page.key")]
    process, place, begun = launch(record, "--lan", "--host", HERE, *files)
    client = Client(f"https://{place}", folder / "page.pem")
    client.ask("/")
    client.ask("/static/mark.svg", accept="image/*")
    page = client.ask("/")
    asked = time.perf_counter() - begun
    hidden = dict(re.findall(r'name="([^"]+)"[^>]*value="([^"]*)"', page))
    [form] = re.findall(r'<form[^>]*action="([^"]+)"', page)
    require_day(client.ask(form, form={**hidden, "name": NAME, "password": PHRASE}))
    day = time.perf_counter() - begun
    end(process)
    return asked, day


def prepare_lan(record: Path, folder: Path) -> bool:
    """Give the record an account and the folder a certificate; return whether that could be done."""
    if shutil.which("openssl") is None:
        return False
    opened = open_record(record)
    now = SystemClock().now()
    add_account(Accounts(opened.database), Passwords(), NAME, Role.DENTIST, PHRASE, by="dentist", now=now)
    opened.close()
    names = ["-subj", f"/CN={HERE}", "-addext", f"subjectAltName=IP:{HERE}"]
    where = ["-keyout", str(folder / "page.key"), "-out", str(folder / "page.pem")]
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", *where, *names],
        check=True,
        capture_output=True,
    )
    return True


def tell(what: str, seconds: Sequence[float]) -> None:
    if seconds:
        spread = f"{min(seconds):.2f} to {max(seconds):.2f} s, n = {len(seconds)}"
        print(f"{what}: median {statistics.median(seconds):.2f} s after the command ({spread})")
    else:
        print(f"{what}: left out")


def main(n_starts: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record = make_practice(folder, grid_mm=None)
        start(record)  # bytecode, kernels and templates are there from now on
        shutil.rmtree(record / "measured")
        tell("the bench with its day, its scan not measured yet", [start(record)[1]])
        times = [start(record) for _ in range(n_starts)]
        for what, seconds in zip(
            ("the first page, which may wait", "the bench with its planned day", "a page of a case, asked for then"),
            zip(*times, strict=True),
            strict=True,
        ):
            tell(what, seconds)
        tell("the day's frame in Chromium", draw(record, n_starts))
        if prepare_lan(record, folder):
            signed = [sign_in(record, folder) for _ in range(n_starts)]
            tell("--lan with TLS: the page to sign in at", [one for one, _ in signed])
            tell("--lan with TLS: the bench, signed in at once", [one for _, one in signed])
        print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
