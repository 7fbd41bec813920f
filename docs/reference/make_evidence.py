"""Writes ``evidence.md``: every published value that the tool knows, topic by topic."""

from seatwright.evidence import EvidenceRecord, list_evidence

__all__ = ["pages", "render"]

_HEAD = """# Evidence

Every value that a step may use, with where it comes from. Written by `docs/reference/make_evidence.py`; do not edit.

How it was obtained: *retrieved* was read in the published text or its abstract; *memory* is known from the source named
and was not read again; *computed* is arithmetic on the records named; *judgement* is an engineering choice built from
the records named, with the range it could lie in. Confidence says how sure it is that the source says so, or how well
the choice is founded. No record of low confidence drives a default silently: a forecast names each link that rests on
one.
"""


def pages() -> dict[str, str]:
    """Return the generated page by file name."""
    return {"evidence.md": render()}


def render() -> str:
    """Return the page's text."""
    records = list_evidence()
    topics = sorted({record.topic for record in records})
    parts = [_HEAD, f"{len(records)} records in {len(topics)} topics.\n"]
    for topic in topics:
        parts.append(f"## {topic.replace('_', ' ').capitalize()}\n")
        parts.append(
            "| id | quantity | value | conditions | source | how, confidence |\n| --- | --- | --- | --- | --- | --- |"
        )
        parts += [_row(record) for record in list_evidence(topic)]
        parts.append("")
    return "\n".join(parts)


def _row(record: EvidenceRecord) -> str:
    note = f" Note: {record.note}." if record.note else ""
    built = f" From: {', '.join(f'`{b}`' for b in record.built_from)}." if record.built_from else ""
    cells = (
        f"`{record.id}`",
        record.quantity,
        record.shown(),
        record.conditions + note,
        record.source + built,
        f"{record.how}, {record.confidence}",
    )
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


if __name__ == "__main__":
    print(render(), end="")
