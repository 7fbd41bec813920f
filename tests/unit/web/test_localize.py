"""A page takes its reader's notation and decimal sign on its way out, and nothing that must not change changes."""

import pytest

from seatwright.case import PERMANENT_TEETH, ToothNotation, parse_tooth
from seatwright.web._items import read_item
from seatwright.web._localize import localize, show_decimal
from seatwright.web._preferences import Preferences, name_tooth, read_preferences, short_name

COMMA = Preferences(comma=True)
UNIVERSAL = Preferences(teeth=ToothNotation.UNIVERSAL)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("<p>0.2 ± 0.3° over 17.5 mm (12.5 %)</p>", "<p>0,2 ± 0,3° over 17,5 mm (12,5 %)</p>"),
        ("<p>70,602 triangles</p>", "<p>70\u202f602 triangles</p>"),
        ('<a aria-label="gap 0.18 mm" href="/a?x=0.18">0.18</a>', '<a aria-label="gap 0,18 mm" href="/a?x=0.18">0,18</a>'),
        ("<p>ISO 6873:2013, clause 7.3; doi 10.1016/j.x; version 0.1.0; 12:30</p>", ""),
        ("<code>neck_mm = 5.5</code><pre>1.0  0.5</pre><script>var a = 0.5;</script>", ""),
        ('<input name="neck" value="5.5"><path d="M1.5 2.5"/>', ""),
        ("<p>31 August 2026, Table 2.1, 3.4.5</p>", ""),
    ],
)  # fmt: skip
def test_decimals_are_written_with_a_comma_in_text_alone(written: str, read: str) -> None:
    assert localize(written, COMMA) == (read or written)
    assert localize(written, Preferences()) == written


def test_a_code_in_a_page_does_not_stop_what_follows_it() -> None:
    assert localize("<code>1.5</code> 1.5", COMMA) == "<code>1.5</code> 1,5"


def test_teeth_are_renamed_only_where_they_are_marked_as_teeth() -> None:
    sentence = "<p>36 and 37 shift 36 µm; put the die engraved 33 into 43.</p>"
    assert localize(sentence, UNIVERSAL) == sentence
    assert (
        localize('<th scope="row" data-tooth="12">12</th>', UNIVERSAL) == '<th scope="row" data-tooth="12">#7 (12)</th>'
    )
    drawn = '<g data-number="36"><text x="80.2" y="4">36</text></g>'
    assert "#19</tspan>" in localize(drawn, UNIVERSAL)
    assert ">(36)</tspan>" in localize(drawn, UNIVERSAL)
    place = '<g class="place touch" data-tooth="36" role="button" aria-label="36, 1 gap, crown">'
    assert 'aria-label="#19 (36), 1 gap, crown"' in localize(place, UNIVERSAL)


def test_a_finding_about_a_unit_is_led_by_both_of_its_numbers() -> None:
    finding = '<i class="key" data-tooth="43"></i><span class="what">43: separator before any resin.</span>'
    assert localize(finding, UNIVERSAL) == '<span class="what">#27 (43): separator before any resin.</span>'
    general = '<i class="key" data-tooth="43"></i><span class="what">Gel at 43 sets late.</span>'
    assert localize(general, UNIVERSAL) == '<span class="what">#27 (43): Gel at 43 sets late.</span>'
    assert localize(finding, Preferences()) == finding


@pytest.mark.parametrize("notation", [ToothNotation.UNIVERSAL, ToothNotation.QUADRANT])
def test_no_name_in_another_notation_reads_as_an_iso_number_and_each_is_read_back(notation: ToothNotation) -> None:
    for tooth in PERMANENT_TEETH:
        name = short_name(tooth, notation)
        assert not name.isdigit()
        assert parse_tooth(name.lstrip("#"), notation) == tooth
        assert name_tooth(tooth, notation).endswith(f" ({tooth})")
        said = read_item("region", {"tooth": [name], "seed_mm": ["1,5", "2.5", "3"], "radius_mm": ["4,5"]})
        assert said.item["tooth"] == tooth
        assert said.item["seed_mm"] == [1.5, 2.5, 3.0]


@pytest.mark.parametrize("comma", [True, False])
@pytest.mark.parametrize("light", ["auto", "bright", "dim"])
def test_a_cookie_brings_back_what_was_chosen(comma: bool, light: str) -> None:
    chosen = Preferences(ToothNotation.QUADRANT, comma, light, sound=False, flash=comma)  # type: ignore[arg-type]
    assert read_preferences(chosen.to_cookie()) == chosen


def test_a_cookie_of_nonsense_is_the_default() -> None:
    assert read_preferences("<script>.%00.universal2") == Preferences()


def test_a_field_is_filled_with_the_readers_sign() -> None:
    assert show_decimal(5.5, comma=True) == "5,5"
    assert show_decimal(5.5, comma=False) == "5.5"
