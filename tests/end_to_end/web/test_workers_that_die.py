"""A worker is killed, or takes too much memory, while somebody waits: the page says so in words and goes on answering."""

import os
import signal
import time
from collections.abc import Callable

import psutil
from playwright.sync_api import Locator, Page, expect
from tests.end_to_end.web.conftest import Served

SLOW_MS = 60_000.0
RESPONSIVE_S = 5.0  # generous: other processes compute beside it on the machine of the test


def workers_of(served: Served) -> list[psutil.Process]:
    """Return the processes that compute."""
    assert served.process is not None
    children = psutil.Process(served.process.pid).children(recursive=True)
    return [child for child in children if "spawn_main" in " ".join(child.cmdline())]


def work_of(page: Page, name: str) -> Locator:
    """Return the row of one work."""
    return page.locator(".works li", has=page.locator(f'strong:text-is("{name}")'))


def assert_that_it_answers(page: Page, served: Served) -> None:
    """Load two other pages in one that looks on."""
    begun = time.monotonic()
    other = page.context.new_page()
    for place in ("/cases", "/cases/DEMO-1/mouth"):
        other.goto(f"{served.url}{place}")
        expect(other.locator("h1")).to_be_visible()
    other.close()
    assert time.monotonic() - begun < RESPONSIVE_S


def test_killed_workers_are_told_on_the_page_and_the_work_is_begun_again_by_one_touch(
    serve: Callable[..., Served], look: Callable[..., Page]
) -> None:
    served = serve(demo=True)
    page = look(f"{served.url}/cases/DEMO-1")
    cast = work_of(page, "Cast check")
    expect(cast.locator("progress")).to_be_visible(timeout=SLOW_MS)
    expect(cast).not_to_contain_text("waiting for a free worker", timeout=SLOW_MS)
    killed = workers_of(served)
    assert killed
    for worker in killed:
        os.kill(worker.pid, signal.SIGKILL)
    expect(cast).to_contain_text("ended by itself (exit -9); nothing was written", timeout=SLOW_MS)
    expect(cast).to_contain_text("try again")
    expect(work_of(page, "Forecast")).to_contain_text("rests on the cast check", timeout=SLOW_MS)
    assert_that_it_answers(page, served)
    cast.get_by_role("button", name="Compute again").click()
    expect(cast).not_to_contain_text("ended by itself")
    expect(cast.get_by_role("button", name="Stop")).to_be_visible()
    assert_that_it_answers(page, served)


def test_work_that_needs_too_much_memory_is_ended_with_the_limit_and_the_way_out_named(
    serve: Callable[..., Served], look: Callable[..., Page], long_run: None
) -> None:
    served = serve(demo=True, options=("--memory-mib", "256"))
    page = look(f"{served.url}/cases/DEMO-1")
    cast = work_of(page, "Cast check")
    expect(cast).to_contain_text("needs more than the 256 MiB of memory that one job may take", timeout=SLOW_MS)
    expect(cast).to_contain_text("raise the limit where the server is started")
    assert_that_it_answers(page, served)
