"""Every row of the window table on both sides of each limit, against the table written out here by hand.

Limits and costs: the studies and textbooks named in the evidence tables; ids beside each row.
"""

import math

import pytest
from tests.unit.pour.builders import clock_of, opposing

from seatwright.case import ImpressionMaterial, Storage
from seatwright.evidence import find_evidence
from seatwright.findings import SourceKind
from seatwright.pour import Band, CostBasis, Counts, list_ladders

M, S = ImpressionMaterial, Storage
H, D = 60.0, 1440.0
EPS = 1e-6
IN, STRETCHED, BEYOND = Band.WITHIN, Band.STRETCHED, Band.BEYOND
FRESH, HUMID, TISSUE = (0.0, 0.25), (-0.3, 0.5), (0.0, 1.5)
EXT_DAY, EXT_DAYS, VPS, PE = (-0.2, 0.7), (0.0, 1.0), (-0.15, 0.05), (-0.2, 0.05)

# row: (end in minutes, band, (bias %, u %) or None), written out from the evidence, not read from it
TABLE = {
    "alginate-open-air": [(10, IN, None), (None, BEYOND, None)],
    "alginate-immersed": [(10, IN, None), (None, BEYOND, None)],
    "alginate-bag": [(12, IN, FRESH), (2 * H, STRETCHED, HUMID), (None, BEYOND, None)],
    "alginate-damp-wrap": [(12, IN, FRESH), (2 * H, STRETCHED, HUMID), (168 * H, BEYOND, TISSUE), (None, BEYOND, None)],
    "alginate-humid-box": [(12, IN, FRESH), (4 * H, STRETCHED, HUMID), (None, BEYOND, None)],
    "extended-alginate-closed": [
        (2 * H, IN, EXT_DAY),
        (24 * H, STRETCHED, EXT_DAY),
        (100 * H, BEYOND, EXT_DAYS),
        (None, BEYOND, None),
    ],
    "extended-alginate-damp-wrap": [
        (2 * H, IN, EXT_DAY),
        (24 * H, STRETCHED, TISSUE),
        (168 * H, BEYOND, TISSUE),
        (None, BEYOND, None),
    ],
    "addition-silicone": [(D, IN, VPS), (7 * D, STRETCHED, VPS), (14 * D, STRETCHED, None), (None, BEYOND, None)],
    "polyether": [(D, IN, PE), (7 * D, STRETCHED, None), (None, BEYOND, None)],
    "polyether-damp": [(10, IN, None), (None, BEYOND, None)],
    "polysulfide": [(30, IN, None), (60, STRETCHED, None), (None, BEYOND, None)],
    "condensation-silicone": [(30, IN, None), (None, BEYOND, None)],
}
LADDERS = {ladder.id: ladder for ladder in list_ladders()}
ROWS = [(name, i) for name, rows in TABLE.items() for i in range(len(rows))]
# how an impression is kept so that exactly this row counts
KEPT = {
    "alginate-open-air": (M.ALGINATE, S.OPEN_AIR),
    "alginate-immersed": (M.ALGINATE, S.IMMERSED),
    "alginate-bag": (M.ALGINATE, S.SEALED_BAG),
    "alginate-damp-wrap": (M.ALGINATE, S.DAMP_WRAP),
    "alginate-humid-box": (M.ALGINATE, S.HUMID_BOX),
    "extended-alginate-closed": (M.EXTENDED_ALGINATE, S.HUMID_BOX),
    "extended-alginate-damp-wrap": (M.EXTENDED_ALGINATE, S.DAMP_WRAP),
    "addition-silicone": (M.ADDITION_SILICONE, S.DRY),
    "polyether": (M.POLYETHER, S.DRY),
    "polyether-damp": (M.POLYETHER, S.HUMID_BOX),
    "polysulfide": (M.POLYSULFIDE, S.DRY),
    "condensation-silicone": (M.CONDENSATION_SILICONE, S.DRY),
}


def test_table_holds_these_rows_and_no_others() -> None:
    assert set(LADDERS) == set(TABLE)
    for name, rows in TABLE.items():
        assert [(r.until_min, r.band) for r in LADDERS[name].rungs] == [(end, band) for end, band, _ in rows]


@pytest.mark.parametrize(("name", "index"), ROWS)
def test_limit_belongs_to_the_rung_it_ends_and_the_next_begins_after(name: str, index: int) -> None:
    ladder, rows = LADDERS[name], TABLE[name]
    end, band, cost = rows[index]
    for minute in (EPS if index == 0 else rows[index - 1][0] + EPS, 100 * D if end is None else end):
        rung = ladder.rung_at(minute)
        assert rung.band is band
        assert (None if rung.bias_percent is None else (rung.bias_percent, rung.u_percent)) == cost


@pytest.mark.parametrize(("name", "index"), [(n, i) for n, i in ROWS if TABLE[n][i][0] is not None])
def test_clock_changes_exactly_at_the_limit_of_the_row(name: str, index: int) -> None:
    material, storage = KEPT[name]
    end, band, cost = TABLE[name][index]
    _, band_after, cost_after = TABLE[name][index + 1]
    at = clock_of(opposing(material), [(storage, 0)], at_min=end)
    after = clock_of(opposing(material), [(storage, 0)], at_min=end + 1 / 60)
    assert (at.band, after.band) == (band, band_after)
    before_step = next(s for s in at.steps if s.until_min is None or end <= s.until_min)
    after_step = next(s for s in at.steps if s.until_min is None or end + 1 / 60 <= s.until_min)
    if name not in ("alginate-open-air", "alginate-immersed", "polyether-damp") or band is BEYOND:
        assert (before_step.bias_percent is None) is (cost is None)
    assert (after_step.bias_percent is None) is (cost_after is None)


@pytest.mark.parametrize("name", TABLE)
def test_window_is_the_end_of_the_band_within(name: str) -> None:
    material, storage = KEPT[name]
    expected = max(end for end, band, _ in TABLE[name] if band is IN)
    assert LADDERS[name].within_min == expected
    clock = clock_of(opposing(material), [(storage, 0)], at_min=5)
    assert clock.window_min == expected
    assert clock.minutes_left == expected - 5
    assert clock.decided_by.startswith(name.split("-", maxsplit=1)[0])


@pytest.mark.parametrize("ladder", list_ladders(), ids=lambda ladder: ladder.id)
def test_bands_never_improve_along_a_ladder_and_the_last_rung_is_beyond(ladder) -> None:
    order = list(Band)
    bands = [order.index(r.band) for r in ladder.rungs]
    assert bands == sorted(bands)
    assert ladder.rungs[-1].band is BEYOND
    assert ladder.rungs[-1].until_min is None
    ends = [math.inf if r.until_min is None else r.until_min for r in ladder.rungs]
    assert ends == sorted(set(ends))


@pytest.mark.parametrize("ladder", list_ladders(), ids=lambda ladder: ladder.id)
def test_every_rung_says_how_good_its_evidence_is_and_a_number_has_a_source(ladder) -> None:
    for rung in ladder.rungs:
        assert rung.how_good
        assert (rung.bias_percent is None) is (rung.u_percent is None)
        assert (rung.bias_percent is None) is (rung.basis is CostBasis.NOTHING)
        if rung.bias_percent is not None:
            identifier = rung.source.reference.rpartition("[")[2].rstrip("]")
            record = find_evidence(identifier)
            assert (record.value, record.sd) == (rung.bias_percent, rung.u_percent)
            assert rung.source.kind is SourceKind.JUDGEMENT  # no publication prints them


@pytest.mark.parametrize("material", ImpressionMaterial)
@pytest.mark.parametrize("storage", Storage)
def test_every_material_in_every_storage_has_exactly_one_age_row(material, storage) -> None:
    asked = S.SEALED_BAG if material.is_hydrocolloid and storage in (S.OPEN_AIR, S.DRY, S.IMMERSED) else storage
    rows = [x for x in list_ladders() if x.counts is Counts.AGE and material in x.materials and asked in x.storages]
    assert len(rows) == 1


# table limit -> records it was built from, with the printed values: the limit must not be laxer than all of them
SUPPORT = [
    ("clock_alg_open", 10, ["alg_tropical_10min", "alg_farzin_23C"], 10),
    ("clock_alg_immersed", 10, ["alg_disinf_10min"], 10),
    ("clock_ext_within", 2, ["alg_ext_2h_contra"], 2),
    ("clock_ext_stretched", 24, ["alg_gumus_24h"], 24),
    ("clock_cs_within", 30, ["ela_khan_cond"], 30),
    ("clock_alg_reject_hot", 40, ["alg_40C"], 40),
]


@pytest.mark.parametrize(("limit", "value", "records", "printed"), SUPPORT)
def test_chosen_limit_is_no_laxer_than_the_records_it_was_built_from(limit, value, records, printed) -> None:
    chosen = find_evidence(limit)
    assert chosen.value == value
    assert set(records) <= set(chosen.built_from)
    assert min(find_evidence(r).value for r in records) == printed
    assert value <= printed


def test_cost_intervals_lie_in_the_published_ranges_they_name() -> None:
    fresh, tissue = find_evidence("cost_alg_fresh"), find_evidence("cost_alg_wet_tissue")
    casts, bag = find_evidence("alg_imbery_pct"), find_evidence("alg_bag_tissue_range")
    assert 2 * fresh.sd >= max(abs(casts.low), abs(casts.high))
    assert 2 * tissue.sd >= max(abs(bag.low), abs(bag.high))
    humid, box = find_evidence("cost_alg_humid"), find_evidence("alg_humidor_range")
    assert box.low <= humid.value <= box.high
    day = find_evidence("cost_ext_day")
    assert find_evidence("alg_digital_worst").value <= day.value
    # 0.69 % was the smallest change of one study: two sigma must reach it on the shrinking side
    assert day.value - 2 * day.sd <= -find_evidence("alg_todd_all").low
    for chosen, table in (("cost_vps", "ela_24h_vps"), ("cost_pe", "ela_24h_pe")):
        low, high = find_evidence(table).require_range()
        assert low <= -find_evidence(chosen).value <= high
    whole, low = find_evidence("cost_elastomer_cast"), find_evidence("cast_cross_wald")
    assert low.low <= whole.value <= low.high
