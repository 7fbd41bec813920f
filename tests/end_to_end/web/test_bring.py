"""A scan is dropped on the page, confirmed, seeded by touch, checked to a verdict; what is no scan is told as what it is."""

import base64
import io
import re
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page, expect
from tests.end_to_end.web.conftest import DEMO_NOW, Served, free_port

from seatwright import wiring
from seatwright.demo import DemoCase, make_demo_case
from seatwright.files import (
    FolderCaseFiles,
    FolderCaseSource,
    bench_to_toml,
    case_to_toml,
    encode_stl,
    events_to_jsonl,
)
from seatwright.mesh import Surface, find_open_direction
from seatwright.workflows.practice import import_case

SLOW_MS = 120_000.0
Look = Callable[..., Page]


@pytest.fixture(scope="module")
def made() -> DemoCase:
    return make_demo_case(grid_mm=0.5)


@pytest.fixture(scope="module")
def stl(made: DemoCase) -> dict[str, bytes]:
    return {Path(name).stem: encode_stl(scan.surface()) for name, scan in made.scans.items()}


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory, made: DemoCase) -> Iterator[Served]:
    """The demo case without a scan; no test keeps anything in it."""
    served = _serve_bare(tmp_path_factory.mktemp("bare"), made)
    yield served
    served.kill()


def _serve_bare(folder: Path, made: DemoCase) -> Served:
    files = {
        "case.toml": case_to_toml(made.case.model_copy(update={"scan": (), "region": ()})),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": events_to_jsonl(made.events),
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    record = wiring.create_record(folder / "practice", by="test", database=None)
    source = FolderCaseSource(folder)
    import_case(record, FolderCaseFiles(folder), source, by="test", reason="test", clock=wiring.SystemClock())
    record.close()
    options = ("--max-triangles", "100000", "--max-upload-mb", "20")
    served = Served(folder / "practice", free_port(), DEMO_NOW, options)
    served.start()
    return served


def drop(page: Page, name: str, data: bytes) -> None:
    """Let a file fall on the page as a person does."""
    coded = base64.b64encode(data).decode()
    transfer = page.evaluate_handle(
        """([name, coded]) => {
            const bytes = Uint8Array.from(atob(coded), (c) => c.charCodeAt(0));
            const held = new DataTransfer();
            held.items.add(new File([bytes], name));
            return held;
        }""",
        [name, coded],
    )
    page.dispatch_event("body", "drop", {"dataTransfer": transfer})


def confirm(page: Page, serves: str, *, impression: str = "") -> None:
    form = page.locator("#brought form")
    expect(form).to_contain_text("is it this?", timeout=SLOW_MS)
    expect(form.locator('input[name="length_unit"][value="mm"]')).to_be_checked()
    form.get_by_label("It serves as").select_option(label=serves)
    form.get_by_label("repeatability of").fill("4")
    if impression:
        form.get_by_label("poured into").select_option(impression)
    form.get_by_role("button", name="Put it into the plan").click()


def project(surface: Surface, place: tuple[float, float, float], box: dict[str, float]) -> tuple[float, float]:
    """Where a place is on the screen when the page has just shown all of a surface; written from the page's own rule."""
    up = find_open_direction(surface)
    side = np.array([1.0, 0, 0]) - up[0] * up
    side /= np.linalg.norm(side)
    back = np.cross(up, side)
    low, high = surface.vertices_mm.min(axis=0), surface.vertices_mm.max(axis=0)
    middle = (low + high) / 2
    radius = float(np.linalg.norm(surface.vertices_mm - middle, axis=1).max())
    away = up - 0.35 * back
    away /= np.linalg.norm(away)
    eye = middle + 3.1 * radius * away
    across = np.cross(back, away)
    across /= np.linalg.norm(across)
    upright = np.cross(away, across)
    ray = np.asarray(place) - eye
    depth = float(-ray @ away)
    scale = box["height"] / 2 / np.tan(np.radians(15.0)) / depth
    return box["x"] + box["width"] / 2 + float(ray @ across) * scale, box["y"] + box["height"] / 2 - float(
        ray @ upright
    ) * scale


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("scan.stl", b"", "the file is empty"),
        ("scan.stl", b"Dear colleague,\nthe crowns are on their way.\n" * 9, "this is plain text, not a surface"),
        ("scan.xyz", b"solid", "'.xyz' is no surface format"),
        ("scan.ply", None, "the name says PLY, the content is STL"),
        ("cut.stl", -50, "the header states 70602 triangles"),
    ],
)
def test_what_is_no_scan_is_told_as_what_it_is(
    bare: Served, look: Look, stl: dict[str, bytes], name: str, data: bytes | int | None, told: str
) -> None:
    page = look(f"{bare.url}/cases/DEMO-1/surfaces")
    sent = data if isinstance(data, bytes) else stl["reference"][: data or None]
    drop(page, name, sent)
    expect(page.locator("#brought [role=alert]")).to_contain_text(re.compile(told, re.IGNORECASE), timeout=SLOW_MS)
    expect(page.locator("#brought [role=alert]")).to_contain_text("Nothing of it was kept")
    page.get_by_role("button", name="Put it away").click()
    expect(page.locator("#scan-draft")).to_have_text("")
    assert not list((bare.record / "files" / ".partial").iterdir())


def test_archives_paths_and_too_large_scans_are_refused(bare: Served, look: Look, stl: dict[str, bytes]) -> None:
    page = look(f"{bare.url}/cases/DEMO-1/surfaces")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("../../etc/scan.stl", stl["reference"])
        archive.writestr("bomb", b"\0" * 10_000_000)
    drop(page, "scan.stl", packed.getvalue())
    expect(page.locator("#brought [role=alert]").first).to_contain_text("this is a ZIP archive", timeout=SLOW_MS)
    many = b"\0" * 80 + struct.pack("<I", 100_001) + b"\0" * (50 * 100_001)
    drop(page, "fine.stl", many)
    alert = page.locator("#brought [role=alert]").first
    expect(alert).to_contain_text("100,001 triangles; at most 100,000 are taken", timeout=SLOW_MS)
    drop(page, "huge.stl", b"\0" * 20_000_001)
    expect(page.locator("#brought [role=alert]").first).to_contain_text("at most 20 MB are taken", timeout=SLOW_MS)
    status = page.evaluate(
        """async () => {
            const answer = await fetch('/cases/DEMO-1/scans?name=..%2F..%2Fetc%2Fpasswd.stl', {method: 'POST', body: 'x'});
            return [answer.status, (await answer.json()).error.message];
        }"""
    )
    assert status == [422, "the name of the file holds a path, which is never followed"]


def test_a_scan_of_the_wrong_size_or_twice_the_same_cannot_be_kept(
    bare: Served, look: Look, made: DemoCase, stl: dict[str, bytes]
) -> None:
    page = look(f"{bare.url}/cases/DEMO-1/surfaces")
    surface = made.scans["scans/reference.ply"].surface()
    drop(page, "meters.stl", encode_stl(Surface(surface.vertices_mm / 1000.0, surface.faces)))
    form = page.locator("#brought form")
    expect(form).to_contain_text("meters: 82 × 60.8 × 22.1 mm", timeout=SLOW_MS)
    expect(form.locator('input[value="mm"]')).to_be_disabled()
    expect(form.locator('input[value="m"]')).to_be_checked()
    page.get_by_role("button", name="Put it away").click()
    drop(page, "a.stl", stl["reference"])
    confirm(page, "the reference, scanned in the mouth")
    expect(page.locator("#scan-draft")).to_contain_text("scan reference", timeout=SLOW_MS)
    drop(page, "b.stl", stl["reference"])
    confirm(page, "the poured cast", impression="pickup-1")
    expect(page.locator("#told")).to_contain_text("this very file is in the plan already", ignore_case=True)
    page.get_by_role("button", name="Put it away").click()
    page.get_by_role("button", name=re.compile("^Undo")).click()
    expect(page.locator("#scan-draft")).to_have_text("", timeout=SLOW_MS)


def test_a_scan_is_stopped_on_its_way(bare: Served, look: Look, stl: dict[str, bytes]) -> None:
    page = look(f"{bare.url}/cases/DEMO-1/surfaces")
    page.context.new_cdp_session(page).send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 400_000},
    )
    drop(page, "slow.stl", stl["reference"])
    expect(page.locator("#brought")).to_contain_text("MB sent", timeout=SLOW_MS)
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#brought")).to_contain_text("nothing of it was kept")
    page.wait_for_timeout(300)
    assert not list((bare.record / "files" / ".partial").iterdir())


def test_two_scans_are_dropped_confirmed_seeded_and_checked_to_a_verdict(
    bare: Served, look: Look, made: DemoCase, stl: dict[str, bytes]
) -> None:
    """Stands last: what it keeps stays."""
    page = look(f"{bare.url}/cases/DEMO-1/surfaces")
    expect(page.locator("#bring")).to_contain_text("at most 20 MB and 100,000 triangles")
    drop(page, "upper left (final).STL", stl["reference"])
    expect(page.locator("#brought form")).to_contain_text("70,602 triangles", timeout=SLOW_MS)
    expect(page.locator("#brought form")).to_contain_text("millimeters: 82 × 60.8 × 22.1 mm")
    confirm(page, "the reference, of a verified cast")
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "reference", timeout=SLOW_MS)
    expect(page.locator("#scan-draft")).to_contain_text("put item scan reference")
    page.locator("#bring-file").set_input_files({"name": "b.stl", "mimeType": "", "buffer": stl["poured"]})
    confirm(page, "the poured cast", impression="pickup-1")
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "poured", timeout=SLOW_MS)
    page.goto(f"{bare.url}/cases/DEMO-1/surfaces?scan=reference")
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "reference", timeout=SLOW_MS)
    box = page.locator("#canvas").bounding_box()
    assert box
    reference = made.scans["scans/reference.ply"].surface()
    for region in made.case.region:
        assert region.seed_mm is not None
        page.locator("#seed").select_option(str(region.tooth))
        page.mouse.click(*project(reference, region.seed_mm, box))
        expect(page.locator("#seeded")).to_contain_text(f"{region.tooth} is there now", timeout=SLOW_MS)
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.locator("#scan-draft")).to_have_text("", timeout=SLOW_MS)
    page.goto(f"{bare.url}/cases/DEMO-1")
    expect(page.locator("#case")).to_contain_text("Unit 44 moved", timeout=SLOW_MS)
    expect(page.locator("#cast")).to_contain_text("cannot tell")
    page.goto(f"{bare.url}/cases/DEMO-1/surfaces")
    page.locator("#overlay").select_option("poured")
    expect(page.locator("#surfaces")).to_have_attribute("data-shown", "overlay poured", timeout=SLOW_MS)
    expect(page.locator(".factor")).to_have_text("movement drawn 20 times as large")
    expect(page.locator("#overlay-legend")).to_contain_text("µm proud")
    expect(page.locator(".units-told")).to_contain_text("44 ")
    expect(page.locator(".sign.moved")).to_contain_text(["44"])
    page.locator("#factor").select_option("1")
    expect(page.locator(".factor")).to_have_text("movement true to scale")
    page.mouse.move(*project(reference, (29.23, 35.02, -4.07), box))
    expect(page.locator("#under")).to_contain_text(re.compile("µm, (proud|short)|not known here"))
    page.mouse.move(box["x"] + 5, box["y"] + box["height"] / 2)
