"""What the browser draws of a scan: packed surfaces, undercuts and block-out, against closed forms."""

import json
import struct
from pathlib import Path

import numpy as np
import pytest
from tests.contract.conftest import SetClock
from tests.examples import DEMO_NOW
from tests.shapes import box, turned

from seatwright.errors import ValueOutOfRange
from seatwright.files import encode_stl
from seatwright.jobs.surface_tasks import BlockOutOrder, ScanOrder, UndercutOrder, fill_undercuts, pack_surface
from seatwright.mesh import Surface
from seatwright.progress import SILENT
from seatwright.record import create_record

DOWN = (0.0, 0.0, -1.0)
CUP = np.array([[0, 0], [10, 0], [10, 4], [6, 4], [6, 12], [10, 12], [10, 16], [0, 16]], dtype=float)
"""Outline of a spool about its axis: a groove 4 mm deep and 8 mm high."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("record") / "practice"
    create_record(place, now=SetClock(DEMO_NOW).now(), by="test").close()
    return place


def _keep(folder: Path, surface: Surface) -> ScanOrder:
    from seatwright import wiring

    record = wiring.open_record(folder)
    kept = record.keep("scans/a.stl", encode_stl(surface))
    record.close()
    return ScanOrder(folder, kept.sha256, "scans/a.stl", "mm")


def test_a_surface_is_packed_with_the_way_that_it_opens(folder: Path) -> None:
    sheet = Surface(np.array([[0, 0, 0], [30.0, 0, 0], [30, 30, 0], [0, 30, 0]]), np.array([[0, 1, 2], [0, 2, 3]]))
    packed = pack_surface(_keep(folder, sheet), SILENT)
    assert struct.unpack_from("<II3f", packed) == (4, 2, 0.0, 0.0, 1.0)
    assert np.frombuffer(packed, "<f4", 12, 20).reshape(4, 3).max() == 30.0
    assert len(packed) == 20 + 4 * 12 + 2 * 12


def test_a_spools_groove_is_filled_to_its_closed_form(folder: Path) -> None:
    order = BlockOutOrder(UndercutOrder(_keep(folder, turned(CUP)), DOWN), 0.0)
    packed = fill_undercuts(order, SILENT)
    (length,) = struct.unpack_from("<I", packed)
    words = json.loads(packed[4 : 4 + length])
    groove = np.pi * (10**2 - 6**2) * 8
    assert words["undercut_volume_mm3"] == pytest.approx(groove, rel=0.01)  # the page says: to about 1 %
    assert words["volume_mm3"] == pytest.approx(groove, rel=0.01)
    assert struct.unpack_from("<II", packed, 4 + length)[1] > 0


def test_what_is_not_undercut_has_no_solid_and_a_path_needs_a_direction(folder: Path) -> None:
    order = _keep(folder, box((30.0, 30.0, 5.0), edge=5.0))
    packed = fill_undercuts(BlockOutOrder(UndercutOrder(order, DOWN), 0.0), SILENT)
    (length,) = struct.unpack_from("<I", packed)
    assert json.loads(packed[4 : 4 + length])["n_solids"] == 0
    assert len(packed) == 4 + length
    with pytest.raises(ValueOutOfRange):
        fill_undercuts(BlockOutOrder(UndercutOrder(order, (0.0, 0.0, 0.0)), 0.0), SILENT)
