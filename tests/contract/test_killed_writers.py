"""Kill -9 at any instant loses no acknowledged write and leaves nothing by half; what is promised is really asked for."""

import os
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import text
from tests.contract.conftest import Practice
from tests.killing import LOGGED_CASE, Account, bring, check_account, kill_a_writer

N_KILLS = 20


def test_writers_killed_at_random_lose_nothing_and_leave_nothing_by_half(practice: Practice) -> None:
    bring(practice.record, LOGGED_CASE)
    account, rng = Account(), np.random.default_rng(20260309)
    for _ in range(N_KILLS):
        kill_a_writer(practice.folder, account, rng)
    assert account.n_kills == N_KILLS
    assert account.n_between >= N_KILLS // 3  # else the kills met nobody at work
    assert {done["kind"] for done in account.acknowledged} == {"log", "import", "photo"}
    check_account(practice.record, account)
    practice.reopen().keep("scans/a.ply", b"a scan")  # the next writer clears what the killed ones left
    assert not list((practice.folder / "files" / ".partial").iterdir())


def test_database_is_asked_for_durable_writes(practice: Practice) -> None:
    """SQLite's documentation of PRAGMA synchronous and PostgreSQL's of synchronous_commit: FULL (2) and on."""
    with practice.record.database.writing() as connection:
        if practice.record.database.is_sqlite:
            asked = {name: connection.execute(text(f"PRAGMA {name}")).scalar_one() for name in
                     ("journal_mode", "synchronous", "foreign_keys")}  # fmt: skip
            assert asked == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
        else:
            assert connection.execute(text("SHOW synchronous_commit")).scalar_one() == "on"
            assert connection.execute(text("SHOW fsync")).scalar_one() == "on"


def test_file_is_flushed_before_it_gets_its_name_and_its_folder_after(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    order: list[str] = []
    flush, rename = os.fsync, Path.replace

    def fsync(descriptor: int) -> None:
        order.append("folder" if os.path.isdir(f"/proc/self/fd/{descriptor}") else "file")  # noqa: PTH112
        flush(descriptor)

    def replace(self: Path, target: Path) -> Path:
        order.append("rename")
        return rename(self, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(Path, "replace", replace)
    practice.record.keep("scans/a.ply", b"a scan")
    assert order == ["file", "rename", "folder", "folder"]
