"""`seatwright evidence`: list published values, found by a word."""

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright.cli import _show
from seatwright.evidence import EvidenceRecord, search_evidence
from seatwright.workflows.envelope import make_envelope

__all__ = ["run_evidence"]


def run_evidence(word: str | None = None, *, as_json: bool = False) -> int:
    """Run `seatwright evidence [WORD]`; without a word, list every record."""
    records = search_evidence(word or "")
    if as_json:
        _show.print_json(make_envelope("evidence", inputs=(), result=records, findings=()))
        return 0
    console = Console(highlight=False)
    if not records:
        _show.say(f"No record mentions '{word}'.")
        return 0
    table = Table(title=f"{len(records)} records", title_justify="left", box=None, pad_edge=False)
    for column in ("id", "quantity", "value", "conditions", "source", "how"):
        table.add_column(column, overflow="fold")
    for record in records:
        table.add_row(*(escape(text) for text in _row(record)))
    console.print(table)
    return 0


def _row(record: EvidenceRecord) -> tuple[str, ...]:
    how = f"{record.how}, {record.confidence}"
    return record.id, record.quantity, record.shown(), record.conditions, record.source, how
