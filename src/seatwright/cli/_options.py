"""Arguments and options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["AsJson", "CasePath", "Now", "Strict"]

CasePath = Annotated[
    Path, typer.Argument(metavar="CASE", help="Case folder (case.toml, log.jsonl, bench.toml), or RECORD/CODE.")
]
Now = Annotated[
    str | None, typer.Option("--now", metavar="TIME", help="Look at the case at this ISO 8601 time, with its zone.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object on stdout and nothing else.")]
Strict = Annotated[bool, typer.Option("--strict", help="Exit with 10 when a verdict does not conform.")]
