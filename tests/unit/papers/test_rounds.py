"""Steps of many units as rounds."""

from seatwright.case import Duration, Skill, StepCard
from seatwright.papers._rounds import gather_rounds


def card(identifier: str, tooth: int, do: str = "do it", cautions: tuple[str, ...] = ()) -> StepCard:
    return StepCard(identifier, identifier, do, "I", tooth, Skill.DIES, Duration(1, 2, 3), cautions=cautions)


def titles(*sequences: list[StepCard]) -> list[str]:
    return [r.title for r in gather_rounds(sequences, str)]


def test_rounds_keep_every_units_own_order() -> None:
    first = [card("flash", 45), card("analog", 45)]
    second = [card("flash", 43), card("mask", 43), card("fill", 43)]
    third = [card("flash", 44), card("separator", 44), card("fill", 44)]
    merged = titles(first, second, third)
    for sequence in (first, second, third):
        places = [merged.index(c.id) for c in sequence]
        assert places == sorted(places)
    assert len(merged) == 5


def test_a_unit_that_shares_no_step_comes_last_and_one_that_leads_into_a_step_before_it() -> None:
    assert titles([card("flash", 45)], [card("block", 34)], [card("dry", 44), card("flash", 44)]) == [
        "dry",
        "flash",
        "block",
    ]


def test_instructions_that_differ_only_by_the_number_are_said_once() -> None:
    (one,) = gather_rounds([[card("fill", 43, "pin numbered 43")], [card("fill", 44, "pin numbered 44")]], str)
    assert [i.do for i in one.instructions] == ["pin numbered 43, 44"]
    assert one.n == 2


def test_instructions_that_differ_name_their_units() -> None:
    (one,) = gather_rounds([[card("fill", 43, "to the wax")], [card("fill", 44, "to the edge")]], str)
    assert [(i.units, i.do) for i in one.instructions] == [("43", "to the wax"), ("44", "to the edge")]


def test_a_caution_is_said_at_its_first_round_only() -> None:
    rounds = gather_rounds([[card("a", 43, cautions=("light",)), card("b", 43, cautions=("light", "dust"))]], str)
    assert [r.cautions for r in rounds] == [("light",), ("dust",)]


def test_numbers_are_shown_in_the_chosen_notation() -> None:
    (one,) = gather_rounds([[card("fill", 43, "pin numbered 43")]], lambda tooth: f"LR{tooth % 10}")
    assert one.units == "LR3"
    assert one.instructions[0].do == "pin numbered LR3"
