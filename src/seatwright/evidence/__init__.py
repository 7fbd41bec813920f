"""Published values: tables and a typed loader. Every value has a source and says how it was obtained."""

from seatwright.evidence._record import (
    Confidence,
    EvidenceRecord,
    HowObtained,
    find_evidence,
    list_evidence,
    search_evidence,
    source_of,
)

__all__ = [
    "Confidence",
    "EvidenceRecord",
    "HowObtained",
    "find_evidence",
    "list_evidence",
    "search_evidence",
    "source_of",
]
