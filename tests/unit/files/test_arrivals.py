"""Files that a person brings: names are never paths, archives never unpacked, counts looked at before anything is read."""

import gzip
import io
import struct
import tarfile
import zipfile
from pathlib import Path

import pytest
from tests.shapes import box

from seatwright.errors import InputError, MeshError
from seatwright.files import check_arrival_name, encode_ply, encode_stl, read_arrival

CUBE = box((2.0, 2.0, 2.0), edge=5.0)
LIMITS = {"max_bytes": 1_000_000, "max_triangles": 100}


def _zip() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("../../scan.stl", encode_stl(CUBE))
    return held.getvalue()


def _tar() -> bytes:
    held = io.BytesIO()
    with tarfile.open(fileobj=held, mode="w") as archive:
        link = tarfile.TarInfo("scan.stl")
        link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
        archive.addfile(link)
    return held.getvalue()


@pytest.mark.parametrize("name", ["../scan.stl", "/etc/scan.stl", "a\\b.stl", "..", "", "scan\0.stl"])
def test_a_name_that_holds_a_path_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="path"):
        check_arrival_name(name)


@pytest.mark.parametrize("name", ["scan", "scan.exe", "scan.stl.zip", "s" * 300 + ".stl", "scan\u202e.stl"])
def test_a_name_that_is_none_of_a_surface_file_is_refused(name: str) -> None:
    with pytest.raises(InputError):
        check_arrival_name(name)


def test_a_plain_name_gives_its_ending_in_small_letters() -> None:
    assert check_arrival_name("Lower (final) .v2.STL") == "stl"


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (_zip(), "a ZIP archive"),
        (_tar(), "a tar archive"),
        (gzip.compress(encode_stl(CUBE)), "a gzip archive"),
        (b"%PDF-1.7\n", "a PDF document"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 99, "a PNG picture"),
        (b"\0" * 128 + b"DICM" + b"\0" * 99, "a DICOM file"),
        (b"<html><body>not found</body></html>", "an XML or HTML page"),
        (b'{"tooth": 36}', "a JSON file"),
        ("Sehr geehrte Frau Kollegin, die Krönchen".encode(), "plain text"),
        (b"", "the file is empty"),
        (b"\0" * 2000, "the file is empty"),
        (bytes(range(1, 250)), "the header states"),
    ],
)
def test_what_is_no_surface_is_named(tmp_path: Path, data: bytes, told: str) -> None:
    (tmp_path / "blob").write_bytes(data)
    with pytest.raises(MeshError, match=told):
        read_arrival(tmp_path / "blob", name="scan.stl", **LIMITS)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.stl", b"\0" * 80 + struct.pack("<I", 101) + b"\0" * 50 * 101),
        ("a.ply", b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
         b"element face 101\nproperty list uchar int vertex_indices\nend_header\n" + b"0 0 0\n" * 3 + b"3 0 1 2\n" * 101),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n" + b"f 1 2 3\n" * 101),
        ("a.stl", b"solid a\n" + b"facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n" * 101
         + b"endsolid a\n"),
    ],
)  # fmt: skip
def test_too_many_triangles_are_counted_before_they_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, data: bytes
) -> None:
    (tmp_path / "blob").write_bytes(data)
    monkeypatch.setattr("seatwright.files.arrivals.parse_surface", None)  # reading it would fail the test
    with pytest.raises(MeshError, match="101 triangles; at most 100 are taken"):
        read_arrival(tmp_path / "blob", name=name, **LIMITS)


def test_a_file_over_the_limit_is_not_read_at_all(tmp_path: Path) -> None:
    with (tmp_path / "blob").open("wb") as handle:
        handle.truncate(10**12)  # a hole: a terabyte that takes no room
    with pytest.raises(MeshError, match="at most 1000000 are read"):
        read_arrival(tmp_path / "blob", name="scan.stl", **LIMITS)


def test_a_sound_file_is_read_in_its_own_unit(tmp_path: Path) -> None:
    (tmp_path / "blob").write_bytes(encode_ply(CUBE))
    assert read_arrival(tmp_path / "blob", name="scan.ply", **LIMITS).extent_mm == pytest.approx(CUBE.extent_mm)
