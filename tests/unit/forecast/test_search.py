"""What could be done differently: every choice still open is offered, weighed on the same trials, and costed."""

from typing import Any

import pytest
from tests.examples import PICK_UP, demo_impressions

from seatwright.case import Case, ImpressionMaterial, MaleJoin, Stone, Tray
from seatwright.forecast import Change, Choices, MeasuredUnit, PourBand, Stage
from seatwright.forecast._changes import search_changes
from seatwright.forecast._levels import list_poorly_known
from seatwright.forecast._options import list_options
from seatwright.forecast._seating import build_setup, is_unsupported, name_chance
from seatwright.quantities import Measured

from .seating_cases import seat_case
from .test_update import measured

TECHNIQUES = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "masked", 44: "gel", 45: "analog"}
BENCH = {"sleeve-front": MaleJoin.LUTED_ON_CAST, "slide-35": MaleJoin.LUTED_ON_CAST}
FRESH = PourBand("within 12 min", Measured(0.0, 0.25, "%"), includes_stone=True, evidence=("cost_alg_fresh",))
LATER = PourBand("between 12 min and 120 min", Measured(-0.3, 0.5, "%"), is_range=True, evidence=("cost_alg_humid",))
UNKNOWN = PourBand("later than 120 min", None)


def choices(**other: Any) -> Choices:
    return Choices(**({"die_technique": TECHNIQUES, "male_joined": BENCH} | other))


def poor_case() -> Case:
    """Return the case picked up in alginate in a stock tray, poured in Type 5 stone that is used late."""
    pour = demo_impressions()[0].pour.model_copy(update={"stone": Stone.TYPE_5, "used_after_h": 96.0})
    changed = {"material": ImpressionMaterial.ALGINATE, "tray": Tray.RIGID_STOCK, "adhesive": False, "pour": pour}
    return seat_case(
        impression=tuple(i.model_copy(update=changed) if i.id == PICK_UP else i for i in demo_impressions())
    )


def search(case: Case, chosen: Choices, seen: tuple[MeasuredUnit, ...] = (), n: int = 600) -> dict[str, Change]:
    setup = build_setup(case, chosen, measured=seen)
    return {c.id: c for c in search_changes(case, chosen, setup, seed=1, n_trials=n, measured=seen)}


def test_every_choice_that_is_open_before_the_appointment_is_offered() -> None:
    chosen = choices(
        pour=FRESH,
        other_pours=(LATER, UNKNOWN),
        open_dies={37: ("gel", "returned_epoxy"), 33: ("masked", "stone")},
        male_joined={},
    )
    offered = {option.id for option in list_options(poor_case(), chosen)}
    assert offered == {
        "pick-up:conus-37", "pick-up:slide-35", "lute:slide-35",
        "verification-index", "framework-additive", "shorter-stay", "planned-reline",
        "pour:between 12 min and 120 min", "stone-type-4", "use-earlier",
        "die:returned-epoxy", "die:stone",
        "elastomer", "rigid-tray", "adhesive", "transfer-base",
    }  # fmt: skip
    for option in list_options(poor_case(), chosen):
        assert option.why.endswith(".")
        assert option.extra_min >= 0
        assert option.extra_visits >= 0


@pytest.mark.parametrize(
    ("stage", "gone"),
    [
        (Stage.IMPRESSION_OUT, {"elastomer", "rigid-tray", "adhesive", "transfer-base"}),
        (
            Stage.POURED,
            {"elastomer", "rigid-tray", "adhesive", "transfer-base", "stone-type-4", "use-earlier", "die:stone"},
        ),
    ],
)
def test_what_is_behind_is_no_longer_offered(stage: Stage, gone: set[str]) -> None:
    chosen = choices(open_dies={33: ("masked", "stone")})
    before = {option.id for option in list_options(poor_case(), chosen)}
    now = {option.id for option in list_options(poor_case(), choices(open_dies={33: ("masked", "stone")}, stage=stage))}
    assert before - now == gone


def test_better_materials_gain_and_waiting_costs() -> None:
    found = search(poor_case(), choices(pour=FRESH, other_pours=(LATER,)))
    assert found["elastomer"].gain > 0.05
    assert found["transfer-base"].gain > 0.05
    assert found["pick-up:slide-35"].gain > 0.05
    assert found["pour:between 12 min and 120 min"].gain < 0.02
    assert found["planned-reline"].gain == 0.0


def test_the_best_change_alone_has_a_range_and_stands_first_in_what_is_added_to_it() -> None:
    found = search(poor_case(), choices(pour=FRESH))
    ranged = [c for c in found.values() if c.low is not None]
    assert len(ranged) == 1
    best = ranged[0]
    assert best.low is not None
    assert best.high is not None
    assert best.low <= best.p_seats <= best.high
    assert best.gain == max(c.gain for c in found.values() if "+" not in c.id)
    double = [c for c in found.values() if "+" in c.id]
    assert double
    assert all(c.id.startswith(f"{best.id}+") for c in double)
    assert all(c.extra_min >= best.extra_min for c in double)


def test_verifying_on_an_index_after_the_check_does_not_keep_the_old_cast() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))
    wrong = measured({**teeth, 37: (0.25, 0.15, 0.0)})
    found = search(seat_case(), choices(stage=Stage.POURED), wrong)
    index = found["verification-index"]
    plain = search(seat_case(), choices(stage=Stage.POURED, index_in_mouth=True))
    # It is the chance of a cast set to the index, not of the one that was measured.
    assert index.p_seats == pytest.approx(next(iter(plain.values())).p_seats - next(iter(plain.values())).gain)


def test_an_impression_past_every_source_has_no_chance_that_evidence_could_tell() -> None:
    assert is_unsupported(choices(pour=UNKNOWN))
    assert not is_unsupported(choices(pour=FRESH))
    assert name_chance(0.9, 0.8, 0.95).value == "usually"


def test_a_change_known_from_free_specimens_only_widens_the_chance_s_range() -> None:
    def change(chosen: Choices) -> tuple[float, float]:
        chain = build_setup(poor_case(), chosen).chain
        law = next(c.law for c in chain.causes if c.link == "impression")
        return law.mean, law.u

    assert "pour_band" in list_poorly_known(choices(pour=LATER))
    assert "pour_band" not in list_poorly_known(choices(pour=FRESH))
    assert change(choices(pour=LATER)) == (-0.3, 0.5)
    assert change(choices(pour=LATER, levels={"pour_band": -1.0}))[0] == pytest.approx(-0.8)
    assert change(choices(pour=LATER, levels={"pour_band": 1.0}))[0] == pytest.approx(0.2)
    # Casts were measured there: the stone is in it, and it is a law.
    assert change(choices(pour=FRESH, levels={"*": -1.0})) == (0.0, 0.25)
