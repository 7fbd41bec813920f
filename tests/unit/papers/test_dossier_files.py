"""Everything printed, from a case whose every free text is hostile."""

import io
import re
import xml.etree.ElementTree as ET
from datetime import timedelta
from html.parser import HTMLParser

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.papers import render_dossier
from seatwright.workflows.dossier import gather_dossier

HOSTILE = (
    '<script>alert(1)</script> "quoted" \'single\' & #eval("1+1") $x$ *bold* _under_ @ref \\ '
    "\u202eright to left\u202c " + "very long " * 60
)


def _files(title: str) -> dict[str, bytes]:
    source = MemorySource(demo_case(scan=(), region=(), title=title), demo_bench(), demo_events())
    dossier = gather_dossier(source, now=None, clock=StoppedClock(DEMO_NOW + timedelta(days=1)))
    files = render_dossier(dossier, envelope_json=b"{}", encode_glb=lambda *_: b"")
    return dict(files)


@pytest.fixture(scope="module")
def plain() -> dict[str, bytes]:
    return _files("Extension partial on conus, slide, bar and stud")


@pytest.fixture(scope="module")
def hostile() -> dict[str, bytes]:
    return _files(HOSTILE)


class _Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.images_without_text = 0
        self.headings: list[int] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        self.tags.append(tag)
        self.links += [v for k, v in attrs if k in {"href", "src", "xlink:href"} and v]
        if tag == "img" and not known.get("alt"):
            self.images_without_text += 1
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))


def _read(page: bytes) -> _Seen:
    seen = _Seen()
    seen.feed(page.decode("utf-8"))
    return seen


def test_every_expected_file_is_there(plain) -> None:
    assert {"index.html", "bench-card.pdf", "die-labels.pdf", "dossier.json", "figures/arch-sheet.svg"} <= set(plain)


@pytest.mark.parametrize("kind", ["plain", "hostile"])
def test_page_needs_no_network_and_no_script(kind, request) -> None:
    page = request.getfixturevalue(kind)["index.html"]
    seen = _read(page)
    assert "script" not in seen.tags
    assert not [link for link in seen.links if link.startswith(("http:", "https:", "//"))]
    assert "url(http" not in page.decode("utf-8")


def test_page_has_one_title_ordered_headings_a_language_and_named_pictures(plain) -> None:
    page = plain["index.html"].decode("utf-8")
    seen = _read(plain["index.html"])
    assert '<html lang="en' in page
    assert seen.headings.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in zip(seen.headings, seen.headings[1:], strict=False))
    assert seen.images_without_text == 0
    assert "main" in seen.tags


def test_relative_links_of_the_page_lead_to_files_of_the_dossier(plain) -> None:
    links = {link for link in _read(plain["index.html"]).links if not link.startswith(("#", "data:"))}
    assert links
    assert links <= set(plain)


@pytest.mark.parametrize("kind", ["plain", "hostile"])
def test_every_drawing_is_well_formed_and_says_its_title(kind, request) -> None:
    files = request.getfixturevalue(kind)
    drawings = [name for name in files if name.endswith(".svg")]
    assert drawings
    for name in drawings:
        root = ET.fromstring(files[name])
        assert root.tag.endswith("svg")
        assert any(child.tag.endswith("title") and child.text for child in root), name
        assert not [e for e in root.iter() if e.tag.endswith("script")]


def test_every_picture_opens_and_is_not_blank(plain) -> None:
    pictures = [name for name in plain if name.endswith(".png")]
    assert pictures
    for name in pictures:
        pixels = np.asarray(Image.open(io.BytesIO(plain[name])).convert("L"))
        assert pixels.std() > 1, name


@pytest.mark.parametrize("paper", ["bench-card.pdf", "die-labels.pdf"])
@pytest.mark.parametrize("kind", ["plain", "hostile"])
def test_pdf_is_tagged_archival_and_accessible(paper, kind, request) -> None:
    reader = PdfReader(io.BytesIO(request.getfixturevalue(kind)[paper]))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"]
    xmp = root["/Metadata"].get_data().decode("utf-8")
    assert re.search(r"pdfaid:part\W+3\b", xmp)
    assert re.search(r"pdfaid:conformance\W+A\b", xmp)
    assert re.search(r"pdfuaid:part\W+1\b", xmp)


def test_bench_card_tells_each_units_die_and_never(plain) -> None:
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(plain["bench-card.pdf"])).pages)
    text = re.sub(r"\s+", " ", text)
    for word in ("37", "44", "gel", "masked", "Never"):
        assert word in text


def test_the_same_dossier_gives_the_same_bytes(plain) -> None:
    again = _files("Extension partial on conus, slide, bar and stud")
    assert again == plain


def test_label_codes_decode_to_case_and_tooth() -> None:
    from seatwright.papers._codes import draw_code
    from seatwright.papers._typeset import rasterize_svg

    picture = Image.open(io.BytesIO(rasterize_svg(draw_code("DEMO-1/44/gel"), px_per_inch=300)))
    assert [code.text for code in zxingcpp.read_barcodes(picture)] == ["DEMO-1/44/gel"]


def test_timetable_stands_on_card_and_page_and_has_its_own_paper(plain) -> None:
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(plain["bench-card.pdf"])).pages)
    assert "Who does what when" in text
    assert 'href="step-cards.pdf"' in plain["index.html"].decode()
    assert "figures/timetable.svg" in plain
    cards = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(plain["step-cards.pdf"])).pages)
    assert cards.index("Flash off") < cards.index("Separate")


def test_page_and_card_say_whether_it_seats_and_what_decides_it(plain) -> None:
    page = plain["index.html"].decode("utf-8")
    fit = page[page.index('<section id="fit"') : page.index('<section id="later"')]
    assert re.search(r"Seats (usually|rarely|sometimes): \d+ in 100", fit)
    assert "What decides whether it seats" in fit
    assert "left out:" in fit
    assert "either can be trusted" in fit or "the one to trust" in fit
    assert {"figures/fit.svg", "figures/places.svg", "figures/ranked-links.png"} <= set(plain)
    card = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(plain["bench-card.pdf"])).pages)
    assert "Fit" in card
