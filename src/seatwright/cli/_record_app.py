"""The commands of ``seatwright record``. Imports nothing heavy: every command loads what it needs when it runs."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["record_app"]

record_app = typer.Typer(
    help="The practice record: cases, what happened to them, their scans. Elsewhere a case in it is RECORD/CODE.",
    rich_markup_mode=None,
    no_args_is_help=True,
)

RecordPath = Annotated[
    Path, typer.Option("--record", metavar="DIR", envvar="SEATWRIGHT_RECORD", help="Folder of the record.")
]
By = Annotated[
    str, typer.Option("--by", metavar="WHO", envvar="SEATWRIGHT_BY", help="Who does it, by role or bench code.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object on stdout and nothing else.")]
At = Annotated[str | None, typer.Option("--at", metavar="TIME", help="When it happened, ISO 8601 (default: now).")]
Limit = Annotated[int, typer.Option("--limit", help="Rows of a page.")]
After = Annotated[str, typer.Option("--after", metavar="TOKEN", help="Next page: the token that ended the last one.")]
_HERE = Path("practice")


@record_app.command("init")
def init(
    by: By,
    record: RecordPath = _HERE,
    database: Annotated[
        str | None,
        typer.Option("--database", metavar="URL", help="PostgreSQL database to use instead of a file in the folder."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Make an empty record in a new folder."""
    from seatwright.cli import _record

    return _record.run_init(record, by=by, database=database, as_json=as_json)


@record_app.command("import")
def import_(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case folder.")],
    by: By,
    record: RecordPath = _HERE,
    reason: Annotated[str, typer.Option("--reason", help="Why the documents changed.")] = "",
    as_json: AsJson = False,
) -> int:
    """Bring a case folder into the record, byte for byte, or what is new in it since."""
    from seatwright.cli import _record

    return _record.run_import(record, case, by=by, reason=reason, as_json=as_json)


@record_app.command("export")
def export(
    code: Annotated[str, typer.Argument(metavar="CODE", help="Case code.")],
    out: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to write.")],
    record: RecordPath = _HERE,
    as_json: AsJson = False,
) -> int:
    """Write a case of the record as a folder: byte for byte where nothing was edited."""
    from seatwright.cli import _record

    return _record.run_export(record, code, out, as_json=as_json)


@record_app.command("log")
def log(
    code: Annotated[str, typer.Argument(metavar="CODE", help="Case code.")],
    what: Annotated[
        list[str],
        typer.Argument(
            metavar="EVENT...", help='One JSON object each, such as {"what": "rinsed", "impression": "p1"}.'
        ),
    ],
    by: By,
    record: RecordPath = _HERE,
    at: At = None,
    as_json: AsJson = False,
) -> int:
    """Write down what happened; number, time and person are filled in."""
    from seatwright.cli import _record

    return _record.run_log(record, code, what, by=by, at=at, as_json=as_json)


@record_app.command("photo")
def photo(
    code: Annotated[str, typer.Argument(metavar="CODE", help="Case code.")],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="JPEG, PNG, WebP or TIFF.")],
    by: By,
    record: RecordPath = _HERE,
    about: Annotated[str, typer.Option("--about", help="What it shows, in a few words.")] = "",
    units: Annotated[str, typer.Option("--units", metavar="43,44", help="Units that it shows.")] = "",
    at: At = None,
    as_json: AsJson = False,
) -> int:
    """Keep a photo with its case, byte for byte."""
    from seatwright.cli import _record

    return _record.run_photo(record, code, file, about=about, units=units, by=by, at=at, as_json=as_json)


@record_app.command("list")
def list_(
    text: Annotated[str, typer.Argument(metavar="[TEXT]", help="Only cases whose code holds it.")] = "",
    record: RecordPath = _HERE,
    stage: Annotated[str, typer.Option("--stage", help="Only planned, at_bench or finished.")] = "",
    limit: Limit = 50,
    after: After = "",
    as_json: AsJson = False,
) -> int:
    """List the cases; --stage at_bench for those at the bench."""
    from seatwright.cli import _record_lists

    return _record_lists.run_list(record, text=text, stage=stage, limit=limit, after=after, as_json=as_json)


@record_app.command("impressions")
def impressions(record: RecordPath = _HERE, limit: Limit = 50, after: After = "", as_json: AsJson = False) -> int:
    """List the open impressions of all cases, the oldest first: out of the mouth, and not separated."""
    from seatwright.cli import _record_lists

    return _record_lists.run_impressions(record, limit=limit, after=after, as_json=as_json)


@record_app.command("lots")
def lots(
    lot: Annotated[str, typer.Argument(metavar="[LOT]", help="Only this batch or lot.")] = "",
    record: RecordPath = _HERE,
    used_for: Annotated[str, typer.Option("--for", metavar="USE", help="Only this use, such as die or pour.")] = "",
    limit: Limit = 50,
    after: After = "",
    as_json: AsJson = False,
) -> int:
    """List which lot went into which case and units; --for die for the dies."""
    from seatwright.cli import _record_lists

    return _record_lists.run_lots(record, lot=lot, used_for=used_for, limit=limit, after=after, as_json=as_json)


@record_app.command("timeline")
def timeline(
    code: Annotated[str, typer.Argument(metavar="CODE", help="Case code.")],
    record: RecordPath = _HERE,
    limit: Limit = 50,
    after: After = "",
    as_json: AsJson = False,
) -> int:
    """Tell everything about one case, by the time when it happened."""
    from seatwright.cli import _record_lists

    return _record_lists.run_timeline(record, code, limit=limit, after=after, as_json=as_json)


@record_app.command("verify")
def verify(
    record: RecordPath = _HERE,
    backups: Annotated[
        Path | None, typer.Option("--backups", metavar="DIR", help="Prove these backups instead of the record.")
    ] = None,
    head: Annotated[
        str | None, typer.Option("--head", metavar="NUMBER:HASH", help="A head noted earlier, which must still stand.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Prove the chain of entries and every document, scan and photo."""
    from seatwright.cli import _record_keep

    return _record_keep.run_verify(record, backups=backups, head=head, as_json=as_json)


@record_app.command("backup")
def backup(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the backups go: another disk.")],
    record: RecordPath = _HERE,
    keep: Annotated[
        str | None,
        typer.Option("--keep", metavar="daily=7,...", help="How many daily, weekly, monthly, yearly ones stay."),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Make a backup; others may write meanwhile. Only scans that no earlier backup has are copied."""
    from seatwright.cli import _record_keep

    return _record_keep.run_backup(record, folder, keep=keep, as_json=as_json)


@record_app.command("backups")
def backups(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the backups are.")], as_json: AsJson = False
) -> int:
    """List the backups of a folder."""
    from seatwright.cli import _record_keep

    return _record_keep.run_backups(folder, as_json=as_json)


@record_app.command("restore")
def restore(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the backups are.")],
    record: RecordPath = _HERE,
    name: Annotated[str, typer.Option("--backup", metavar="NAME", help="Which one (default: the newest).")] = "",
    database: Annotated[
        str | None, typer.Option("--database", metavar="URL", help="PostgreSQL database for a new folder.")
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Restore a backup into a new folder, or bring an older record up to it; never over a newer one."""
    from seatwright.cli import _record_keep

    return _record_keep.run_restore(folder, record, name=name, database=database, as_json=as_json)


@record_app.command("renew")
def renew(
    record: RecordPath = _HERE,
    check: Annotated[bool, typer.Option("--check", help="Only tell which cases are shown wrongly.")] = False,
    as_json: AsJson = False,
) -> int:
    """Read every case anew and put the lists of stages, impressions and lots right."""
    from seatwright.cli import _record_keep

    return _record_keep.run_renew(record, check=check, as_json=as_json)


@record_app.command("tidy")
def tidy(record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Remove scans that belong to nothing, left by imports that were interrupted over a day ago."""
    from seatwright.cli import _record_keep

    return _record_keep.run_tidy(record, as_json=as_json)


@record_app.command("upgrade")
def upgrade(record: RecordPath = _HERE, as_json: AsJson = False) -> int:
    """Bring a record written by an older version to this one's schema; make a backup first."""
    from seatwright.cli import _record_keep

    return _record_keep.run_upgrade(record, as_json=as_json)
