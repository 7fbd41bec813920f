import json
import math
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from tests.examples import (
    DEMO_NOW,
    OPPOSING,
    demo_attachments,
    demo_bench,
    demo_case,
    demo_events,
    minutes,
    twin_axes_case,
)
from tests.unit.cast.caliper_readings import ARCH, read_marks
from tests.unit.cast.test_caliper_index import PLACES, read_gaps
from tests.workflow.fakes import MemorySource, MemoryStore, StoppedClock

from seatwright.case import Disinfected, HandReadings, ImpressionOut
from seatwright.dies import Technique
from seatwright.errors import Cancelled, CaseError, ConflictError
from seatwright.findings import Severity
from seatwright.pour import Band
from seatwright.progress import Progress
from seatwright.workflows.cast_check import require_casts
from seatwright.workflows.dossier import dossier_envelope, gather_dossier, write_dossier
from seatwright.workflows.envelope import encode_json, to_jsonable
from seatwright.workflows.plan import plan_case
from seatwright.workflows.results import Dossier

CLOCK = StoppedClock(DEMO_NOW + timedelta(days=1))


def _source(**other):
    return MemorySource(demo_case(**{"scan": (), "region": (), **other}), demo_bench(), demo_events())


@cache
def _dossier() -> Dossier:
    return gather_dossier(_source(), now=None, clock=CLOCK)


def test_plan_looks_at_the_case_at_its_own_moment_before_the_clock() -> None:
    assert plan_case(_source(), now=None, clock=CLOCK).bundle.now == DEMO_NOW


def test_plan_gives_every_unit_its_die_and_every_impression_its_clock() -> None:
    plan = plan_case(_source(), now=None, clock=CLOCK)
    assert {u.tooth: u.chosen for u in plan.dies.units}[43] is Technique.MASKED
    assert [c.impression for c in plan.pour.impressions] == ["pickup-1", "opposing-1"]
    assert plan.findings[0].severity is Severity.STOP


def test_minutes_needed_count_the_chosen_dies_work() -> None:
    plan = plan_case(_source(), now=None, clock=CLOCK)
    needed = plan.pour.clock("pickup-1").minutes_needed.typical_min
    die_minutes = [c.duration.typical_min for c in plan.dies.cards_by_impression()["pickup-1"] if c.attended]
    assert needed > max(die_minutes)


def test_twin_case_tells_that_its_axes_cannot_be_entered_together() -> None:
    source = MemorySource(twin_axes_case().model_copy(update={"scan": (), "region": ()}), demo_bench(), demo_events())
    plan = plan_case(source, now=None, clock=CLOCK)
    worst = next(pair for pair in plan.axes if {pair.one, pair.other} == {"slide-35", "sleeve-front"})
    assert worst.divergence_deg == pytest.approx(2.6, abs=0.001)
    assert worst.finding.severity in (Severity.WARNING, Severity.STOP)


def test_dossier_without_scans_is_still_a_dossier() -> None:
    dossier = _dossier()
    assert dossier.casts == ()
    assert dossier.headline
    assert [step.name for step in dossier.job][:4] == ["pick-up", "dies", "pour", "cast"]
    assert dossier.hollow.number.endswith("min left")


def test_dossier_on_the_pick_up_day_carries_its_timetable() -> None:
    dossier = _dossier()
    assert {row.impression for row in dossier.day.timetable.tasks} == {"pickup-1", OPPOSING}
    assert dossier.no_day == ""


def test_dossier_forecasts_the_seating_and_says_so_among_its_findings() -> None:
    dossier = _dossier()
    assert dossier.fit is not None
    assert dossier.fit.before is None  # no cast has been measured
    told = next(f for f in dossier.findings if f.id == "forecast-seating")
    assert dossier.fit.p_seats.says.value in told.what
    assert dossier.job[-1].word == f"forecast: {dossier.fit.p_seats.says.value}"
    kept = json.loads(encode_json(dossier_envelope(dossier)))["result"]["forecast"]
    assert kept["p_seats"]["value"] == dossier.fit.p_seats.value
    assert "inputs" not in kept  # they stand in the forecast's own answer


def test_dossier_of_a_slide_without_clearance_says_why_nothing_is_forecast() -> None:
    bare = tuple(
        a.model_copy(update={"clearance_um": None, "clearance_is": None}) if a.id == "slide-35" else a
        for a in demo_attachments()
    )
    dossier = gather_dossier(_source(attachment=bare), now=None, clock=CLOCK)
    assert dossier.fit is None
    assert "slide-35.clearance_um" in dossier.no_fit
    assert dossier.job[-1].word == "not yet"
    nothing = gather_dossier(_source(attachment=(), bar=()), now=None, clock=CLOCK)
    assert nothing.fit is None
    assert "no attachment and no rest" in nothing.no_fit


def test_dossier_at_a_bench_where_nobody_mixes_says_so_instead_of_failing() -> None:
    bench = demo_bench()
    hands = tuple(p.model_copy(update={"skills": tuple(s for s in p.skills if s != "mix")}) for p in bench.person)
    source = MemorySource(demo_case(scan=(), region=()), bench.model_copy(update={"person": hands}), demo_events())
    dossier = gather_dossier(source, now=None, clock=CLOCK)
    assert dossier.day is None
    assert "mix" in dossier.no_day


def test_taken_folder_is_refused_before_any_work() -> None:
    def printer(*_: object, **__: object) -> dict[str, bytes]:
        raise AssertionError("must not print")

    with pytest.raises(ConflictError):
        write_dossier(
            _source(), "out", printer=printer, store=MemoryStore(taken=frozenset({"out"})), now=None, clock=CLOCK
        )


def test_asking_to_stop_leaves_nothing_written() -> None:
    store = MemoryStore()
    with pytest.raises(Cancelled):
        write_dossier(
            _source(),
            "out",
            printer=lambda *_, **__: {},
            store=store,
            now=None,
            clock=CLOCK,
            progress=Progress(should_stop=lambda: True),
        )
    assert store.written == {}


def test_cast_check_without_scans_says_all_that_is_missing() -> None:
    with pytest.raises(CaseError) as caught:
        require_casts(demo_case(scan=(), region=()))
    assert {fault.where for fault in caught.value.faults} == {"case.toml: scan", "case.toml: region"}


def test_envelope_refuses_a_number_that_is_not_finite() -> None:
    with pytest.raises(TypeError):
        to_jsonable({"value": float("nan")})
    with pytest.raises(TypeError):
        to_jsonable(object())


def test_whole_plan_survives_the_serializer() -> None:
    plan = plan_case(_source(), now=None, clock=CLOCK)
    text = encode_json({"dies": to_jsonable(plan.dies), "pour": to_jsonable(plan.pour)})
    again = json.loads(text)
    assert len(again["dies"]["units"]) == 8


def test_costs_are_told_over_the_distances_on_the_scan_where_units_have_seeds() -> None:
    case = demo_case(scan=())
    plan = plan_case(MemorySource(case, demo_bench(), demo_events()), now=None, clock=CLOCK)
    seeds = {region.tooth: region.seed_mm for region in case.region}
    spans = [s for step in plan.pour.clock("pickup-1").steps for s in step.spans if not s.is_nominal]
    assert spans
    for span in spans:
        one, other = (int(word) for word in span.what.split(" to "))
        assert span.span_mm == pytest.approx(math.dist(seeds[one], seeds[other]))


def test_disinfection_by_immersion_is_counted_once() -> None:
    """Eight minutes in the fluid are eight, whether told as contact or seen as a spell: not past ten."""
    events = (
        ImpressionOut(seq=1, at=minutes(0), by="dentist", impression=OPPOSING),
        Disinfected(
            seq=2, at=minutes(8.5), by="assistant", impression=OPPOSING, method="immersion", contact_min=8, bagged=False
        ),
    )
    source = MemorySource(demo_case(scan=(), region=()), demo_bench(), events)
    clock = plan_case(source, now=minutes(8.6), clock=CLOCK).pour.clock(OPPOSING)
    assert any("8 min" in finding.what and "fluid" in finding.what for finding in clock.findings)
    assert clock.band is Band.WITHIN


def test_readings_by_hand_of_a_case_stand_in_its_dossier() -> None:
    readings = read_marks(ARCH, np.random.default_rng(1), moved={"45": [0.15, 0.1, 0]})
    gaps = tuple(read_gaps(PLACES, ["37", "47"], height={"43": -90}))
    source = _source(by_hand=HandReadings(distances="caliper.csv", gaps="index.csv", reseat_um=10.0))
    source.readings, source.gaps = {"caliper.csv": readings}, {"index.csv": gaps}
    dossier = gather_dossier(source, now=None, clock=CLOCK, quick=True)
    assert dossier.by_hand is not None
    assert dossier.by_hand.caliper is not None
    assert dossier.by_hand.index is not None
    asked = dossier.by_hand.caliper.result.asked
    assert (asked.tolerance_um, asked.reseat_um) == (source.case.tolerance.unit_shift_um, 10.0)
    assert {"caliper-mark-moved", "index-located"} <= {f.id for f in dossier.findings}
    assert {"caliper.csv", "index.csv"} <= {i.name for i in dossier.inputs}
    words = {step.name: (step.word, step.severity) for step in dossier.job}
    assert words["cast"] == ("45 off by caliper", Severity.STOP)
    source.case = source.case.model_copy(update={"by_hand": HandReadings(gaps="index.csv")})
    by_foil = gather_dossier(source, now=None, clock=CLOCK, quick=True)
    assert {step.name: step.word for step in by_foil.job}["cast"] == "43 off by foil"
    document = json.loads(encode_json(dossier_envelope(dossier)))
    assert set(document["result"]["by_hand"]) == {"caliper", "index"}
    assert gather_dossier(_source(), now=None, clock=CLOCK, quick=True).by_hand is None
