"""``seatwright record list | impressions | lots | timeline``: one page of an answer, as a table or as JSON."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.case import CaseStage
from seatwright.cli import _show
from seatwright.errors import InputError
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.record_lists import Page, PageWish

__all__ = ["run_impressions", "run_list", "run_lots", "run_timeline"]

_Row = TypeVar("_Row")


def run_list(folder: Path, *, text: str, stage: str, limit: int, after: str, as_json: bool) -> int:
    """Run `seatwright record list`."""
    if stage and stage not in set(CaseStage):
        raise InputError(f"there is no stage {stage}", hint=f"one of: {', '.join(CaseStage)}")
    page = wiring.open_record(folder).list_cases(PageWish(limit, after), text=text, stage=stage)
    rows = [
        (row.code, _plain(row.stage), row.title, row.arch, f"{row.version}", f"{row.n_events}", _shown(row.changed_at))
        for row in page.rows
    ]
    columns = ("case", "stage", "title", "arch", "version", "events", "changed (UTC)")
    return _print("list", page, columns, rows, as_json=as_json)


def run_impressions(folder: Path, *, limit: int, after: str, as_json: bool) -> int:
    """Run `seatwright record impressions`."""
    page = wiring.open_record(folder).list_open_impressions(PageWish(limit, after))
    rows = [
        (
            row.case,
            row.impression,
            _plain(row.place),
            _plain(row.material),
            _plain(row.storage),
            _shown(row.out_at),
            _shown(row.poured_at) if row.poured_at else "-",
        )
        for row in page.rows
    ]
    columns = ("case", "impression", "where", "material", "kept", "out (UTC)", "poured (UTC)")
    return _print("impressions", page, columns, rows, as_json=as_json)


def run_lots(folder: Path, *, lot: str, used_for: str, limit: int, after: str, as_json: bool) -> int:
    """Run `seatwright record lots`."""
    page = wiring.open_record(folder).list_lots(PageWish(limit, after), lot=lot, used_for=used_for)
    rows = [
        (
            row.lot,
            row.material,
            _plain(row.used_for),
            row.case,
            row.impression or "-",
            ", ".join(map(str, row.units)) or "all",
            _shown(row.at),
            row.by,
        )
        for row in page.rows
    ]
    columns = ("lot", "material", "for", "case", "impression", "units", "at (UTC)", "by")
    return _print("lots", page, columns, rows, as_json=as_json)


def run_timeline(folder: Path, code: str, *, limit: int, after: str, as_json: bool) -> int:
    """Run `seatwright record timeline`."""
    page = wiring.open_record(folder).timeline(code, PageWish(limit, after))
    rows = [
        (
            _shown(row.at),
            "" if row.event is None else f"{row.event}",
            row.by,
            f"(corrected below) {row.text}" if row.corrected else row.text,
        )
        for row in page.rows
    ]
    return _print("timeline", page, ("at (UTC)", "event", "by", "what"), rows, as_json=as_json)


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _shown(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _print(kind: str, page: Page[_Row], columns: Sequence[str], rows: Sequence[Sequence[str]], *, as_json: bool) -> int:
    if as_json:
        _show.print_json(make_envelope(f"record-{kind}", inputs=(), result=page, findings=()))
        return 0
    if not rows:
        _show.say("None.")
        return 0
    table = Table(box=None, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    for first, *rest in rows:
        table.add_row(f"[bold]{escape(first)}[/bold]", *(escape(text) for text in rest))
    Console(highlight=False).print(table)
    if page.next:
        _show.say(f"There are more: --after {page.next}")
    return 0
