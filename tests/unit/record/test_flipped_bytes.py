"""A byte flipped anywhere in the database is found or harmless, and told in words: never a wrong answer, never a bug."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from tests.killing import CLOCK, LOGGED_CASE, bring

from seatwright.errors import SeatwrightError
from seatwright.record import create_record, open_record, verify_record
from seatwright.record._tables import metadata
from seatwright.workflows.practice import read_files

N_FLIPS = 60


def _everything(folder: Path) -> tuple[object, ...]:
    record = open_record(folder)
    try:
        with record.database.reading() as connection:
            rows = {name: sorted(map(tuple, connection.execute(t.select()))) for name, t in metadata.tables.items()}
        return rows, read_files(record, LOGGED_CASE)
    finally:
        record.close()


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sound") / "practice"
    record = create_record(folder, now=CLOCK.now(), by="lead")
    bring(record, LOGGED_CASE, scan_bytes=100)
    record.close()
    assert not (folder / "record.sqlite-wal").exists()  # closed in order: all of it is in one file
    return folder


def test_flipped_byte_is_found_or_harmless(sound: Path, tmp_path: Path) -> None:
    data = (sound / "record.sqlite").read_bytes()
    expected = _everything(sound)
    rng = np.random.default_rng(7)
    n_found = 0
    for number, place in enumerate(rng.integers(0, len(data), N_FLIPS)):
        folder = tmp_path / str(number)
        shutil.copytree(sound, folder)
        flipped = bytearray(data)
        flipped[place] ^= 1 << int(rng.integers(0, 8))
        (folder / "record.sqlite").write_bytes(flipped)
        try:
            record = open_record(folder)
            is_sound = verify_record(record.database, record.store).is_sound
            record.close()
        except SeatwrightError as error:
            assert error.hint, error.message  # noqa: PT017 - either way is legal
            is_sound = False
        n_found += not is_sound
        if is_sound:
            assert _everything(folder) == expected, f"byte {place}"
    assert n_found > N_FLIPS // 10  # most of a small record is empty space
