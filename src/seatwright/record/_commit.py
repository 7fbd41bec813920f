"""One change of one case, written in one transaction: documents, files, events, and the index that follows."""

import hashlib
import json
from collections.abc import Mapping

from sqlalchemy import Connection, Table, insert, select

from seatwright.errors import ConflictError
from seatwright.record._append import Appender, Draft
from seatwright.record._standing import write_standing
from seatwright.record._tables import (
    case_file,
    case_version,
    document,
    stored_case,
    stored_file,
)
from seatwright.workflows.record_ports import Change, KeptFile, Receipt, Revision

__all__ = ["encode_body", "write_change"]


def encode_body(fields: Mapping[str, object]) -> bytes:
    """Return a body of our own as canonical JSON: sorted names, no spaces, UTF-8."""
    return json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def write_change(connection: Connection, change: Change, appender: Appender) -> Receipt:
    """Write a change after making sure that it was made from the present state."""
    code = change.case.code
    version = _require_unchanged(connection, change)
    if change.revision is not None:
        version += 1
    _write_case(connection, change, version, appender.recorded_at)
    if change.revision is not None:
        _revise(connection, change, change.revision, version, appender)
    for kept in change.files:
        _file(connection, change, kept, appender)
    for line in change.lines:
        event = line.event
        appender.add(Draft(event.by, code, "happened", line.raw, at=event.at, what=event.what, case_seq=event.seq))
    if change.standing is not None:
        write_standing(connection, code, change.standing)
    appender.finish()
    n_events = change.after_events + len(change.lines)
    return Receipt(code, version, n_events, len(change.files), appender.seq, appender.hash)


def _require_unchanged(connection: Connection, change: Change) -> int:
    code = change.case.code
    row = connection.execute(
        select(stored_case.c.version, stored_case.c.n_events).where(stored_case.c.code == code)
    ).one_or_none()
    found = (0, 0) if row is None else (row.version, row.n_events)
    if found == (change.after_version, change.after_events):
        return found[0]
    if change.after_version == 0:
        raise ConflictError(f"the record has a case {code} already", hint="give the new case another code")
    raise ConflictError(
        f"case {code} was changed by somebody else: it has version {found[0]} and {found[1]} events now, "
        f"not {change.after_version} and {change.after_events}",
        hint="read the case again; nothing was written",
        details={"code": code, "version": found[0], "n_events": found[1]},
    )


def _write_case(connection: Connection, change: Change, version: int, recorded_at: str) -> None:
    case = change.case
    values: dict[str, object] = {
        "code_folded": case.code.casefold(),
        "title": case.title,
        "arch": case.arch.value,
        "version": version,
        "n_events": change.after_events + len(change.lines),
        "changed_at": recorded_at,
    }
    if change.standing is not None:
        values["stage"] = change.standing.stage.value
    if change.after_version == 0:
        connection.execute(insert(stored_case).values(code=case.code, **values))
    else:
        connection.execute(stored_case.update().where(stored_case.c.code == case.code).values(**values))


def _revise(connection: Connection, change: Change, revision: Revision, version: int, appender: Appender) -> None:
    hashes = {}
    for name, content in (("case", revision.case_toml), ("bench", revision.bench_toml)):
        hashes[name] = hashlib.sha256(content).hexdigest()
        _insert_once(connection, document, sha256=hashes[name], content=content)
    body = encode_body({"version": version, **hashes, "reason": revision.reason})
    seq = appender.add(Draft(change.by, change.case.code, "revised", body))
    connection.execute(
        insert(case_version).values(
            case_code=change.case.code,
            version=version,
            case_sha256=hashes["case"],
            bench_sha256=hashes["bench"],
            entry_seq=seq,
        )
    )


def _file(connection: Connection, change: Change, kept: KeptFile, appender: Appender) -> None:
    _insert_once(connection, stored_file, sha256=kept.sha256, n_bytes=kept.n_bytes)
    body = encode_body({"path": kept.path, "sha256": kept.sha256, "n_bytes": kept.n_bytes})
    seq = appender.add(Draft(change.by, change.case.code, "filed", body))
    connection.execute(
        insert(case_file).values(case_code=change.case.code, path=kept.path, entry_seq=seq, sha256=kept.sha256)
    )


def _insert_once(connection: Connection, table: Table, *, sha256: str, **values: object) -> None:
    """Insert a row named by its content, unless it is there; writers come one at a time."""
    if connection.execute(select(table.c.sha256).where(table.c.sha256 == sha256)).one_or_none() is None:
        connection.execute(insert(table).values(sha256=sha256, **values))
