"""The arch sheet: well-formed, legible, complete, harmless."""

from dataclasses import replace

import pytest
from tests.dossiers import HOSTILE, checked_dossier, planned_dossier
from tests.examples import demo_case, demo_teeth
from tests.unit.figures.reading import SVG, overlapping_texts, parse, text_boxes, texts_outside

from seatwright.arch import nominal_layout
from seatwright.case import Arch, Body, Margin, MarginKind, Margins, Unit, UnitKind
from seatwright.dies import DieResult
from seatwright.figures import VERDICT_WORDS, answer_units, draw_arch_sheet
from seatwright.findings import Severity, Verdict
from seatwright.workflows.results import Dossier, Hollow, JobStep


def crowded_dossier(arch: Arch) -> Dossier:
    """Return a dossier with sixteen crowns, each with the longest words."""
    base = planned_dossier()
    teeth = sorted(nominal_layout(arch))
    edge = Margin(kind=MarginKind.ZIRCONIA_VENEERED, thickness_mm=0.5)
    margins = Margins(facial=edge, mesial=edge, lingual=edge, distal=edge)
    units = tuple(Unit(tooth=t, kind=UnitKind.CROWN, body=Body.ZIRCONIA, neck_mm=4.0, margin=margins) for t in teeth)
    states = demo_teeth(
        present=tuple(teeth), implants=(), missing_fixed=(), missing_partial=(), missing_not_replaced=()
    )
    case = demo_case(arch=arch, teeth=states, unit=units, join=(), attachment=(), bar=(), impression=(), region=())
    template = base.dies.units[0]
    dies = DieResult(tuple(replace(template, tooth=t, chosen=None) for t in teeth), (), ())
    return replace(base, case=case, dies=dies)


@pytest.mark.parametrize(
    "dossier",
    [planned_dossier(), checked_dossier(), crowded_dossier(Arch.MANDIBLE), crowded_dossier(Arch.MAXILLA)],
    ids=["planned", "checked", "crowded mandible", "crowded maxilla"],
)
def test_no_text_on_the_sheet_touches_another_or_runs_out(dossier: Dossier) -> None:
    svg = draw_arch_sheet(dossier)
    assert len(text_boxes(parse(svg))) > 20
    assert overlapping_texts(svg) == []
    assert texts_outside(svg) == []


def test_the_reader_of_boxes_notices_an_overlap() -> None:
    text = '<text x="0" y="5" font-size="4">first</text><text x="2" y="5" font-size="4">second</text>'
    assert overlapping_texts(f'<svg xmlns="http://www.w3.org/2000/svg">{text}</svg>') == [("first", "second")]


def test_every_unit_can_be_touched_and_says_its_answer() -> None:
    dossier = planned_dossier()
    links = {a.get("href"): a.get("aria-label") for a in parse(draw_arch_sheet(dossier)).iter(f"{SVG}a")}
    assert set(links) == {f"#unit-{u.tooth}" for u in dossier.case.unit}
    assert links["#unit-44"] == "44: gel. Never: Never resin without separator: the primed inside bonds to it"


def test_the_sheet_speaks_for_itself_to_a_screen_reader() -> None:
    root = parse(draw_arch_sheet(checked_dossier()))
    title, description = root.findtext(f"{SVG}title"), root.findtext(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert "43 has moved" in title
    assert "43: moved, shift 186.7 ± 9.9 µm." in description
    assert root.get("role") == "group"
    assert root.get("aria-labelledby") == "arch-title arch-desc"


def test_each_unit_shows_the_cast_verdict_once_the_cast_was_checked() -> None:
    answers = answer_units(checked_dossier())
    assert answers[43].word == VERDICT_WORDS[Verdict.DOES_NOT_CONFORM]
    assert answers[43].severity is Severity.STOP
    assert answers[42].word == VERDICT_WORDS[Verdict.CANNOT_TELL]
    assert answers[37].severity is Severity.NOTE
    assert answer_units(planned_dossier())[43].word == "masked"


def test_a_stop_is_told_without_color() -> None:
    svg = draw_arch_sheet(checked_dossier())
    words = [e for e in parse(svg).iter(f"{SVG}text") if e.text == "moved"]
    assert words[0].get("class") == "f-paper", "reversed: paper on a filled box"
    assert "STOP" in [e.text for e in parse(svg).iter(f"{SVG}text")]


def test_the_patients_right_is_on_the_left_of_the_page_in_both_arches() -> None:
    for arch, right, left in ((Arch.MANDIBLE, "46", "36"), (Arch.MAXILLA, "16", "26")):
        places = {
            e.text: float(e.get("x", "0")) for e in parse(draw_arch_sheet(crowded_dossier(arch))).iter(f"{SVG}text")
        }
        assert places[right] < places[left]


def test_the_front_is_up_in_the_maxilla_and_down_in_the_mandible() -> None:
    for arch, front, back, sign in ((Arch.MAXILLA, "11", "16", -1), (Arch.MANDIBLE, "41", "46", 1)):
        places = {
            e.text: float(e.get("y", "0")) for e in parse(draw_arch_sheet(crowded_dossier(arch))).iter(f"{SVG}text")
        }
        assert sign * (places[front] - places[back]) > 20


def test_margins_differ_in_line_style_not_color() -> None:
    svg = draw_arch_sheet(planned_dossier())
    assert 'stroke-dasharray="2 1"' in svg, "zirconia: dashes"
    ticks = [p for p in parse(svg).iter(f"{SVG}path") if p.get("d", "").count("M") > 4]
    assert len(ticks) >= 4, "ceramic butt: a ladder of ticks at 33, 42, 43 and in the key"
    inks = {p.get("stroke") for p in ticks}
    assert len(inks) == 1


def test_hostile_text_stays_text() -> None:
    dossier = planned_dossier(
        headline=HOSTILE * 4,
        hollow=Hollow(HOSTILE, HOSTILE * 3),
        job=(JobStep(HOSTILE, HOSTILE, Severity.STOP),) * 8,
        tooth_labels={43: "<b>"},
    )
    svg = draw_arch_sheet(dossier)
    root = parse(svg)
    assert not list(root.iter(f"{SVG}script"))
    assert not list(root.iter("script"))
    assert "\u202e" not in svg
    assert "\u0007" not in svg
    assert "<b>" in [e.text for e in root.iter(f"{SVG}text")]
    assert overlapping_texts(svg) == []
    assert texts_outside(svg) == []


def test_a_long_headline_is_cut_to_three_lines() -> None:
    svg = draw_arch_sheet(planned_dossier(headline="word " * 200))
    lines = [e.text or "" for e in parse(svg).iter(f"{SVG}text") if (e.text or "").startswith("word")]
    assert len(lines) == 3
    assert lines[-1].endswith("…")


def test_the_same_dossier_gives_the_same_drawing() -> None:
    assert draw_arch_sheet(checked_dossier()) == draw_arch_sheet(checked_dossier())


def test_another_notation_is_shown_everywhere_on_the_sheet() -> None:
    labels = {t: f"LR{t % 10}" if t > 40 else f"LL{t % 10}" for t in nominal_layout(Arch.MANDIBLE)}
    shown = [e.text for e in parse(draw_arch_sheet(planned_dossier(tooth_labels=labels))).iter(f"{SVG}text")]
    assert "LR3" in shown
    assert "43" not in shown
