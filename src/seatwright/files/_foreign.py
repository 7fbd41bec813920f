"""What a file is that is no surface, told from its first bytes, so that a person hears what they picked by mistake."""

from collections.abc import Callable

__all__ = ["name_content"]

_UNPACK = "unpack it, and bring the STL, PLY or OBJ inside"
_EXPORT = "export the scan as STL, PLY or OBJ"
# signatures from the formats' own specifications
_SIGNS: tuple[tuple[int, bytes, str, str], ...] = (
    (0, b"PK\x03\x04", "a ZIP archive (3MF files are such archives too)", _UNPACK),
    (0, b"PK\x05\x06", "an empty ZIP archive", _UNPACK),
    (0, b"\x1f\x8b", "a gzip archive", _UNPACK),
    (0, b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    (0, b"Rar!", "a RAR archive", _UNPACK),
    (257, b"ustar", "a tar archive", _UNPACK),
    (0, b"%PDF", "a PDF document", _EXPORT),
    (0, b"\x89PNG", "a PNG picture", "add it as a photo; a scan is a surface file"),
    (0, b"\xff\xd8\xff", "a JPEG picture", "add it as a photo; a scan is a surface file"),
    (128, b"DICM", "a DICOM file", _EXPORT),
    (0, b"glTF", "a GLB scene", _EXPORT),
    (0, b"\x7fELF", "a program", _EXPORT),
    (0, b"MZ", "a program", _EXPORT),
)
_BEGINNING = 4096
_WORDS: tuple[tuple[Callable[[bytes], bool], str], ...] = (
    (lambda start: start[:5] == b"<?xml" or start[:1] == b"<", "an XML or HTML page"),
    (lambda start: start[:1] in (b"{", b"["), "a JSON file"),
)


def name_content(data: bytes) -> tuple[str, str]:
    """Return what the bytes of a file that is no surface are, and what to do; both empty when nothing tells.

    Examples
    --------
    >>> name_content(b"Dear colleague, the crowns are on their way.")[0]
    'plain text'
    """
    for place, sign, name, hint in _SIGNS:
        if data[place : place + len(sign)] == sign:
            return name, hint
    start = data[:_BEGINNING]
    if not start or not _is_text(start):
        return "", ""
    return next((name for fits, name in _WORDS if fits(start.lstrip())), "plain text"), _EXPORT


def _is_text(start: bytes) -> bool:
    try:
        text = start.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(start) - 4:  # definition: UTF-8 takes at most four bytes, the last may be cut
            return False
        text = start[: error.start].decode("utf-8")
    return all(char.isprintable() or char.isspace() for char in text)
