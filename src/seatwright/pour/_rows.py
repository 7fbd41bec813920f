"""The window table: how long each material keeps in each storage, and what each stretch costs.

Owns rows of data and reads their numbers from the evidence tables. Knows no clock and no case. No smooth curve stands
here, because none was published.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from seatwright.case import ImpressionMaterial, Storage
from seatwright.evidence import EvidenceRecord, find_evidence, source_of
from seatwright.findings import Source, SourceKind
from seatwright.pour._result import Band, CostBasis

__all__ = ["Counts", "Ladder", "Rung", "find_ladders", "list_ladders", "minutes_of"]

_MINUTES = {"min": 1.0, "h": 60.0, "d": 1440.0}  # definition: minutes in each unit of time


class Counts(StrEnum):
    """Which minutes a row counts."""

    AGE = "age"
    """All minutes since it left the mouth."""
    OPEN = "open"
    """Minutes in open air or kept dry, added up."""
    IMMERSED = "immersed"
    """Minutes in a fluid, added up."""
    DAMP = "damp"
    """Minutes in damp wrap, humid box or fluid, added up."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One stretch of a ladder: up to and including `until_min`, with one band and one cost.

    `bias_percent` and `u_percent` are None together, where no number is supported. Positive: the cast is larger.
    """

    band: Band
    until_min: float | None
    bias_percent: float | None
    u_percent: float | None
    basis: CostBasis
    source: Source
    how_good: str


@dataclass(frozen=True, slots=True)
class Ladder:
    """The stretches of one material in some storages, in order of minutes."""

    id: str
    materials: frozenset[ImpressionMaterial]
    storages: frozenset[Storage]
    counts: Counts
    rungs: tuple[Rung, ...]

    @property
    def within_min(self) -> float:
        """Return the end of the band `within`; 0 when there is none."""
        return max((r.until_min or 0.0 for r in self.rungs if r.band is Band.WITHIN), default=0.0)

    def rung_at(self, minutes: float) -> Rung:
        """Return the rung that holds after so many minutes; a limit belongs to the rung it ends."""
        for rung in self.rungs:
            if rung.until_min is None or minutes <= rung.until_min:
                return rung
        return self.rungs[-1]


def minutes_of(identifier: str, end: str = "value") -> float:
    """Return a duration record in minutes; `end` picks 'value', 'low' or 'high'."""
    record = find_evidence(identifier)
    low, high = record.require_range() if end != "value" else (0.0, 0.0)
    number = {"value": record.value, "low": low, "high": high}[end]
    return _MINUTES[record.unit] * (record.require_value() if number is None else number)


def _rung(band: Band, until: str | None, cost: str | None, basis: CostBasis, how_good: str) -> Rung:
    """Build a rung: `until` is 'id' or 'id:low' / 'id:high', `cost` the id of a percent record with sd."""
    identifier, _, end = (until or "").partition(":")
    minutes = minutes_of(identifier, end or "value") if identifier else None
    record: EvidenceRecord | None = find_evidence(cost) if cost else None
    named = cost or identifier
    source = source_of(named) if named else Source(SourceKind.JUDGEMENT, "no source supports it")
    return Rung(
        band,
        minutes,
        record.require_value() if record else None,
        record.sd if record else None,
        basis if record else CostBasis.NOTHING,
        source,
        how_good,
    )


_ALG = frozenset({ImpressionMaterial.ALGINATE})
_EXT = frozenset({ImpressionMaterial.EXTENDED_ALGINATE})
_VPS = frozenset({ImpressionMaterial.ADDITION_SILICONE})
_PE = frozenset({ImpressionMaterial.POLYETHER})
_PS = frozenset({ImpressionMaterial.POLYSULFIDE})
_CS = frozenset({ImpressionMaterial.CONDENSATION_SILICONE})
_BARE = frozenset({Storage.OPEN_AIR, Storage.DRY})
_FLUID = frozenset({Storage.IMMERSED})
_BAG = frozenset({Storage.SEALED_BAG})
_WRAP = frozenset({Storage.DAMP_WRAP})
_BOX = frozenset({Storage.HUMID_BOX})
_ANY = frozenset(Storage)
_NO_SOURCE = "No source supports waiting longer."
_LONE = "One study found casts accurate to 24 h at 100 % humidity. The others contradict it: not relied on."
_STRICT = "Strict: one study of casts at 100 % humidity. Another found 24 h, a third 2 h (bag) to 4 h (humidor)."
_DISPUTED = "Sources disagree. The bias is a guess inside a published range of free specimens."
_BAGGED = f"{_DISPUTED} After disinfectant spray one product bore 3 h in a bag, another not even 1 h."


@cache
def list_ladders() -> tuple[Ladder, ...]:
    """Return the whole table, hydrocolloids first."""
    return (*_hydrocolloids(), *_extended(), *_elastomers())


def _hydrocolloids() -> tuple[Ladder, ...]:
    within, stretched, beyond = Band.WITHIN, Band.STRETCHED, Band.BEYOND
    specimens, nothing = CostBasis.SPECIMENS, CostBasis.NOTHING
    fresh = _rung(within, "alg_farzin_23C", "cost_alg_fresh", CostBasis.CASTS, _STRICT)
    none_known = "No curve for open air was found: a cautious limit, and no cost can be stated."
    tissue = "Wet tissue: either sign, up to 2.9 % was published."
    fluid = "One study: no change to 10 min. Another: change at 5 min. Some fluids shrink it by more than 1 %."
    return (
        Ladder(
            "alginate-open-air",
            _ALG | _EXT,
            _BARE,
            Counts.OPEN,
            (
                _rung(within, "clock_alg_open", None, nothing, none_known),
                _rung(beyond, None, None, nothing, none_known),
            ),
        ),
        Ladder(
            "alginate-immersed",
            _ALG | _EXT,
            _FLUID,
            Counts.IMMERSED,
            (_rung(within, "clock_alg_immersed", None, nothing, fluid), _rung(beyond, None, None, nothing, fluid)),
        ),
        Ladder(
            "alginate-bag",
            _ALG,
            _BAG,
            Counts.AGE,
            (
                fresh,
                _rung(stretched, "alg_window_bag", "cost_alg_humid", specimens, _BAGGED),
                _rung(beyond, None, None, nothing, _NO_SOURCE),
            ),
        ),
        Ladder(
            "alginate-damp-wrap",
            _ALG,
            _WRAP,
            Counts.AGE,
            (
                fresh,
                _rung(stretched, "alg_window_bag", "cost_alg_humid", specimens, _DISPUTED),
                _rung(beyond, "clock_tissue_measured", "cost_alg_wet_tissue", specimens, tissue),
                _rung(beyond, None, None, nothing, _LONE),
            ),
        ),
        Ladder(
            "alginate-humid-box",
            _ALG,
            _BOX,
            Counts.AGE,
            (
                fresh,
                _rung(stretched, "alg_window_humidor", "cost_alg_humid", specimens, _DISPUTED),
                _rung(beyond, None, None, nothing, _LONE),
            ),
        ),
    )


def _extended() -> tuple[Ladder, ...]:
    within, stretched, beyond = Band.WITHIN, Band.STRETCHED, Band.BEYOND
    scanned, specimens = CostBasis.IMPRESSIONS, CostBasis.SPECIMENS
    day = "Studies of scanned impressions; one study calls only 2 h safe, others 24 h to 120 h."
    days = "Sizes and signs differ between studies; the maker's limit is needed to use it at all."
    tissue = "Wet tissue is the least predictable storage: either sign, up to 2.9 % was published."
    first = _rung(within, "clock_ext_within", "cost_ext_day", scanned, day)
    return (
        Ladder(
            "extended-alginate-closed",
            _EXT,
            _BAG | _BOX,
            Counts.AGE,
            (
                first,
                _rung(stretched, "clock_ext_stretched", "cost_ext_day", scanned, day),
                _rung(beyond, "clock_ext_measured", "cost_ext_days", scanned, days),
                _rung(beyond, None, None, CostBasis.NOTHING, _NO_SOURCE),
            ),
        ),
        Ladder(
            "extended-alginate-damp-wrap",
            _EXT,
            _WRAP,
            Counts.AGE,
            (
                first,
                _rung(stretched, "clock_ext_stretched", "cost_alg_wet_tissue", specimens, tissue),
                _rung(beyond, "clock_tissue_measured", "cost_alg_wet_tissue", specimens, tissue),
                _rung(beyond, None, None, CostBasis.NOTHING, _NO_SOURCE),
            ),
        ),
    )


def _elastomers() -> tuple[Ladder, ...]:
    within, stretched, beyond = Band.WITHIN, Band.STRETCHED, Band.BEYOND
    specimens, nothing = CostBasis.SPECIMENS, CostBasis.NOTHING
    vps = "Textbook shrinkage of free specimens, from memory; dies did not get worse from 2 h to 7 days, kept dry."
    pe = "Textbook shrinkage of free specimens, from memory; die error 65 µm at 2 h, 82 µm at 24 h. Dry only."
    grown = "The die error grew from 82 µm at 24 h to 295 µm at 7 days; in between nothing was measured."
    damp = "Takes up water; no number for damp storage was found."
    ps, cs = "Textbooks say 30 to 60 min, from memory.", "Shrinks from the start; significant by 30 min in one study."
    return (
        Ladder(
            "addition-silicone",
            _VPS,
            _ANY,
            Counts.AGE,
            (
                _rung(within, "clock_vps_within", "cost_vps", specimens, vps),
                _rung(stretched, "clock_vps_measured", "cost_vps", specimens, vps),
                _rung(stretched, "clock_vps_stretched", None, nothing, "Customary, from memory; not measured."),
                _rung(beyond, None, None, nothing, _NO_SOURCE),
            ),
        ),
        Ladder(
            "polyether",
            _PE,
            _ANY,
            Counts.AGE,
            (
                _rung(within, "clock_pe_within", "cost_pe", specimens, pe),
                _rung(stretched, "clock_pe_stretched", None, nothing, grown),
                _rung(beyond, None, None, nothing, _NO_SOURCE),
            ),
        ),
        Ladder(
            "polyether-damp",
            _PE,
            _WRAP | _BOX | _FLUID,
            Counts.DAMP,
            (_rung(within, "clock_pe_damp", None, nothing, damp), _rung(beyond, None, None, nothing, damp)),
        ),
        Ladder(
            "polysulfide",
            _PS,
            _ANY,
            Counts.AGE,
            (
                _rung(within, "ela_pour_ps_max:low", None, nothing, ps),
                _rung(stretched, "ela_pour_ps_max:high", None, nothing, ps),
                _rung(beyond, None, None, nothing, _NO_SOURCE),
            ),
        ),
        Ladder(
            "condensation-silicone",
            _CS,
            _ANY,
            Counts.AGE,
            (_rung(within, "clock_cs_within", None, nothing, cs), _rung(beyond, None, None, nothing, _NO_SOURCE)),
        ),
    )


def find_ladders(material: ImpressionMaterial, counts: Counts) -> tuple[Ladder, ...]:
    """Return a material's ladders that count these minutes; empty when it has none."""
    return tuple(ladder for ladder in list_ladders() if material in ladder.materials and ladder.counts is counts)
