"""Published values as records: what, how much, under which conditions, from where, how obtained."""

import tomllib
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources

from seatwright.errors import ValueOutOfRange
from seatwright.findings import Source, SourceKind

__all__ = [
    "Confidence",
    "EvidenceRecord",
    "HowObtained",
    "find_evidence",
    "list_evidence",
    "search_evidence",
    "source_of",
]


class HowObtained(StrEnum):
    """How the number came here."""

    RETRIEVED = "retrieved"
    """Read in the published text or its abstract."""
    MEMORY = "memory"
    """Known to the author from the source named; not read again."""
    JUDGEMENT = "judgement"
    """An engineering choice built from the records named in `built_from`."""
    COMPUTED = "computed"
    """Arithmetic on the records named in `built_from`."""
    OWN = "own"
    """Stated by the case, a maker or the practice itself; no table holds such a record."""


class Confidence(StrEnum):
    """How sure it is that the source says this."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class EvidenceRecord:
    """One value or range with its provenance.

    Either `value` (with `sd` where known) or both of `low` and `high` are given; `sd` is a standard deviation.
    """

    id: str
    topic: str
    quantity: str
    unit: str
    conditions: str
    source: str
    how: HowObtained
    confidence: Confidence
    value: float | None = None
    sd: float | None = None
    low: float | None = None
    high: float | None = None
    built_from: tuple[str, ...] = ()
    note: str = ""
    n: int | None = None
    """Readings behind the spread, where they count for its degrees of freedom."""

    def shown(self) -> str:
        """Return value, spread and range with the unit, as a person reads them; the words where there is no number."""
        parts = []
        if self.value is not None:
            parts.append(f"{self.value:g}" + (f" (sd {self.sd:g})" if self.sd is not None else ""))
        if self.low is not None and self.high is not None:
            parts.append(f"{self.low:g} to {self.high:g}")
        if not parts:
            return "in words"
        return ", ".join(parts) + (f" {self.unit}" if self.unit != "1" else "")

    def require_value(self) -> float:
        """Return `value`; a record without one is a mistake in the tables."""
        if self.value is None:
            raise ValueOutOfRange(f"evidence {self.id} gives a range, not a value")
        return self.value

    def require_range(self) -> tuple[float, float]:
        """Return (low, high); a record without them is a mistake in the tables."""
        if self.low is None or self.high is None:
            raise ValueOutOfRange(f"evidence {self.id} gives no range")
        return self.low, self.high


_KINDS = {
    HowObtained.RETRIEVED: SourceKind.PAPER,
    HowObtained.MEMORY: SourceKind.MEMORY,
    HowObtained.JUDGEMENT: SourceKind.JUDGEMENT,
    HowObtained.COMPUTED: SourceKind.PAPER,
    HowObtained.OWN: SourceKind.CASE,
}


@cache
def _table() -> dict[str, EvidenceRecord]:
    records: dict[str, EvidenceRecord] = {}
    folder = resources.files("seatwright.evidence") / "tables"
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if not entry.name.endswith(".toml"):
            continue
        topic = entry.name.removesuffix(".toml")
        for identifier, fields in tomllib.loads(entry.read_text(encoding="utf-8")).items():
            if identifier in records:
                raise ValueOutOfRange(f"evidence {identifier} stands twice in the tables")
            records[identifier] = _parse(identifier, topic, fields)
    return records


def _parse(identifier: str, topic: str, fields: dict[str, object]) -> EvidenceRecord:
    known = dict(fields)
    how = HowObtained(str(known.pop("how")))
    confidence = Confidence(str(known.pop("confidence")))
    built_from = tuple(str(name) for name in known.pop("built_from", ()))  # type: ignore[attr-defined]
    return EvidenceRecord(
        id=identifier,
        topic=topic,
        how=how,
        confidence=confidence,
        built_from=built_from,
        **known,  # type: ignore[arg-type]
    )


def find_evidence(identifier: str) -> EvidenceRecord:
    """Return one record by id.

    Raises
    ------
    KeyError
        If no table holds the id: a mistake of ours, not of the user.

    Examples
    --------
    >>> find_evidence("gyp_stoich").value
    18.6
    """
    return _table()[identifier]


def list_evidence(topic: str | None = None) -> tuple[EvidenceRecord, ...]:
    """Return all records, or those of one topic, ordered by id."""
    return tuple(r for _, r in sorted(_table().items()) if topic is None or r.topic == topic)


def search_evidence(word: str) -> tuple[EvidenceRecord, ...]:
    """Return the records whose id, topic, quantity, conditions, source or note contain a word, ordered by topic and id.

    Examples
    --------
    >>> [r.id for r in search_evidence("stoichiometry")]
    ['gyp_stoich']
    """
    wanted = word.casefold()
    found = [
        r
        for r in _table().values()
        if wanted in " ".join((r.id, r.topic, r.quantity, r.conditions, r.source, r.note)).casefold()
    ]
    return tuple(sorted(found, key=lambda r: (r.topic, r.id)))


def source_of(identifier: str) -> Source:
    """Return the record's provenance as a finding's source, its id included."""
    record = find_evidence(identifier)
    kind = _KINDS[record.how]
    return Source(kind, f"{record.source} [{record.id}]")
