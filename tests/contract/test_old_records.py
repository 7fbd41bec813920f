"""Records that earlier versions wrote: refused as they are, upgraded whole, and nothing of them lost."""

import gzip
import hashlib
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from seatwright import record_wiring, wiring
from seatwright.errors import RecordError
from seatwright.progress import SILENT
from seatwright.record import _migrate, open_record, restore, verify_backups, verify_record
from seatwright.record._database import Database
from seatwright.record._migrate import newest_schema, upgrade_schema
from seatwright.record._snapshots import BackupFolder, Snapshot
from seatwright.record._tables import metadata
from seatwright.workflows.practice import read_files
from seatwright.workflows.record_lists import PageWish

STORED = Path(__file__).resolve().parents[1] / "golden" / "records"
HEADS = {
    "0001": (27, "a904e44252f01b749a90f14fc77e3bace71e15fd3d3e33b370860f5c797d5da8"),
    "0002": (27, "dcd178324c9eead9248897ea353204d9535ca1358ecd84e2cb24bd6d158faa99"),
    "0003": (31, "e7bbfd83c91bd2a1d0b08c4a7f0e9a0ff9ba7577885f273f7a8b26e0a1a73295"),
}
"""Each record's head, as it was printed when the record was made."""
SCHEMAS = pytest.mark.parametrize("schema", HEADS)


def _put(schema: str, folder: Path) -> Path:
    shutil.copytree(STORED / f"schema_{schema}", folder)
    packed = folder / "record.sqlite.gz"
    (folder / "record.sqlite").write_bytes(gzip.decompress(packed.read_bytes()))
    packed.unlink()
    return folder


def _dump(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / "record.sqlite")) as database:
        return list(database.iterdump())


def test_schemas_are_those_of_the_scripts_in_their_order() -> None:
    scripts = ScriptDirectory(str(Path(_migrate.__file__).parent / "migrations"))
    assert tuple(script.revision for script in scripts.walk_revisions()) == _migrate.SCHEMAS[::-1]


def test_every_schema_has_its_stored_record() -> None:
    assert max(HEADS) == newest_schema()
    assert {path.name for path in STORED.glob("schema_*")} == {f"schema_{schema}" for schema in HEADS}
    assert {path.stem for path in STORED.glob("make_*.py")} == {f"make_schema_{schema}" for schema in HEADS}


def test_older_record_is_refused_with_its_remedy_and_left_as_it_was(tmp_path: Path) -> None:
    folder = _put("0001", tmp_path / "practice")
    before = _dump(folder)
    with pytest.raises(RecordError, match="older schema 0001") as caught:
        open_record(folder)
    assert "record upgrade" in caught.value.hint
    with pytest.raises(RecordError, match="older schema"):
        record_wiring.verify_record(folder, known_head=None, progress=SILENT)
    assert _dump(folder) == before


@SCHEMAS
def test_upgraded_record_has_everything(schema: str, tmp_path: Path) -> None:
    folder = _put(schema, tmp_path / "practice")
    assert record_wiring.upgrade_record(folder) == tuple(sorted(other for other in HEADS if other > schema))
    assert record_wiring.upgrade_record(folder) == ()
    record = open_record(folder)
    verified = verify_record(record.database, record.store, known_head=HEADS[schema])
    assert verified.is_sound
    assert (verified.head_seq, verified.head_hash) == HEADS[schema]
    with record.database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    files = read_files(record, "GOLD-1")
    assert files["case.toml"].startswith(b"# written by hand\r\n")
    assert files["log.jsonl"].count(b"\n") == 12
    assert [name for name in files if name.startswith("photos/")]
    assert [row.lot for row in record.list_lots(PageWish(), used_for="die").rows] == ["G-9"]
    assert [row.code for row in record.list_cases(PageWish()).rows] == ["GOLD-1", "GOLD-2"]
    assert wiring.open_case(folder / "GOLD-2").load(now=None, clock=wiring.SystemClock()).case.code == "GOLD-2"
    record.close()


@SCHEMAS
def test_backup_of_an_older_schema_is_restored_into_either_database(
    schema: str, tmp_path: Path, new_address: Callable[[], str | None]
) -> None:
    old = _put(schema, tmp_path / "old")
    record_id = (old / "record.toml").read_text().split('"')[1]
    backups = BackupFolder(tmp_path / "backups")
    backups.folder.mkdir()
    backups.prepare(record_id)
    shutil.copytree(old / "files", backups.folder / "files", dirs_exist_ok=True)
    name = "20260401T200000Z"
    (backups.folder / ".made").mkdir()
    shutil.copy(old / "record.sqlite", backups.folder / ".made" / "record.sqlite")
    digest = hashlib.sha256((old / "record.sqlite").read_bytes()).hexdigest()
    snapshot = Snapshot(name, record_id, "2026-04-01T20:00:00.000000Z", *HEADS[schema], digest, 3, 0)
    backups.finish(snapshot, backups.folder / ".made")
    restored = restore(backups.folder, tmp_path / "new", database=new_address())
    assert restored.verified.is_sound
    assert (restored.verified.head_seq, restored.verified.head_hash) == HEADS[schema]
    assert digest == hashlib.sha256((backups.folder / name / "record.sqlite").read_bytes()).hexdigest()
    ((_, proof),) = verify_backups(backups.folder)
    assert proof.damages == ()


def test_interrupted_upgrade_leaves_the_older_record(tmp_path: Path) -> None:
    folder = _put("0001", tmp_path / "practice")
    opened = Database(folder / "record.sqlite")

    def interrupt() -> None:
        with opened.writing() as connection:
            upgrade_schema(connection)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupt()
    with opened.reading() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == "0001"
    opened.close()
    assert record_wiring.upgrade_record(folder) != ()
