"""Where a record is: a folder with ``record.toml``, the database (or its address) and ``files/``.

The folder is what people name. ``record.toml`` says which database belongs to it; both carry the record's id, so that
a folder and a database that do not belong together are told apart.
"""

import tomllib
from dataclasses import dataclass
from pathlib import Path

import tomli_w

from seatwright.errors import ConflictError, RecordError
from seatwright.record._durable import write_durably

__all__ = ["DATABASE_NAME", "PLACE_NAME", "Place", "is_record_folder", "read_place", "write_place"]

PLACE_NAME = "record.toml"
DATABASE_NAME = "record.sqlite"
_SCHEMA = 1
_MAX_BYTES = 10_000  # judgement: three lines


@dataclass(frozen=True, slots=True)
class Place:
    """A record's folder and what its ``record.toml`` says."""

    folder: Path
    record_id: str
    database: str
    """PostgreSQL URL, or the name of the SQLite file in the folder."""

    @property
    def address(self) -> Path | str:
        """What the database is opened by."""
        return self.database if "://" in self.database else self.folder / self.database

    @property
    def files(self) -> Path:
        """Folder of the scans and photos."""
        return self.folder / "files"


def is_record_folder(folder: Path) -> bool:
    """Return whether a folder holds a practice record."""
    return (folder / PLACE_NAME).is_file()


def read_place(folder: Path) -> Place:
    """Read ``record.toml``.

    Raises
    ------
    RecordError
        It is not there, or is not what this version writes.
    """
    path = folder / PLACE_NAME
    if not path.is_file():
        raise RecordError(
            f"there is no practice record in {folder}",
            hint="make one with `seatwright record init`, or name its folder with --record",
        )
    try:
        if path.stat().st_size > _MAX_BYTES:
            raise ValueError("too long")
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        schema, record_id, database = table["schema"], str(table["record"]), str(table["database"])
    except (OSError, ValueError, KeyError) as error:
        raise RecordError(
            f"{path} cannot be read ({error})", hint="restore it: it holds schema, record and database"
        ) from error
    if schema != _SCHEMA:
        raise RecordError(f"{path} was written by a newer version", hint="install the newer version")
    return Place(folder, record_id, database)


def write_place(place: Place) -> None:
    """Write ``record.toml`` of a new record, as the last step of making one; ConflictError when one is there."""
    path = place.folder / PLACE_NAME
    if path.exists():
        raise ConflictError(f"{place.folder} holds a record already", hint="choose another folder")
    table = {"schema": _SCHEMA, "record": place.record_id, "database": place.database}
    write_durably(path, tomli_w.dumps(table).encode())
