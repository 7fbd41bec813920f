"""Twelve arches with the class that the rules give them; see source.toml."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.case import Arch, Teeth, classify_support, mirror_tooth, teeth_of_arch

CASES = json.loads((Path(__file__).parent / "cases.json").read_text(encoding="utf-8"))


def _teeth(arch: Arch, case: dict) -> Teeth:
    gone = {*case["missing"], *case["not_replaced"]}
    return Teeth(
        present=tuple(t for t in teeth_of_arch(arch) if t not in gone),
        missing_partial=tuple(case["missing"]),
        missing_not_replaced=tuple(case["not_replaced"]),
        third_molar_abutments=tuple(case.get("abutments", ())),
        third_molars_not_abutments=tuple(case.get("not_abutments", ())),
    )


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c['arch']}-{c['missing']}")
def test_arch_gets_the_class_that_the_rules_give(case) -> None:
    arch = Arch(case["arch"])
    result = classify_support(_teeth(arch, case), arch)
    assert not result.questions
    assert (result.kennedy_class.value if result.kennedy_class else None) == case["class"]
    assert result.n_modifications == case["modifications"]


def test_third_molar_of_unstated_intent_is_asked_for_and_never_guessed() -> None:
    case = {"missing": [36, 37], "not_replaced": [48]}
    result = classify_support(_teeth(Arch.MANDIBLE, case), Arch.MANDIBLE)
    assert result.kennedy_class is None
    assert any("38" in question for question in result.questions)


@given(st.sets(st.sampled_from([t for t in teeth_of_arch(Arch.MANDIBLE) if t % 10 < 8]), max_size=12), st.randoms())
def test_mirrored_and_reordered_arch_keeps_its_class(missing, order) -> None:
    case = {"missing": sorted(missing), "not_replaced": [38, 48]}
    shuffled = list(missing)
    order.shuffle(shuffled)
    mirrored = {"missing": [mirror_tooth(t) for t in shuffled], "not_replaced": [38, 48]}
    one = classify_support(_teeth(Arch.MANDIBLE, case), Arch.MANDIBLE)
    other = classify_support(_teeth(Arch.MANDIBLE, mirrored), Arch.MANDIBLE)
    assert (one.kennedy_class, one.n_modifications) == (other.kennedy_class, other.n_modifications)
