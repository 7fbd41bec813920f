"""Every row of the window table, on both sides of each limit, and what its numbers rest on."""

import pytest

from seatwright.case import ImpressionMaterial, Storage
from seatwright.evidence import Confidence, find_evidence, list_evidence
from seatwright.pour import Band, CostBasis, Counts, Ladder, list_ladders
from seatwright.pour._maker import apply_maker
from seatwright.pour._rows import minutes_of

LADDERS = list_ladders()
ORDER = list(Band)
WHERE = [(ladder, i) for ladder in LADDERS for i in range(len(ladder.rungs) - 1)]

# Limits in minutes, written out by hand from the sources that the records name.
LIMITS = {
    "alginate-open-air": (10,),
    "alginate-immersed": (10,),
    "alginate-bag": (12, 120),
    "alginate-damp-wrap": (12, 120, 10080),
    "alginate-humid-box": (12, 240),
    "extended-alginate-closed": (120, 1440, 6000),
    "extended-alginate-damp-wrap": (120, 1440, 10080),
    "addition-silicone": (1440, 10080, 20160),
    "polyether": (1440, 10080),
    "polyether-damp": (10,),
    "polysulfide": (30, 60),
    "condensation-silicone": (30,),
}


def test_every_ladder_has_the_limits_written_out_by_hand() -> None:
    assert {ladder.id: tuple(r.until_min for r in ladder.rungs[:-1]) for ladder in LADDERS} == LIMITS
    assert all(ladder.rungs[-1].until_min is None for ladder in LADDERS)


@pytest.mark.parametrize(("ladder", "index"), WHERE, ids=lambda v: v.id if isinstance(v, Ladder) else str(v))
def test_a_limit_belongs_to_the_rung_it_ends_and_the_next_begins_right_after(ladder: Ladder, index: int) -> None:
    limit = ladder.rungs[index].until_min
    assert limit is not None
    assert ladder.rung_at(limit - 0.01) is ladder.rungs[index]
    assert ladder.rung_at(limit) is ladder.rungs[index]
    assert ladder.rung_at(limit + 0.01) is ladder.rungs[index + 1]


@pytest.mark.parametrize("ladder", LADDERS, ids=lambda v: v.id)
def test_bands_and_costs_never_improve_along_a_ladder(ladder: Ladder) -> None:
    bands = [ORDER.index(rung.band) for rung in ladder.rungs]
    assert bands == sorted(bands)
    sizes = [
        float("inf") if r.bias_percent is None or r.u_percent is None else abs(r.bias_percent) + 2 * r.u_percent
        for r in ladder.rungs
    ]
    assert sizes == sorted(sizes)
    assert bands[-1] == ORDER.index(Band.BEYOND)


@pytest.mark.parametrize("material", ImpressionMaterial)
@pytest.mark.parametrize("storage", Storage)
def test_every_material_and_storage_is_judged_by_age_in_one_row(material: ImpressionMaterial, storage: Storage) -> None:
    asked = Storage.SEALED_BAG if material.is_hydrocolloid and storage in _NOT_AGED else storage
    by_age = [x for x in LADDERS if x.counts is Counts.AGE and material in x.materials and asked in x.storages]
    assert len(by_age) == 1


_NOT_AGED = (Storage.OPEN_AIR, Storage.DRY, Storage.IMMERSED)


@pytest.mark.parametrize("ladder", LADDERS, ids=lambda v: v.id)
def test_a_rung_without_a_number_says_so_and_one_with_a_number_has_both(ladder: Ladder) -> None:
    for rung in ladder.rungs:
        assert (rung.bias_percent is None) == (rung.u_percent is None)
        assert (rung.basis is CostBasis.NOTHING) == (rung.bias_percent is None)
        assert rung.how_good.endswith(".")
        assert rung.source.shown()


def test_no_row_rests_on_a_record_of_low_confidence() -> None:
    low = {record.id for record in list_evidence() if record.confidence is Confidence.LOW}
    assert "ela_pour_pe_max" in low
    for ladder in LADDERS:
        for rung in ladder.rungs:
            identifier = rung.source.reference.rpartition("[")[2].rstrip("]")
            if rung.source.reference.endswith("]"):
                record = find_evidence(identifier)
                assert not {record.id, *record.built_from} & low, ladder.id


def test_durations_are_read_in_minutes_whatever_their_unit() -> None:
    assert minutes_of("alg_farzin_23C") == 12
    assert minutes_of("alg_window_bag") == 120
    assert minutes_of("clock_vps_measured") == 10080
    assert (minutes_of("ela_pour_ps_max", "low"), minutes_of("ela_pour_ps_max", "high")) == (30, 60)


def _ladder(identifier: str) -> Ladder:
    return next(ladder for ladder in LADDERS if ladder.id == identifier)


def test_the_makers_longer_window_rules_and_keeps_the_tables_costs() -> None:
    ladder = apply_maker(_ladder("extended-alginate-closed"), 6000.0, None)
    assert ladder.rung_at(6000.0).band is Band.WITHIN
    assert ladder.rung_at(6000.1).band is Band.BEYOND
    assert (ladder.rung_at(60.0).u_percent, ladder.rung_at(3000.0).u_percent) == (0.7, 1.0)
    assert "Without it" in ladder.rung_at(3000.0).how_good


def test_past_a_shorter_makers_window_the_band_is_stretched_at_best() -> None:
    ladder = apply_maker(_ladder("addition-silicone"), 60.0, None)
    assert ladder.rung_at(60.0).band is Band.WITHIN
    assert ladder.rung_at(61.0).band is Band.STRETCHED
    assert ladder.rung_at(21000.0).band is Band.BEYOND


def test_the_makers_change_replaces_the_tables_inside_the_window_only() -> None:
    ladder = apply_maker(_ladder("polyether"), 1440.0, -0.3)
    inside, after = ladder.rung_at(100.0), ladder.rung_at(2000.0)
    assert (inside.bias_percent, inside.u_percent, inside.basis) == (-0.3, 0.05, CostBasis.MAKER)
    assert after.bias_percent is None


def test_the_makers_change_without_a_table_u_gets_half_its_size() -> None:
    ladder = apply_maker(_ladder("polysulfide"), 45.0, -0.4)
    assert ladder.rung_at(40.0).u_percent == pytest.approx(0.2)
