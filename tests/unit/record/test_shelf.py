"""Where a server keeps what it computed: its own folder, cleared by the next server when it was killed, and by no other."""

import subprocess
import sys
from pathlib import Path

import pytest
from tests.end_to_end.web.conftest import ROOT

from seatwright.errors import RecordError
from seatwright.jobs._shelved import shelve_value, take_value
from seatwright.record import Shelf

_KILLED = """
import os, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from seatwright.record import Shelf
(Shelf(Path(sys.argv[1])).make_place() / "left").write_text("left")
os._exit(9)
"""


def test_what_a_killed_server_left_is_cleared_and_a_running_one_s_is_not(tmp_path: Path) -> None:
    running = Shelf(tmp_path)
    kept = running.make_place()
    subprocess.run([sys.executable, "-c", _KILLED, str(tmp_path), str(ROOT / "src")], check=False)
    assert len(list(tmp_path.glob("computed/*/*/left"))) == 1
    next_one = Shelf(tmp_path)
    place = next_one.make_place()
    assert not list(tmp_path.glob("computed/*/*/left"))
    assert kept.is_dir()
    assert place.is_dir()
    next_one.close()
    assert kept.is_dir()
    running.close()
    assert not list((tmp_path / "computed").iterdir())


def test_a_value_is_taken_up_only_as_it_was_put_there(tmp_path: Path) -> None:
    shelved = shelve_value(tmp_path, "cast", {"units": (35, 37)})
    assert take_value(shelved) == {"units": (35, 37)}
    shelved.path.write_bytes(shelved.path.read_bytes().replace(b"units", b"unitz"))
    with pytest.raises(RecordError, match="changed on the disk"):
        take_value(shelved)
    shelved.path.unlink()
    with pytest.raises(RecordError, match="gone from the disk"):
        take_value(shelved)
