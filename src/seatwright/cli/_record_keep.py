"""``seatwright record verify | backup | backups | restore | upgrade``: that the record is whole, and stays so."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from seatwright import record_wiring, wiring
from seatwright.cli import _show
from seatwright.errors import Fault, InputError, RecordError
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.practice_lists import check_lists, renew_lists

if TYPE_CHECKING:
    from seatwright.record import Damage, Verified

__all__ = ["run_backup", "run_backups", "run_renew", "run_restore", "run_tidy", "run_upgrade", "run_verify"]


def _print(kind: str, result: object) -> None:
    _show.print_json(make_envelope(f"record-{kind}", inputs=(), result=result, findings=()))


def run_verify(folder: Path, *, backups: Path | None, head: str | None, as_json: bool) -> int:
    """Run `seatwright record verify`; damage is an error, told in full."""
    if backups is not None:
        return _verify_backups(backups, as_json=as_json)
    known = _read_head(head) if head is not None else None
    with _show.progress_bar() as progress:
        verified = record_wiring.verify_record(folder, known_head=known, progress=progress)
    _require_sound(f"the record in {folder}", verified.damages)
    if as_json:
        _print("verify", verified)
    else:
        _show_verified(verified)
    return 0


def _read_head(text: str) -> tuple[int, str]:
    number, _, digest = text.partition(":")
    if not number.isdecimal() or len(digest) != 64:
        raise InputError(f"--head {text!r} is no head", hint="give number and hash as `record verify` printed them")
    return int(number), digest


def _require_sound(what: str, damages: "Sequence[Damage]") -> None:
    if damages:
        n = len(damages)
        raise RecordError(
            f"{what} is damaged in {n} place{'s' if n > 1 else ''}",
            hint="keep everything as it is; restore the newest sound backup into another folder",
            faults=[Fault(damage.where, damage.what, damage.do) for damage in damages],
        )


def _show_verified(verified: "Verified") -> None:
    _show.say(
        f"Sound: {verified.n_entries} entries of {verified.n_cases} cases, {verified.n_documents} documents, "
        f"{verified.n_files} files ({verified.n_bytes / 1e6:.1f} MB)."
    )
    if verified.n_files_unused:
        _show.say(f"{verified.n_files_unused} more files belong to nothing: harmless; see record tidy.")
    _show.say(f"Head, to note elsewhere: {verified.head_seq}:{verified.head_hash}")


def _verify_backups(folder: Path, *, as_json: bool) -> int:
    with _show.progress_bar() as progress:
        proofs = record_wiring.verify_backups(folder, progress=progress)
    damages = [damage for _, proof in proofs for damage in proof.damages]
    _require_sound(f"a backup in {folder}", damages)
    if as_json:
        _print("verify", [{"snapshot": snapshot, "proof": proof} for snapshot, proof in proofs])
    else:
        _show.say(f"Sound: {len(proofs)} backups, {', '.join(snapshot.name for snapshot, _ in proofs) or 'none yet'}.")
    return 0


def run_backup(folder: Path, target: Path, *, keep: str | None, as_json: bool) -> int:
    """Run `seatwright record backup`."""
    with _show.progress_bar() as progress:
        done = record_wiring.back_up(folder, target, keep=keep, progress=progress)
    if as_json:
        _print("backup", done)
        return 0
    snapshot = done.snapshot
    _show.say(
        f"Backup {snapshot.name}: {snapshot.head_seq} entries, {snapshot.n_files} files "
        f"({snapshot.n_bytes / 1e6:.1f} MB, {done.n_files_copied} of them copied now)."
    )
    if done.removed:
        _show.say(f"Made room: {', '.join(done.removed)}")
    return 0


def run_backups(folder: Path, *, as_json: bool) -> int:
    """Run `seatwright record backups`."""
    snapshots = record_wiring.list_backups(folder)
    if as_json:
        _print("backups", snapshots)
        return 0
    for snapshot in snapshots:
        _show.say(f"{snapshot.name}  {snapshot.head_seq} entries  {snapshot.n_files} files")
    if not snapshots:
        _show.say("None.")
    return 0


def run_restore(folder: Path, target: Path, *, name: str, database: str | None, as_json: bool) -> int:
    """Run `seatwright record restore`; the restored record is proven."""
    with _show.progress_bar() as progress:
        done = record_wiring.restore(folder, target, name=name, database=database, progress=progress)
    _require_sound(f"the restored record in {target}", done.verified.damages)
    if as_json:
        _print("restore", done)
        return 0
    _show.say(
        f"Restored {done.snapshot.name} into {target}: {done.n_entries_added} entries and {done.n_files_added} files "
        "were brought in."
    )
    _show_verified(done.verified)
    return 0


def run_upgrade(folder: Path, *, as_json: bool) -> int:
    """Run `seatwright record upgrade`."""
    steps = record_wiring.upgrade_record(folder)
    if as_json:
        _print("upgrade", {"steps": steps})
    else:
        _show.say(f"Upgraded: {', '.join(steps)}." if steps else "The record has this version's schema already.")
    return 0


def run_renew(folder: Path, *, check: bool, as_json: bool) -> int:
    """Run `seatwright record renew`; with `check`, lists that are wrong are an error."""
    record = wiring.open_record(folder)
    work = check_lists if check else renew_lists
    with _show.progress_bar() as progress:
        found = work(
            record,
            lambda code: wiring.case_of_record(record, code),
            clock=wiring.SystemClock(),
            progress=progress,
        )
    codes = [case if isinstance(case, str) else case.code for case in found]
    if check and codes:
        raise RecordError(
            f"the lists show {len(codes)} cases wrongly",
            hint="run `seatwright record renew`",
            faults=[Fault(f"case {code}", "is not listed as its plan and log say") for code in codes],
        )
    if as_json:
        _print("renew", {"cases": codes})
    else:
        _show.say(f"Put right: {', '.join(codes)}." if codes else "The lists say what the cases say.")
    return 0


def run_tidy(folder: Path, *, as_json: bool) -> int:
    """Run `seatwright record tidy`."""
    n_files, n_bytes = wiring.open_record(folder).tidy(now=wiring.SystemClock().now())
    if as_json:
        _print("tidy", {"n_files": n_files, "n_bytes": n_bytes})
    else:
        _show.say(f"Removed {n_files} files, {n_bytes / 1e6:.1f} MB." if n_files else "Nothing to remove.")
    return 0
