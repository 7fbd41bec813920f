"""Write ``pour-windows.md`` from the rows of the window table, the temperature limits and the timings."""

from seatwright.case import Storage
from seatwright.evidence import EvidenceRecord, find_evidence
from seatwright.pour import Band, Counts, Ladder, Rung, list_ladders, list_timings

_COUNTS = {
    Counts.AGE: "minutes since the mouth",
    Counts.OPEN: "minutes in open air or kept dry, added up",
    Counts.IMMERSED: "minutes in a fluid, added up",
    Counts.DAMP: "minutes in damp wrap, humid box or fluid, added up",
}
_BANDS = {Band.WITHIN: "within", Band.STRETCHED: "**stretched**", Band.BEYOND: "**beyond**"}
_TEMPERATURES = (
    "clock_alg_reject_cold",
    "clock_alg_warn_hot",
    "clock_alg_reject_hot",
    "clock_vps_cold",
    "clock_vps_warn_hot",
    "ela_vps_todd",
    "clock_ela_cold",
    "clock_ela_hot",
)
_CHOICES = (
    "clock_alg_open",
    "clock_alg_immersed",
    "clock_ext_within",
    "clock_ext_stretched",
    "clock_ext_measured",
    "clock_tissue_measured",
    "clock_vps_within",
    "clock_vps_measured",
    "clock_vps_stretched",
    "clock_pe_from",
    "clock_pe_within",
    "clock_pe_stretched",
    "clock_pe_damp",
    "clock_cs_within",
    "cost_alg_fresh",
    "cost_alg_humid",
    "cost_alg_wet_tissue",
    "cost_ext_day",
    "cost_ext_days",
    "cost_vps",
    "cost_pe",
    "cost_elastomer_cast",
)
_MEASURED_FIRST = ("alg_farzin_23C", "alg_window_bag", "alg_window_humidor", "ela_pour_ps_max")
_HEAD = """# Pour windows

Generated from the program's own rows by `make docs`; do not edit. How the rows are used stands in
[explanation/pour.md](../explanation/pour.md).

*within*: evidence or the maker supports it. *stretched*: sources disagree; usable with the cost shown.
*beyond*: no source supports it; take a new impression, or verify.
Cost: change of a distance in percent of its length, bias ± expanded uncertainty (95 %); positive: the cast is larger.
A limit belongs to the stretch that it ends.
The maker's figures replace a window counted in minutes since the mouth, and no other.
"""


def pages() -> dict[str, str]:
    """Return the page's name and text."""
    parts = [_HEAD, "## Windows\n"]
    parts += [_ladder(ladder) for ladder in list_ladders()]
    parts += ["## Temperatures\n", _records(_TEMPERATURES)]
    parts += ["## Where limits and costs come from\n", "Published or textbook limits, used as they are:\n"]
    parts += [_records(_MEASURED_FIRST), "Choices of this program, and what each was built from:\n", _records(_CHOICES)]
    parts += [
        "## Durations\n",
        "Common practice or judgement, minutes; none was measured for this program.\n",
        _timings(),
    ]
    return {"pour-windows.md": "\n".join(parts)}


def _ladder(ladder: Ladder) -> str:
    materials = ", ".join(sorted(m.value.replace("_", " ") for m in ladder.materials))
    kept = (
        "any"
        if ladder.storages == frozenset(Storage)
        else ", ".join(sorted(s.value.replace("_", " ") for s in ladder.storages))
    )
    lines = [
        f"### {ladder.id}\n",
        f"For {materials}; kept: {kept}. Counted: {_COUNTS[ladder.counts]}.\n",
        "| until | band | cost, % | source | how good |",
        "| --- | --- | --- | --- | --- |",
        *(_rung(rung) for rung in ladder.rungs),
    ]
    return "\n".join(lines) + "\n"


def _rung(rung: Rung) -> str:
    cost = "no number" if rung.bias_percent is None else f"{rung.bias_percent:g} ± {2 * (rung.u_percent or 0.0):g}"
    end = "without end" if rung.until_min is None else _time(rung.until_min)
    return f"| {end} | {_BANDS[rung.band]} | {cost} | {rung.source.shown()} | {rung.how_good} |"


def _time(minutes: float) -> str:
    for unit, length in (("d", 1440.0), ("h", 60.0)):
        if minutes >= 2 * length and minutes % length == 0:
            return f"{minutes / length:g} {unit}"
    return f"{minutes:g} min"


def _records(identifiers: tuple[str, ...]) -> str:
    lines = ["| id | what | number | conditions | from |", "| --- | --- | --- | --- | --- |"]
    return "\n".join([*lines, *(_record(find_evidence(i)) for i in identifiers)]) + "\n"


def _record(record: EvidenceRecord) -> str:
    number = f"{record.low:g} to {record.high:g}" if record.value is None else f"{record.value:g}"
    number += f" ± {record.sd:g} (u)" if record.sd is not None else ""
    built = f"; built from {', '.join(f'`{name}`' for name in record.built_from)}" if record.built_from else ""
    note = f" ({record.note})" if record.note else ""
    origin = f"{record.how}, {record.confidence}: {record.source}{built}{note}"
    return f"| `{record.id}` | {record.quantity} | {number} {record.unit} | {record.conditions} | {origin} |"


def _timings() -> str:
    lines = ["| step | what | shortest | typical | longest |", "| --- | --- | --- | --- | --- |"]
    for timing in list_timings():
        d = timing.duration
        lines.append(f"| `{timing.step}` | {timing.what} | {d.low_min:g} | {d.typical_min:g} | {d.high_min:g} |")
    return "\n".join(lines) + "\n"
