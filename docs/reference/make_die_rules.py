"""Write ``die-rules.md`` from the rows of the decision table."""

from seatwright.dies import RuleRow, Technique, rule_table

_COLUMNS = (
    (Technique.GEL, "gel"),
    (Technique.PATTERN_RESIN, "pattern resin"),
    (Technique.RETURNED_EPOXY, "returned epoxy"),
    (Technique.MASKED, "masked"),
    (Technique.STONE, "stone"),
    (Technique.ANALOG, "analog"),
    (Technique.NONE, "none"),
)
_STAGES = {
    "gate": "Is it possible at all",
    "margin": "The edge (the worst surface counts)",
    "kind": "The kind of unit",
    "condition": "Its condition",
}
_HEAD = """# Die rules

Generated from the program's own rows by `make docs`; do not edit. How rows are combined stands in
[explanation/dies.md](../explanation/dies.md). Where no other source is named, a row is common practice.

*chosen*: the preferred way; *allowed*: no objection; *warned*: possible with care; *vetoed*: never.
An empty cell says nothing.
"""


def pages() -> dict[str, str]:
    """Return the page's name and text."""
    rows = rule_table()
    parts = [_HEAD]
    for stage, title in _STAGES.items():
        of_stage = [row for row in rows if row.stage == stage]
        parts += [f"## {title}\n", _table(of_stage), *(_entry(row) for row in of_stage)]
    return {"die-rules.md": "\n".join(parts)}


def _table(rows: list[RuleRow]) -> str:
    shown = [(t, name) for t, name in _COLUMNS if any(row.effects[t] for row in rows)]
    lines = [
        "| rule | condition | " + " | ".join(name for _, name in shown) + " |",
        "| --- | --- |" + " --- |" * len(shown),
    ]
    lines += [f"| `{r.rule_id}` | {r.condition} | " + " | ".join(r.effects[t] for t, _ in shown) + " |" for r in rows]
    return "\n".join(lines) + "\n"


def _entry(row: RuleRow) -> str:
    lines = [f"- `{row.rule_id}`: {row.reason}."]
    if row.do:
        lines.append(f"  Do: {row.do}")
    if row.remark:
        lines.append(f"  Remark: {row.remark}.")
    lines.append(f"  Source: {row.source}.")
    return "\n".join(lines) + "\n"
