"""Photos as they come from a camera: kept byte for byte, once it is sure that each is a picture of a known kind."""

import io
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from seatwright.errors import InputError
from seatwright.files._limited import read_limited

__all__ = ["read_photo"]

_MAX_BYTES = 200_000_000  # judgement: the largest picture of a camera in use
_SUFFIXES = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "TIFF": "tif"}
_PLACE_TAG = 0x8825  # Exif 2.32, table 4: pointer to the place where it was taken


def read_photo(path: Path) -> tuple[bytes, str]:
    """Return a photo's bytes and the suffix of its kind.

    Raises
    ------
    InputError
        It is no picture, is damaged, or carries the place where it was taken, which a case must not know.
    """
    data = read_limited(path, _MAX_BYTES)
    try:
        with Image.open(io.BytesIO(data)) as picture:
            kind, has_place = picture.format or "", bool(picture.getexif().get_ifd(_PLACE_TAG))
            picture.load()  # all of it, so that one cut short shows
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError, Image.DecompressionBombError) as error:
        raise InputError(f"{path.name} is no sound picture", hint="give a JPEG, PNG, WebP or TIFF file") from error
    if kind not in _SUFFIXES:
        raise InputError(f"{path.name} is a {kind} file", hint="give a JPEG, PNG, WebP or TIFF file")
    if has_place:
        raise InputError(
            f"{path.name} tells where it was taken", hint="remove its location with the camera's own program first"
        )
    return data, _SUFFIXES[kind]
