from seatwright.evidence import Confidence, HowObtained, find_evidence, list_evidence, source_of


def test_every_record_has_a_value_or_a_range_a_unit_and_a_source() -> None:
    records = list_evidence()
    assert records
    for record in records:
        has_value = record.value is not None
        has_range = record.low is not None and record.high is not None
        assert has_value or has_range or record.note, record.id
        assert record.unit, record.id
        assert record.source, record.id
        if has_range:
            assert record.low <= record.high, record.id


def test_judgement_and_computed_records_name_what_they_are_built_from() -> None:
    known = {record.id for record in list_evidence()}
    for record in list_evidence():
        assert set(record.built_from) <= known, record.id
        if record.how is HowObtained.JUDGEMENT:
            assert record.built_from or record.note or record.source == "common practice", record.id


def test_source_shows_the_record_id() -> None:
    assert "gyp_wp_t4" in source_of("gyp_wp_t4").shown()
    assert find_evidence("gyp_wp_t4").confidence is Confidence.HIGH
