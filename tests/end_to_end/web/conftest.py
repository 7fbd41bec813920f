"""The bench page in a real browser: a served practice record, and headless Chromium driven over it."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from seatwright.demo import make_demo_case
from seatwright.files import bench_to_toml, case_to_toml, encode_ply, events_to_jsonl

ROOT = Path(__file__).resolve().parents[3]
DEMO_NOW = "2026-03-04T09:46:00+00:00"
_COMMAND = [sys.executable, "-c", "from seatwright.cli import main; main()"]
_FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
_ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SEATWRIGHT_BY": "dentist"}


def command(*arguments: str) -> None:
    """Run the command line."""
    subprocess.run([*_COMMAND, *arguments], check=True, env=_ENVIRONMENT, capture_output=True)


@dataclass(slots=True)
class Served:
    """A practice that is served; may be killed and started again."""

    record: Path
    port: int
    now: str
    options: tuple[str, ...] = ()
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        options = ["serve", "--data", str(self.record), "--port", str(self.port), "--now", self.now, *self.options]
        self.process = subprocess.Popen([*_COMMAND, *options], env=_ENVIRONMENT, stderr=subprocess.PIPE)
        for _ in range(600):
            assert self.process.poll() is None, self.process.communicate()[1].decode()
            try:
                urllib.request.urlopen(f"{self.url}/static/mark.svg").read()  # noqa: S310 - our own address
            except OSError:
                time.sleep(0.1)
            else:
                return
        pytest.fail("the page did not come up within a minute")

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo case as a folder, its scans coarser than the demo's own."""
    folder = tmp_path_factory.mktemp("demo") / "case"
    made = make_demo_case(grid_mm=0.5)
    files = {
        "case.toml": case_to_toml(made.case),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": events_to_jsonl(made.events),
        **{name: encode_ply(scan.surface()) for name, scan in made.scans.items()},
    }
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture(scope="session")
def pick_up_folder(tmp_path_factory: pytest.TempPathFactory, demo_folder: Path) -> Path:
    """The demo case as a folder, three minutes after its pick-up left the mouth."""
    folder = tmp_path_factory.mktemp("pick-up") / "case"
    (folder / "scans").mkdir(parents=True)
    for name in ("bench.toml", "scans/reference.ply", "scans/poured.ply"):
        (folder / name).write_bytes((demo_folder / name).read_bytes())
    lines = (demo_folder / "log.jsonl").read_text().splitlines()[:3]
    (folder / "log.jsonl").write_text("\n".join(lines) + "\n")
    plan = (demo_folder / "case.toml").read_text().splitlines()
    (folder / "case.toml").write_text("\n".join(line for line in plan if not line.startswith("as_of")) + "\n")
    return folder


@pytest.fixture
def serve(tmp_path: Path, demo_folder: Path) -> Iterator[Callable[..., Served]]:
    """Serve a new practice, with the demo case in it if asked for."""
    running: list[Served] = []

    def make(*, demo: bool = False, now: str = DEMO_NOW, options: tuple[str, ...] = ()) -> Served:
        record = tmp_path / f"practice-{len(running)}"
        command("record", "init", "--record", str(record))
        if demo:
            command("record", "import", str(demo_folder), "--record", str(record))
        served = Served(record, free_port(), now, options)
        running.append(served)
        served.start()
        return served

    yield make
    for served in running:
        served.kill()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium; a skip where it is absent, a failure where it is required."""
    program = os.environ.get("SEATWRIGHT_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        message = "Chromium is absent: install it (Debian: chromium), or set SEATWRIGHT_CHROMIUM"
        if "chromium" in os.environ.get("SEATWRIGHT_REQUIRE", "").split(","):
            pytest.fail(message)
        pytest.skip(message)
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=program, args=_FLAGS)
        yield made
        made.close()


@pytest.fixture
def look(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Callable[..., Page]]:
    """Open a page in a browser of its own; scripts that fail or are refused fail the test."""
    faults: list[str] = []
    contexts = []

    def open_page(url: str, *, width: int = 1280, height: int = 900) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(f"{url}: {error}"))
        page.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
        page.goto(url)
        return page

    yield open_page
    pictures = os.environ.get("SEATWRIGHT_PICTURES")
    for number, context in enumerate(contexts):
        for page in context.pages:
            if pictures and not page.is_closed():
                page.screenshot(path=str(Path(pictures) / f"{request.node.name}-{number}.png"), full_page=True)
        context.close()
    assert not faults, faults
