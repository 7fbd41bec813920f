"""The evidence room: complete by topic, one wording per value, no addresses, judgement always founded."""

import importlib.util
import re
from collections import Counter
from pathlib import Path

import pytest

from seatwright.evidence import Confidence, EvidenceRecord, HowObtained, find_evidence, list_evidence, search_evidence

ROOT = Path(__file__).resolve().parents[3]
LEAST = {
    "impressions": 79, "gypsum": 74, "dies": 27, "alloys": 20, "frameworks": 20, "denture_base": 9, "casts": 5,
    "ceramics": 20, "survey": 25, "attachments": 30, "framework_mechanics": 15, "support": 14, "occlusion": 20,
    "scan_metrology": 17, "statistics": 16, "teeth_more": 10, "hazards": 7, "forecast": 30,
}  # fmt: skip


@pytest.mark.parametrize("topic", LEAST)
def test_every_topic_is_there(topic: str) -> None:
    assert len(list_evidence(topic)) >= LEAST[topic]


def test_no_record_carries_an_address_and_no_two_say_the_same_twice() -> None:
    texts = [(r.id, f"{r.quantity} {r.conditions} {r.source} {r.note}") for r in list_evidence()]
    assert not [i for i, text in texts if re.search(r"https?:|www\.|\.com\b|\.org\b", text)]
    twins = Counter((r.quantity, r.conditions, r.value, r.low, r.source) for r in list_evidence())
    assert not [key for key, n in twins.items() if n > 1]


def test_spreads_are_positive_and_values_lie_in_their_ranges() -> None:
    for record in list_evidence():
        assert record.sd is None or record.sd >= 0, record.id
        if record.value is not None and record.low is not None and record.high is not None:
            assert record.low <= record.value <= record.high, record.id


def test_what_the_forecast_assumes_has_a_range_and_a_foundation() -> None:
    for record in list_evidence("forecast"):
        assert record.how is HowObtained.JUDGEMENT, record.id
        assert record.low is not None, record.id
        assert record.built_from or record.note, record.id


@pytest.mark.parametrize(
    ("identifier", "value"),
    [
        ("rpd_ma_conv", 164.0),  # Naka et al. 2024
        ("rpd_dunham", 193.0),  # Dunham et al. 2006
        ("gyp_hes_high", 0.35),  # Heshmati et al. 2002
        ("die_gibbs_lcgel", 5.42),  # Gibbs et al. 2014
        ("mount_stab", 0.26),  # Gunderson and Siegel 2002
        ("survey_027", 0.255),  # 0.127 * 92^((36 - 30) / 39) mm
        ("support_025", 180.4),  # 18.4 kg
    ],
)
def test_values_stand_as_published(identifier: str, value: float) -> None:
    assert find_evidence(identifier).require_value() == value


def test_computed_gauges_follow_their_formula() -> None:
    for n, identifier in (
        (6, "survey_019"),
        (18, "survey_020"),
        (20, "survey_022"),
        (24, "survey_024"),
        (30, "survey_027"),
    ):
        assert find_evidence(identifier).require_value() == pytest.approx(0.127 * 92 ** ((36 - n) / 39), abs=0.0005)


def test_search_finds_by_source_and_by_id() -> None:
    assert {r.id for r in search_evidence("Dunham")} == {"rpd_dunham"}
    assert "fc_drift" in {r.id for r in search_evidence("FC_DRIFT")}


def test_a_record_shows_value_spread_and_range() -> None:
    assert find_evidence("rpd_dunham").shown() == "193 (sd 203) µm"
    assert find_evidence("rpd_accept").shown() == "50 to 311 µm"
    assert isinstance(find_evidence("rpd_accept"), EvidenceRecord)
    assert find_evidence("die_epoxy_pct").confidence is Confidence.LOW


def test_the_printed_page_is_current() -> None:
    spec = importlib.util.spec_from_file_location("make_evidence", ROOT / "docs" / "reference" / "make_evidence.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert (ROOT / "docs" / "reference" / "evidence.md").read_text(encoding="utf-8") == module.render()
