"""Write ``pour-windows.md`` from the rows of the pour clock, its timings and its mix figures."""

from seatwright.pour import Ladder, Rung, list_ladders, list_timings

_HEAD = """# Pour windows

Generated from the program's own rows by `make docs`; do not edit. How they are combined stands in
[explanation/pour.md](../explanation/pour.md); the ids in brackets stand in [evidence.md](evidence.md).
The maker's figures prevail over every row.

*within*: evidence or the maker supports it; *stretched*: sources disagree, usable at the cost stated;
*beyond*: no source that is relied on supports it. A limit belongs to the row it ends.
Change in percent: negative when the cast comes out smaller; u is one standard uncertainty.
An empty cell means that no number is supported, not that nothing happens.
"""
_COUNTS = {
    "age": "all minutes since the mouth",
    "open": "minutes uncovered or kept dry, added up",
    "immersed": "minutes in a fluid, added up",
    "damp": "minutes damp or in a fluid, added up",
}


def pages() -> dict[str, str]:
    """Return the page's name and text."""
    parts = [_HEAD, "## Rows\n", *(_ladder(ladder) for ladder in list_ladders()), _timings()]
    return {"pour-windows.md": "\n".join(parts)}


def _words(names: frozenset[str]) -> str:
    return ", ".join(sorted(name.replace("_", " ") for name in names))


def _ladder(ladder: Ladder) -> str:
    lines = [
        f"### `{ladder.id}`\n",
        f"{_words(ladder.materials)}; kept: {_words(ladder.storages)}; counts {_COUNTS[ladder.counts]}.\n",
        "| from | to | band | change | u | rests on | source |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    since = 0.0
    for rung in ladder.rungs:
        lines.append(_rung(rung, since))
        since = rung.until_min or since
    remarks = dict.fromkeys(rung.how_good for rung in ladder.rungs)
    return "\n".join([*lines, "", *(f"- {remark}" for remark in remarks), ""])


def _rung(rung: Rung, since: float) -> str:
    change = "" if rung.bias_percent is None else f"{rung.bias_percent:+g} %" if rung.bias_percent else "0 %"
    u = "" if rung.u_percent is None else f"{rung.u_percent:g} %"
    until = "no end" if rung.until_min is None else _time(rung.until_min)
    cells = (_time(since), until, rung.band.value, change, u, rung.basis.value, rung.source.shown())
    return "| " + " | ".join(cells) + " |"


def _time(minutes: float) -> str:
    if minutes and minutes % 1440 == 0 and minutes > 1440:
        return f"{minutes / 1440:g} d"
    return f"{minutes / 60:g} h" if minutes >= 120 and minutes % 60 == 0 else f"{minutes:g} min"


def _timings() -> str:
    lines = [
        "## Minutes of the pour's own steps\n",
        "Common practice, no publication. The maker's contact time replaces that of disinfection.\n",
        "| step | what | shortest | typical | longest |",
        "| --- | --- | --- | --- | --- |",
    ]
    for timing in list_timings():
        d = timing.duration
        lines.append(f"| `{timing.step}` | {timing.what} | {d.low_min:g} | {d.typical_min:g} | {d.high_min:g} |")
    return "\n".join([*lines, ""])
