"""The page of a case's scans in a real browser: a surface of 200k triangles to its first frame, undercuts while tilting.

Run: ``python benchmarks/bench_page_surfaces.py`` (needs Chromium; set SEATWRIGHT_CHROMIUM where it has another name).
Bars: first frame <= 1 s, the first time five seconds after the server's first answer; undercuts after a tilt <= 150 ms in the median at display
quality. The browser draws in software here (SwiftShader), which a machine with a graphics processor does not.
"""

import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from seatwright import wiring
from seatwright.demo import make_demo_case
from seatwright.files import (
    FolderCaseFiles,
    FolderCaseSource,
    bench_to_toml,
    case_to_toml,
    encode_ply,
    events_to_jsonl,
)
from seatwright.workflows.practice import import_case

GRID_MM = 0.3
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
NOW = "2026-03-04T09:46:00+00:00"
N_OPENED, N_TILTED = 5, 21
REST_S = 5.0  # from the server's first answer until somebody has found the way to the scans


def make_practice(folder: Path) -> int:
    """Put the demo case with finer scans into a record; return the triangles of its reference."""
    made = make_demo_case(grid_mm=GRID_MM)
    surfaces = {name: scan.surface() for name, scan in made.scans.items()}
    files = {
        "case.toml": case_to_toml(made.case),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": events_to_jsonl(made.events),
        **{name: encode_ply(surface) for name, surface in surfaces.items()},
    }
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    record = wiring.create_record(folder / "practice", by="bench", database=None)
    source = FolderCaseSource(folder)
    import_case(record, FolderCaseFiles(folder), source, by="bench", reason="", clock=wiring.SystemClock())
    record.close()
    return surfaces["scans/reference.ply"].n_faces


def serve(record: Path) -> tuple[subprocess.Popen[bytes], str]:
    """Serve a record and wait until it answers."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    call = "from seatwright.cli import main; main()"
    options = ["serve", "--data", str(record), "--port", str(port), "--now", NOW]
    process = subprocess.Popen([sys.executable, "-c", call, *options], stderr=subprocess.DEVNULL)
    url = f"http://127.0.0.1:{port}"
    for _ in range(300):
        try:
            urllib.request.urlopen(f"{url}/static/mark.svg").read()
        except OSError:
            time.sleep(0.1)
        else:
            return process, url
    raise SystemExit("the page did not come up")


def open_surface(page: Page, url: str) -> float:
    """Seconds from asking for the page to the first frame with the whole surface."""
    start = time.perf_counter()
    page.goto(f"{url}/cases/DEMO-1/surfaces", wait_until="commit")
    page.wait_for_selector('#surfaces[data-shown="reference"]')
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return time.perf_counter() - start


def tilt(page: Page) -> list[float]:
    """Milliseconds from each tilt to the undercuts on the screen's colors."""
    page.locator("#undercuts").check(force=True)
    page.wait_for_selector("#surfaces[data-measured-ms]")
    found = []
    for step in range(N_TILTED):
        page.evaluate("delete document.getElementById('surfaces').dataset.measuredMs")
        page.locator("#lateral").fill(str(-10 + step))
        page.wait_for_selector("#surfaces[data-measured-ms]")
        found.append(float(page.evaluate("document.getElementById('surfaces').dataset.measuredMs")))
    return found


def main() -> None:
    """Print what was read."""
    program = os.environ.get("SEATWRIGHT_CHROMIUM") or shutil.which("chromium")
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        n_faces = make_practice(Path(place))
        process, url = serve(Path(place) / "practice")
        try:
            browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
            page = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
            time.sleep(REST_S)
            opened = [open_surface(page, url) for _ in range(N_OPENED)]
            tilted = tilt(page)
            page.goto(f"{url}/cases/DEMO-1")  # begins the checks, in two workers
            beside = open_surface(page, url)
            browser.close()
        finally:
            process.terminate()
            process.wait()
    print(f"{n_faces} triangles")
    print(f"first opened: {opened[0]:.2f} s; then {min(opened[1:]):.2f} to {max(opened[1:]):.2f} s (bar 1 s)")
    print(f"while the case's checks run: {beside:.2f} s")
    tilted.sort()
    print(f"undercuts after a tilt: median {statistics.median(tilted):.0f} ms, worst {tilted[-1]:.0f} ms (bar 150 ms)")


if __name__ == "__main__":
    main()
