"""The folder of a dossier: complete, the same twice, archival, tagged, harmless."""

import re
from collections.abc import Mapping
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader
from tests.dossiers import HOSTILE, NOW, checked_dossier, planned_dossier
from tests.examples import demo_case

from seatwright.case import Case
from seatwright.errors import Cancelled
from seatwright.figures import LegendPlate
from seatwright.findings import Severity
from seatwright.papers import draw_figures, render_dossier, render_sections
from seatwright.papers._view import view_dossier
from seatwright.papers._words import view_finding
from seatwright.progress import Progress


def fake_glb(vertices_mm: np.ndarray, faces: np.ndarray, colors: np.ndarray, legend: LegendPlate) -> bytes:
    """Stand in for the encoder; says what it was given."""
    assert colors.shape == vertices_mm.shape
    assert legend.corners_mm.shape == (4, 3)
    assert legend.png.startswith(b"\x89PNG")
    assert colors.dtype == np.uint8
    return b"glTF"


PDFS = ("bench-card.pdf", "die-labels.pdf")


@pytest.fixture(scope="module")
def files() -> Mapping[str, bytes]:
    return render_dossier(checked_dossier(), envelope_json=b'{"a": 1}\n', encode_glb=fake_glb)


@pytest.fixture(scope="module")
def hostile_files() -> Mapping[str, bytes]:
    base = checked_dossier()
    finding = replace(base.findings[0], what=HOSTILE, why=HOSTILE, do=HOSTILE, about=HOSTILE)
    unit = replace(base.dies.units[0], because=HOSTILE, never=HOSTILE)
    dossier = replace(
        base,
        case=demo_case(title=HOSTILE * 20),
        headline=HOSTILE,
        hollow=replace(base.hollow, caption=HOSTILE),
        findings=(finding, *base.findings),
        dies=replace(base.dies, units=(unit, *base.dies.units[1:])),
    )
    return render_dossier(dossier, envelope_json=b"{}", encode_glb=fake_glb)


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_every_file_is_there(files: Mapping[str, bytes]) -> None:
    drawings = ("arch-sheet", "clock", "intervals-1", "movements-1", "deviation-1")
    expected = {f"figures/{name}.{kind}" for name in drawings for kind in ("svg", "png")}
    assert set(files) == expected | {*PDFS, "index.html", "dossier.json", "deviation-1.glb"}
    assert files["dossier.json"] == b'{"a": 1}\n'
    assert files["deviation-1.glb"] == b"glTF"


def test_same_dossier_gives_the_same_bytes(files: Mapping[str, bytes]) -> None:
    again = render_dossier(checked_dossier(), envelope_json=b'{"a": 1}\n', encode_glb=fake_glb)
    assert {name for name in files if files[name] != again[name]} == set()


def test_a_dossier_without_a_cast_check_has_no_cast_figures() -> None:
    files = render_dossier(planned_dossier(), envelope_json=b"{}", encode_glb=fake_glb)
    assert sorted(n for n in files if n.endswith(".svg")) == ["figures/arch-sheet.svg", "figures/clock.svg"]
    assert b'id="cast"' not in files["index.html"]


def test_a_dossier_without_units_or_impressions_still_prints() -> None:
    base = planned_dossier()
    case: Case = demo_case(unit=(), join=(), attachment=(), bar=(), impression=(), returned_die=(), scan=(), region=())
    empty = replace(
        base, case=case, dies=replace(base.dies, units=(), bars=(), findings=()),
        pour=replace(base.pour, impressions=(), findings=()), findings=(), axes=(), job=(),
    )  # fmt: skip
    files = render_dossier(empty, envelope_json=b"{}", encode_glb=fake_glb)
    assert "No unit of this case gets a die." in text_of(files["die-labels.pdf"])


@pytest.mark.parametrize("name", PDFS)
def test_pdf_is_tagged_and_says_that_it_is_archival_and_accessible(files: Mapping[str, bytes], name: str) -> None:
    reader = PdfReader(BytesIO(files[name]))
    catalog = reader.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"] is True or catalog["/MarkInfo"]["/Marked"].value is True
    assert "/StructTreeRoot" in catalog
    assert catalog["/Lang"] == "en"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    xmp = catalog["/Metadata"].get_data().decode()
    # ISO 19005-3:2012, 6.6.4 (part 3, level A) and ISO 14289-1:2014, clause 5 (part 1).
    assert re.search(r"pdfaid:part>\s*3\s*<", xmp)
    assert re.search(r"pdfaid:conformance>\s*A\s*<", xmp)
    assert re.search(r"pdfuaid:part>\s*1\s*<", xmp)
    assert "/OutputIntents" in catalog


@pytest.mark.parametrize("name", PDFS)
def test_pdf_is_dated_at_the_dossiers_moment(files: Mapping[str, bytes], name: str) -> None:
    info = PdfReader(BytesIO(files[name])).metadata
    assert info is not None
    assert info.creation_date is not None
    assert info.creation_date.replace(tzinfo=None) == NOW.replace(tzinfo=None)
    assert info.title is not None
    assert "DEMO-1" in info.title


def test_every_font_of_a_pdf_is_embedded(files: Mapping[str, bytes]) -> None:
    for name in PDFS:
        for page in PdfReader(BytesIO(files[name])).pages:
            for font in page["/Resources"]["/Font"].values():
                descendant = font["/DescendantFonts"][0] if "/DescendantFonts" in font else font
                descriptor = descendant["/FontDescriptor"]
                assert any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))


def test_bench_card_says_die_never_steps_mix_and_cast(files: Mapping[str, bytes]) -> None:
    text = text_of(files["bench-card.pdf"])
    for words in (
        "Never put the die engraved 33 into 43.",
        "ceramic masked, then gel",
        "Mask the ceramic: facial",
        "30 ml water, then 150 g powder",
        "Crowns: 8 seated, 8 in the tray, none loose",
        "43 moved more than allowed; 42 cannot be told.",
        "a licensed clinician decides",
    ):
        assert words in text


def test_steps_that_are_done_are_left_out_and_a_poured_impression_has_none() -> None:
    base = planned_dossier()
    state = base.state.impressions["pickup-1"]
    cards = {(c.id, c.tooth) for u in base.dies.units for c in u.cards if c.id == "mask-wax"}
    assert cards
    masked = replace(
        base, state=replace(base.state, impressions={"pickup-1": replace(state, steps_done=frozenset(cards))})
    )
    poured = replace(base, state=replace(base.state, impressions={"pickup-1": replace(state, poured_at=NOW)}))
    titles = [[r["title"] for r in view_dossier(d)["rounds"]] for d in (base, masked, poured)]
    assert "Mask the ceramic: facial" in titles[0]
    assert set(titles[0]) - set(titles[1]) == {"Mask the ceramic: facial"}
    assert titles[2] == []


def test_a_given_up_impression_offers_no_mix_on_the_bench_card() -> None:
    base = planned_dossier()
    clock = base.pour.clock("pickup-1")
    stop = replace(base.findings[0], severity=Severity.STOP, about="pickup-1")
    given_up = replace(base, pour=replace(base.pour, impressions=(replace(clock, findings=(stop,)),)))
    text = text_of(render_dossier(given_up, envelope_json=b"{}", encode_glb=fake_glb)["bench-card.pdf"])
    assert "30 ml water" not in text
    assert "Nothing to mix or pour until the stop is lifted." in text


def test_a_finding_names_what_it_is_about() -> None:
    finding = replace(planned_dossier().findings[0], what="Not disinfected.", about="opposing-1")
    assert view_finding(finding)["what"] == "opposing-1: Not disinfected."
    assert view_finding(replace(finding, what="43: no die.", about="43"))["what"] == "43: no die."


def test_a_caution_stands_once_at_its_first_step(files: Mapping[str, bytes]) -> None:
    assert text_of(files["bench-card.pdf"]).count("Blue light harms the eye") == 1


def test_die_labels_carry_number_technique_and_never(files: Mapping[str, bytes]) -> None:
    text = text_of(files["die-labels.pdf"])
    for words in ("43", "ceramic masked, then gel", "Never put the die engraved 33 into 43.", "DEMO-1"):
        assert words in text
    assert "no die" not in text, "a pontic gets no label"


def test_pictures_open_at_print_resolution(files: Mapping[str, bytes]) -> None:
    for name in (n for n in files if n.endswith(".png")):
        picture = Image.open(BytesIO(files[name]))
        assert picture.width > 1200
        assert np.asarray(picture.convert("L")).std() > 5, "not blank"


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.ids: list[str] = []
        self.tags: list[str] = []
        self.headings: list[int] = []
        self.images_without_alt = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        self.tags.append(tag)
        self.targets += [v for k, v in attrs if k in ("href", "src", "xlink:href") and v]
        self.ids += [v for k, v in attrs if k == "id" and v]
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "img" and not values.get("alt"):
            self.images_without_alt += 1


def read_page(files: Mapping[str, bytes]) -> _Links:
    reader = _Links()
    reader.feed(files["index.html"].decode())
    return reader


def test_page_needs_no_network_no_script_and_every_link_leads_somewhere(files: Mapping[str, bytes]) -> None:
    page = read_page(files)
    assert "script" not in page.tags
    assert "link" not in page.tags
    for target in page.targets:
        if target.startswith("#"):
            assert target[1:] in page.ids
        else:
            assert target in files
    html = files["index.html"].decode().replace("http://www.w3.org/2000/svg", "")
    assert "http://" not in html
    assert "https://" not in html
    assert "url(" not in html


def test_page_has_one_first_heading_landmarks_and_unique_ids(files: Mapping[str, bytes]) -> None:
    page = read_page(files)
    assert page.headings.count(1) == 1
    assert page.headings[0] == 1
    assert all(b - a <= 1 for a, b in zip(page.headings, page.headings[1:], strict=False)), "no level is skipped"
    assert {"header", "nav", "main", "footer"} <= set(page.tags)
    assert len(page.ids) == len(set(page.ids))
    assert page.images_without_alt == 0


def test_a_finding_stands_in_full_once_and_every_other_mention_leads_there() -> None:
    dossier = planned_dossier()
    view = view_dossier(dossier)
    sections = render_sections(view, figures=draw_figures(dossier), files=(), base="")
    page = "".join(sections.values())
    assert len(view["findings"]) > 5
    assert "<details" not in sections["first"]
    for finding in view["findings"]:
        assert page.count(f'id="{finding["place"]}"') == 1
        assert f'href="#{finding["place"]}"' in sections["all"] or f'id="{finding["place"]}"' in sections["all"]
    of_their_own = {f["place"] for f in view["findings"] if not f["place"].startswith(("unit-", "fit"))}
    assert of_their_own
    assert page.count("<summary>Why, and who says so") == len(of_their_own)


def test_page_links_every_file(files: Mapping[str, bytes]) -> None:
    targets = set(read_page(files).targets)
    assert set(files) - {"index.html"} <= targets


def test_page_says_verdict_then_number_then_reason(files: Mapping[str, bytes]) -> None:
    html = files["index.html"].decode()
    body = html[html.index("<body>") :]
    places = [body.index(words) for words in ("43 has moved", "187 ± 10 µm", "Its die floated")]
    assert places == sorted(places)
    for part in ("prefers-color-scheme: dark", "@media print", 'lang="en"', "min-height: 44px"):
        assert part in html


def test_hostile_text_stays_text_in_page_and_papers(hostile_files: Mapping[str, bytes]) -> None:
    page = read_page(hostile_files)
    assert "script" not in page.tags
    html = hostile_files["index.html"].decode()
    assert "{{ 7*7 }}" in html
    assert "\u202e" not in html
    assert "\u0007" not in html
    text = text_of(hostile_files["bench-card.pdf"])
    assert '#eval("1+1")' in text
    assert "<script>" in text
    assert "□" in text, "a character without a glyph is shown as missing, not dropped"


def test_a_request_to_stop_is_heard() -> None:
    with pytest.raises(Cancelled):
        render_dossier(
            planned_dossier(), envelope_json=b"{}", encode_glb=fake_glb, progress=Progress(should_stop=lambda: True)
        )
