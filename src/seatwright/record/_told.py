"""Turns what the disk and the database refuse into errors that a person can act on. Nothing is swallowed."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from seatwright.errors import RecordError

__all__ = ["told"]

_FULL = {errno.ENOSPC, errno.EDQUOT}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}
# part of the driver's message -> (what, hint)
_DATABASE_WORDS: tuple[tuple[str, str, str], ...] = (
    (
        "database is locked",
        "the database is locked by another program",
        "wait until the other program is done, or end it; nothing was written",
    ),
    ("lock timeout", "the database is locked by another program", "wait, then try again; nothing was written"),
    ("disk is full", "the disk is full", "free some space, then try again; nothing was written, nothing is lost"),
    ("No space left", "the disk is full", "free some space, then try again; nothing was written, nothing is lost"),
    (
        "readonly database",
        "the record's folder cannot be written",
        "give write access to the folder and its database; nothing was written",
    ),
    (
        "unable to open database file",
        "the record's database cannot be opened",
        "check that the folder and the database are there and may be written",
    ),
    (
        "not a database",
        "the record's database is damaged: it is no database file",
        "keep the folder as it is; restore the newest backup into another folder with `seatwright record restore`",
    ),
    (
        "malformed",
        "the record's database is damaged",
        "keep the folder as it is; restore the newest backup into another folder with `seatwright record restore`",
    ),
    (
        "disk I/O error",
        "the disk failed while the database was used",
        "check the disk; what was acknowledged before stands; run `seatwright record verify`",
    ),
    (
        "append-only",
        "what stands in the record is never changed",
        "write a correction as a new event",
    ),
)


@contextmanager
def told(doing: str) -> Iterator[None]:
    """Raise `RecordError` for whatever storage refuses while `doing` (such as ``writing the record``)."""
    try:
        yield
    except DBAPIError as error:
        raise _from_database(error, doing) from error
    except (ArgumentError, NoSuchModuleError) as error:
        raise RecordError(
            f"{doing} failed: the database address is not understood",
            hint="give a folder for SQLite, or postgresql://user@host/name",
        ) from error
    except SQLAlchemyError as error:
        raise RecordError(f"{doing} failed: {error}", hint="run `seatwright record verify`") from error
    except OSError as error:
        raise _from_system(error, doing) from error


def _from_database(error: DBAPIError, doing: str) -> RecordError:
    message = str(error.orig)
    for part, what, hint in _DATABASE_WORDS:
        if part.lower() in message.lower():
            return RecordError(f"{doing} failed: {what}", hint=hint, details={"cause": message[:300]})
    if error.connection_invalidated or type(error.orig).__name__ in {"OperationalError", "ConnectionTimeout"}:
        return RecordError(
            f"{doing} failed: the database does not answer",
            hint="check that the database server runs and can be reached; an action that was not acknowledged "
            "may be tried again",
            details={"cause": message[:300]},
        )
    return RecordError(
        f"{doing} failed: {message.splitlines()[0] if message else type(error).__name__}",
        hint="run `seatwright record verify`; keep a copy of the folder before anything else",
        details={"cause": message[:300]},
    )


def _from_system(error: OSError, doing: str) -> RecordError:
    if error.errno in _FULL:
        return RecordError(
            f"{doing} failed: the disk is full",
            hint="free some space, then try again; nothing was written, nothing is lost",
        )
    if error.errno in _REFUSED:
        place = f" ({error.filename})" if error.filename else ""
        return RecordError(
            f"{doing} failed: the folder cannot be written{place}", hint="give write access to the record's folder"
        )
    return RecordError(f"{doing} failed: {error.strerror or error}", hint="check the disk and the record's folder")
