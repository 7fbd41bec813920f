import pytest
from tests.unit.dies.builders import crown, facts_of, good_die, out, trial

from seatwright.case import Seating
from seatwright.dies import DieFaultKind, check_returned_die


def test_die_that_meets_all_criteria_is_valid() -> None:
    assert check_returned_die(good_die(), None, crown()).is_valid


@pytest.mark.parametrize(
    ("fields", "fault"),
    [
        ({"engraved": ""}, DieFaultKind.NO_NUMBER),
        ({"engraved": "45"}, DieFaultKind.MIRROR_TOOTH),
        ({"engraved": "36"}, DieFaultKind.WRONG_NUMBER),
        ({"engraved": "15"}, DieFaultKind.WRONG_NUMBER),
        ({"current_preparation": False}, DieFaultKind.OLD_PREPARATION),
        ({"seating": None}, DieFaultKind.NOT_TRIED),
        ({"seating": Seating.WITH_FORCE}, DieFaultKind.FORCED),
        ({"seating": Seating.SHORT}, DieFaultKind.SHORT),
        ({"short_by_mm": 0.1}, DieFaultKind.SHORT),
        ({"fit_gap_um": None}, DieFaultKind.GAP_UNMEASURED),
        ({"fit_gap_um": 50.5}, DieFaultKind.GAP_TOO_WIDE),
        ({"over_ditched": True}, DieFaultKind.OVER_DITCHED),
        ({"keyed_root": False}, DieFaultKind.NO_KEY),
    ],
)
def test_one_failed_criterion_is_named_alone(fields: dict[str, object], fault: DieFaultKind) -> None:
    validity = check_returned_die(good_die(**fields), None, crown())
    assert [f.kind for f in validity.faults] == [fault]


@pytest.mark.parametrize(("tooth", "mirror"), [(43, 33), (33, 43), (11, 21), (27, 17)])
def test_mirror_tooth_is_named_in_words(tooth: int, mirror: int) -> None:
    validity = check_returned_die(good_die(tooth, engraved=str(mirror)), None, crown(tooth))
    assert f"engraved {mirror}, the mirror tooth of {tooth}" in validity.faults[0].what


def test_every_failed_criterion_is_listed() -> None:
    die = good_die(43, engraved="33", over_ditched=True, keyed_root=False)
    tried = trial(43, seating=Seating.SHORT, gap_um=180.0, short_by_mm=0.4)
    assert len(check_returned_die(die, tried, crown(43)).faults) == 5


def test_logged_trial_overrides_the_stated_fit_both_ways() -> None:
    assert not facts_of(die=good_die(), state=out(35, trials=(trial(gap_um=90.0),))).valid_die
    stated_badly = good_die(fit_gap_um=90.0, seating=Seating.WITH_FORCE)
    assert facts_of(die=stated_badly, state=out(35, trials=(trial(gap_um=20.0),))).valid_die


def test_the_latest_trial_counts_whatever_the_order_of_the_list() -> None:
    early, late = trial(gap_um=90.0), trial(gap_um=20.0, at=trial().at.replace(hour=11))
    for trials in ((early, late), (late, early)):
        die = facts_of(die=good_die(), state=out(35, trials=trials)).valid_die
        assert die is not None
        assert die.gap_um == 20.0


def test_trial_of_another_die_or_in_another_crown_says_nothing() -> None:
    others = (trial(die="die-99", gap_um=500.0), trial(tooth=34, die="die-35", gap_um=500.0))
    assert facts_of(die=good_die(), state=out(35, trials=others)).valid_die
