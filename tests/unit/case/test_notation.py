from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.case import (
    PERMANENT_TEETH,
    Arch,
    ToothNotation,
    arch_of,
    are_adjacent,
    distal_neighbor,
    format_tooth,
    mesial_neighbor,
    mirror_tooth,
    parse_tooth,
    sort_along_arch,
    teeth_of_arch,
    tooth_position,
)
from seatwright.errors import ValueOutOfRange

TEETH = st.sampled_from(sorted(PERMANENT_TEETH))
NOTATIONS = st.sampled_from(ToothNotation)


@given(TEETH, NOTATIONS)
def test_written_tooth_is_read_back(tooth: int, notation: ToothNotation) -> None:
    assert parse_tooth(format_tooth(tooth, notation), notation) == tooth


@pytest.mark.parametrize(
    ("text", "notation", "tooth"),
    [
        ("11", ToothNotation.ISO, 11),
        ("11", ToothNotation.UNIVERSAL, 23),
        (" ll6 ", ToothNotation.QUADRANT, 36),
        ("UR1", ToothNotation.QUADRANT, 11),
    ],
)
def test_notation_is_stated_and_never_guessed(text: str, notation: ToothNotation, tooth: int) -> None:
    assert parse_tooth(text, notation) == tooth


@pytest.mark.parametrize(
    "text", ["", "19", "39", "50", "0", "3 6", "٣٦", "３６", "36\n", "3６", "LL6", "+36", "36.0", "036"]
)
def test_text_that_is_no_iso_number_is_refused_with_a_hint(text: str) -> None:
    with pytest.raises(ValueOutOfRange) as caught:
        parse_tooth(text)
    assert caught.value.hint


@pytest.mark.parametrize(
    ("text", "notation"), [("75", ToothNotation.ISO), ("K", ToothNotation.UNIVERSAL), ("LLE", ToothNotation.QUADRANT)]
)
def test_deciduous_tooth_is_accepted_only_when_asked_for(text: str, notation: ToothNotation) -> None:
    assert parse_tooth(text, notation, deciduous=True) == 75
    with pytest.raises(ValueOutOfRange, match="deciduous"):
        parse_tooth(text, notation)


@given(TEETH)
def test_mirror_tooth_is_its_own_inverse_and_stays_in_the_arch(tooth: int) -> None:
    mirrored = mirror_tooth(tooth)
    assert mirrored != tooth
    assert mirror_tooth(mirrored) == tooth
    assert arch_of(mirrored) is arch_of(tooth)
    assert tooth_position(mirrored) == tooth_position(tooth)


@given(TEETH)
def test_neighbors_are_adjacent_and_each_others_neighbor(tooth: int) -> None:
    assert are_adjacent(tooth, mesial_neighbor(tooth))
    distal = distal_neighbor(tooth)
    assert (distal is None) == (tooth_position(tooth) == 8)
    if distal is not None:
        assert are_adjacent(tooth, distal)
        assert mesial_neighbor(distal) == tooth


def test_arch_runs_from_right_to_left_and_each_tooth_stands_beside_the_next() -> None:
    for arch in Arch:
        teeth = teeth_of_arch(arch)
        assert len(set(teeth)) == 16
        assert all(are_adjacent(a, b) for a, b in pairwise(teeth))
        assert sort_along_arch(tuple(sorted(teeth))) == teeth
    assert not are_adjacent(11, 41)
    assert not are_adjacent(18, 48)


@pytest.mark.parametrize("tooth", [0, 19, 50, 75, -36])
def test_unknown_tooth_has_no_place(tooth: int) -> None:
    for ask in (arch_of, tooth_position, mirror_tooth, mesial_neighbor, distal_neighbor):
        with pytest.raises(ValueOutOfRange):
            ask(tooth)
