"""A photo is kept as it is; what is no picture, or tells where it was taken, is refused."""

import io
from pathlib import Path

import pytest
from PIL import Image

from seatwright.errors import InputError
from seatwright.files import read_photo

KINDS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "TIFF": "tif"}


def _picture(kind: str, *, exif: Image.Exif | None = None) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", (16, 12), "gray").save(made, kind, **({"exif": exif} if exif else {}))
    return made.getvalue()


def _put(folder: Path, data: bytes) -> Path:
    path = folder / "photo"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("kind", KINDS)
def test_picture_is_read_byte_for_byte_whatever_its_name(tmp_path: Path, kind: str) -> None:
    data = _picture(kind)
    assert read_photo(_put(tmp_path, data)) == (data, KINDS[kind])


@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_picture_that_tells_where_it_was_taken_is_refused(tmp_path: Path, kind: str) -> None:
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (47.0, 0.0, 0.0)}
    data = _picture(kind, exif=exif)
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(0x8825)
    with pytest.raises(InputError, match="tells where it was taken"):
        read_photo(_put(tmp_path, data))


@pytest.mark.parametrize(
    "data",
    [b"", b"no picture", _picture("PNG")[:-30], _picture("JPEG")[:-90], _picture("GIF"), _picture("BMP")],
    ids=["empty", "text", "cut PNG", "cut JPEG", "GIF", "BMP"],
)
def test_what_is_no_sound_picture_of_a_known_kind_is_refused(tmp_path: Path, data: bytes) -> None:
    with pytest.raises(InputError, match=r"no sound picture|is a (GIF|BMP) file"):
        read_photo(_put(tmp_path, data))


def test_photo_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is missing"):
        read_photo(tmp_path / "nowhere.jpg")
