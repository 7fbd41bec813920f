"""Single decisions of the classification; the published cases stand in tests/published/kennedy."""

import pytest
from tests.examples import demo_teeth

from seatwright.case import Arch, KennedyClass, SpaceRole, Teeth, classify_support, teeth_of_arch


def _teeth(*, partial: tuple[int, ...] = (), gone: tuple[int, ...] = (38, 48), **other: tuple[int, ...]) -> Teeth:
    moved = {t for name in ("implants", "missing_fixed") for t in other.get(name, ())}
    left_out = other.pop("left_out", ())
    present = tuple(t for t in teeth_of_arch(Arch.MANDIBLE) if t not in {*partial, *gone, *moved, *left_out})
    return Teeth(present=present, missing_partial=partial, missing_not_replaced=gone, **other)


def _shown(teeth: Teeth) -> str:
    return classify_support(teeth, Arch.MANDIBLE).shown()


def test_example_arch_is_class_two_with_two_modifications() -> None:
    result = classify_support(demo_teeth(), Arch.MANDIBLE)
    assert result.shown() == "Kennedy class II modification 2"
    assert [(s.teeth, s.role, s.is_free_end) for s in result.spaces] == [
        ((47, 46), SpaceRole.DECIDING, True),
        ((41, 31, 32), SpaceRole.MODIFICATION, False),
        ((36,), SpaceRole.MODIFICATION, False),
    ]
    assert {rule.number for rule in result.rules} == {1, 2, 5, 6, 7, 8}


@pytest.mark.parametrize("state", ["missing_fixed", "implants"])
def test_gap_filled_by_a_bridge_or_an_implant_counts_as_teeth(state: str) -> None:
    assert _shown(_teeth(partial=(36, 37))) == "Kennedy class II"
    assert _shown(_teeth(partial=(36, 37), **{state: (44, 45)})) == "Kennedy class II"
    assert _shown(_teeth(partial=(36,), **{state: (37,)})) == "Kennedy class III"


def test_third_molar_decides_only_by_its_stated_intent() -> None:
    arch = {"partial": (36, 37), "gone": (48,)}
    asked = classify_support(_teeth(**arch), Arch.MANDIBLE)
    assert asked.kennedy_class is None
    assert asked.spaces == ()
    assert len(asked.questions) == 1
    assert "38" in asked.questions[0]
    assert "third_molar_abutments" in asked.findings[0].do
    assert _shown(_teeth(**arch, third_molar_abutments=(38,))) == "Kennedy class III"
    assert _shown(_teeth(**arch, third_molars_not_abutments=(38,))) == "Kennedy class II"


def test_third_molar_is_asked_about_behind_a_second_molar_that_is_not_replaced() -> None:
    assert classify_support(_teeth(partial=(36,), gone=(37, 48)), Arch.MANDIBLE).questions


def test_third_molar_that_borders_no_space_needs_no_intent() -> None:
    assert _shown(_teeth(partial=(35,), gone=())) == "Kennedy class III"


def test_molar_in_no_list_is_asked_for() -> None:
    result = classify_support(_teeth(partial=(35,), gone=(48,), left_out=(37, 38)), Arch.MANDIBLE)
    assert [question[:5] for question in result.questions] == ["Is 38", "Is 37"]


def test_second_molar_not_replaced_is_passed_over_and_the_opposing_one_mentioned() -> None:
    result = classify_support(_teeth(partial=(35,), gone=(37, 38, 48)), Arch.MANDIBLE)
    assert result.shown() == "Kennedy class III"
    assert [f.about for f in result.findings] == ["37"]
    assert 4 in {rule.number for rule in result.rules}
    assert _shown(_teeth(partial=(35, 36), gone=(37, 38, 48))) == "Kennedy class II"


def test_free_end_that_crosses_the_midline_is_class_two() -> None:
    left = (41, 31, 32, 33, 34, 35, 36, 37)
    assert _shown(_teeth(partial=left)) == "Kennedy class II"


def test_space_across_the_midline_with_another_bounded_space_is_class_three() -> None:
    result = classify_support(_teeth(partial=(41, 31, 35)), Arch.MANDIBLE)
    assert result.shown() == "Kennedy class III modification 1"
    assert [s.teeth for s in result.spaces if s.role is SpaceRole.DECIDING] == [(35,)]
    assert 8 in {rule.number for rule in result.rules}


def test_most_posterior_space_decides_even_when_it_crosses_the_midline() -> None:
    crossing = (46, 45, 44, 43, 42, 41, 31)
    result = classify_support(_teeth(partial=(*crossing, 34)), Arch.MANDIBLE)
    assert result.kennedy_class is KennedyClass.III
    assert [s.teeth for s in result.spaces if s.role is SpaceRole.DECIDING] == [crossing]


def test_single_standing_tooth_leaves_two_free_ends() -> None:
    partial = tuple(t for t in teeth_of_arch(Arch.MANDIBLE) if t % 10 < 8 and t != 43)
    assert _shown(_teeth(partial=partial)) == "Kennedy class I"


def test_arch_without_a_standing_tooth_has_no_class_but_a_finding() -> None:
    partial = tuple(t for t in teeth_of_arch(Arch.MANDIBLE) if t % 10 < 8)
    result = classify_support(_teeth(partial=partial), Arch.MANDIBLE)
    assert result.kennedy_class is None
    assert result.spaces == ()
    assert [f.id for f in result.findings] == ["support-no-tooth"]


def test_arch_without_a_space_has_no_class_but_a_finding() -> None:
    result = classify_support(_teeth(), Arch.MANDIBLE)
    assert result.shown() == "no Kennedy class"
    assert [f.id for f in result.findings] == ["support-no-space"]


def test_spaces_on_both_sides_of_an_unreplaced_gap_are_one() -> None:
    result = classify_support(_teeth(partial=(34, 36), gone=(35, 38, 48)), Arch.MANDIBLE)
    assert [s.teeth for s in result.spaces] == [(34, 36)]
    assert result.n_modifications == 0


@pytest.mark.parametrize(
    ("arch", "rules"),
    [
        ({}, [1, 2, 2]),
        ({"partial": (35,)}, [1, 2, 2, 5]),
        ({"partial": (35, 45)}, [1, 2, 2, 5, 6, 7]),
        ({"partial": (31, 41)}, [1, 2, 2, 5, 8]),
        ({"partial": (31, 41, 35)}, [1, 2, 2, 5, 6, 7, 8]),
        ({"partial": (34,), "gone": (36, 38, 48)}, [1, 2, 2, 5]),
        ({"partial": (34,), "gone": (37, 38, 48)}, [1, 2, 2, 4, 5]),
        ({"partial": (36, 37), "gone": (48,), "third_molar_abutments": (38,)}, [1, 2, 3, 5]),
        ({"partial": (36, 37), "gone": (48,), "third_molars_not_abutments": (38,)}, [1, 2, 3, 5]),
    ],
)
def test_only_the_rules_that_had_a_say_are_named(arch: dict[str, tuple[int, ...]], rules: list[int]) -> None:
    result = classify_support(_teeth(**arch), Arch.MANDIBLE)
    assert [rule.number for rule in result.rules] == rules
