"""The practice record at the size of years: pages, appends, proof, backup; and a thousand killed writers.

Run, from the project's folder: ``python benchmarks/bench_record.py build DIR [seconds]``, then ``... measure DIR``, and
``... kill DIR [n]``. Both databases side by side; PostgreSQL is started on loopback where it is installed, else left
out, which is said. Bars (2,000 cases, 50,000 events, 5 GB of scans): a page <= 20 ms, an append with durability
<= 10 ms (median), proof at the speed of reading and hashing the same files, memory flat.

The data: the example case 2,000 times under its own code, 25 events each, one scan of 2.5 MB of random bytes each.
Peer for the append: writing and flushing 4 kB on the same disk. Peer for the proof: hashing the same files, no more.
"""

import hashlib
import json
import os
import resource
import shutil
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from sqlalchemy import func, select

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.examples import demo_bench, demo_case, demo_events
from tests.killing import CLOCK, LOGGED_CASE, Account, bring, check_account, kill_a_writer
from tests.postgres_server import find_server_programs, running_server

from seatwright.case import Decided, Event, fold_events, stand_case, write_event
from seatwright.files import FilesCaseSource, bench_to_toml, case_to_toml
from seatwright.record import Record, back_up, create_record, open_record, verify_record
from seatwright.record._copy_rows import copy_rows
from seatwright.record._database import Database
from seatwright.record._migrate import upgrade_schema
from seatwright.record._place import Place, write_place
from seatwright.record._tables import stored_case
from seatwright.workflows.practice_log import load_whole, log_events, open_record_log
from seatwright.workflows.record_lists import PageWish
from seatwright.workflows.record_ports import Change, LoggedLine, Revision

N_CASES, N_EVENTS_EACH, SCAN_BYTES = 2000, 25, 2_500_000
N_TIMED = 200


@contextmanager
def databases(folder: Path) -> Iterator[dict[str, str | None]]:
    """Yield the address of each database: None for a file."""
    programs = find_server_programs()
    if programs is None:
        print("PostgreSQL is absent: SQLite alone")
        yield {"SQLite": None}
        return
    with running_server(programs, data=folder / "postgres") as server:
        yield {"SQLite": None, "PostgreSQL": server.url}


def make_log(n: int) -> tuple[Event, ...]:
    first = demo_events()
    more = tuple(
        Decided(
            seq=seq, at=first[-1].at + timedelta(minutes=seq), by="technician", decision=f"wait {seq}", reason="soft"
        )
        for seq in range(len(first) + 1, n + 1)
    )
    return (*first, *more)


def build(folder: Path, limit_s: float) -> None:
    """Record every case in SQLite, from where an earlier call stopped; then give PostgreSQL the same rows, and links."""
    folder.mkdir(parents=True, exist_ok=True)
    place, start = folder / "SQLite", time.perf_counter()
    record = open_record(place) if place.exists() else create_record(place, now=CLOCK.now(), by="lead")
    make_change = _changes()
    n_before = n = _count(record)
    while n < N_CASES and time.perf_counter() - start < limit_s:
        record.commit(make_change(record, n), now=CLOCK.now())
        n += 1
    seconds = time.perf_counter() - start
    print(
        f"{n} of {N_CASES} cases, {n * N_EVENTS_EACH} events; {1000 * seconds / max(n - n_before, 1):.0f} ms a case",
        flush=True,
    )
    if n == N_CASES:
        with databases(folder) as addresses:
            for name, address in addresses.items():
                if address is not None and not (folder / name).exists():
                    _copy(record, folder / name, address)
    record.close()


def _count(record: Record) -> int:
    with record.database.reading() as connection:
        return int(connection.execute(select(func.count()).select_from(stored_case)).scalar_one())


def _changes() -> Callable[[Record, int], Change]:
    """Return what makes the change that an import of the n-th case is, parsed and folded once for all."""
    plan = demo_case(code="TEMPLATE", as_of=None, region=(), scan=demo_case().scan[:1])
    log, toml, bench = make_log(N_EVENTS_EACH), case_to_toml(plan), bench_to_toml(demo_bench())
    standing = stand_case(plan, fold_events(log, plan, now=log[-1].at), log)
    lines = tuple(LoggedLine(event, f"{write_event(event)}\n".encode()) for event in log)
    rng = np.random.default_rng(1)

    def make(record: Record, number: int) -> Change:
        code = f"B{number:05d}"
        return Change(
            case=plan.model_copy(update={"code": code}),
            standing=standing,
            by="lead",
            after_version=0,
            after_events=0,
            revision=Revision(toml.replace(b"TEMPLATE", code.encode()), bench, ""),
            files=(record.keep(plan.scan[0].file, code.encode() + rng.bytes(SCAN_BYTES)),),
            lines=lines,
        )

    return make


def _copy(record: Record, folder: Path, address: str) -> None:
    shutil.copytree(record.place.files, folder / "files", copy_function=os.link)
    target = Database(address)
    with record.database.reading() as rows, target.writing() as connection:
        upgrade_schema(connection)
        copy_rows(rows, connection, after=0)
    target.close()
    write_place(Place(folder, record.place.record_id, address))


def timed(what: str, work: Callable[[int], object], n: int = N_TIMED) -> None:
    took = []
    for i in range(n):
        start = time.perf_counter()
        work(i)
        took.append(1000 * (time.perf_counter() - start))
    print(f"  {what:46}{statistics.median(took):9.2f} ms median{np.quantile(took, 0.99):9.2f} ms 99 %", flush=True)


def measure_pages(record: Record) -> None:
    def deep(ask: Callable[[PageWish], object]) -> PageWish:
        wish = PageWish(1000)
        page = ask(wish)
        return PageWish(50, getattr(page, "next", "") or "")

    cases, timeline = record.list_cases, record.timeline
    timed("page of 50 cases, the first", lambda _: cases(PageWish(50)))
    far = deep(cases)
    timed("page of 50 cases, from the 1000th on", lambda _: cases(far))
    timed("search by a part of the code", lambda i: cases(PageWish(50), text=f"{i:03d}"))
    timed("cases at the bench, 50", lambda _: cases(PageWish(50), stage="at_bench"))
    timed("timeline of a case, 50 entries", lambda i: timeline(f"B{i:05d}", PageWish(50)))
    timed("open impressions, 50", lambda _: record.list_open_impressions(PageWish(50)))
    timed("uses of a lot, 50", lambda _: record.list_lots(PageWish(50), lot="S4-0326"))
    timed(
        "a case read whole, validated and folded",
        lambda i: FilesCaseSource(record.files(f"B{i:05d}")).load(now=None, clock=CLOCK),
    )


def measure_appends(record: Record, folder: Path) -> None:
    def flush(_: int) -> None:
        with (folder / "flush").open("ab") as handle:
            handle.write(b"\0" * 4096)
            handle.flush()
            os.fsync(handle.fileno())

    timed("peer: 4 kB written and flushed", flush)
    logs = [
        open_record_log(record, load_whole(FilesCaseSource(record.files(f"B{i:05d}")), clock=CLOCK), clock=CLOCK)
        for i in range(N_TIMED)
    ]
    n_known = [record.find(f"B{i:05d}").n_events for i in range(N_TIMED)]

    def append(i: int) -> None:
        logs[i].append(Decided(seq=n_known[i] + 1, at=CLOCK.now(), by="lead", decision="wait", reason="soft"))

    timed("an event appended, on the disk", append)
    said = json.dumps({"what": "decided", "decision": "wait", "reason": "soft"})
    timed(
        "the same as a command does: read, check, append",
        lambda i: log_events(
            record, lambda: FilesCaseSource(record.files(f"B{i:05d}")), [said], by="lead", at=None, clock=CLOCK
        ),
    )


def prove(folder: str) -> tuple[float, float, int, bool]:
    """Return seconds, growth of the peak memory in MB, bytes and the verdict; run in a process of its own."""
    record = open_record(Path(folder))
    record.list_cases(PageWish(50))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    verified = verify_record(record.database, record.store)
    seconds = time.perf_counter() - start
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    return seconds, grown, verified.n_bytes, verified.is_sound


def hash_all(record: Record) -> float:
    start = time.perf_counter()
    for name in record.store.names():
        with record.store.path_of(name).open("rb") as handle:
            hashlib.file_digest(handle, "sha256")
    return time.perf_counter() - start


def measure(folder: Path) -> None:
    with databases(folder) as addresses:
        for name in addresses:
            record = open_record(folder / name)
            print(name)
            measure_pages(record)
            measure_appends(record, folder)
            peer_s = hash_all(record)
            with get_context("spawn").Pool(1) as pool:
                seconds, grown_mb, n_bytes, is_sound = pool.apply(prove, (str(folder / name),))
            print(f"  peer: hashing the same files {peer_s:.1f} s, {n_bytes / 1e6 / peer_s:.0f} MB/s")
            print(
                f"  proof {seconds:.1f} s, {n_bytes / 1e6 / seconds:.0f} MB/s, sound: {is_sound}; peak memory +{grown_mb:.0f} MB"
            )
            record.close()


def measure_backups(folder: Path) -> None:
    with databases(folder) as addresses:
        for name in addresses:
            record = open_record(folder / name)
            for what in ("first", "next"):
                start = time.perf_counter()
                done = back_up(record, folder / f"backups-{name}", now=CLOCK.now())
                print(
                    f"{name}: {what} backup {time.perf_counter() - start:.1f} s, {done.n_files_copied} files copied",
                    flush=True,
                )
            record.close()


def kill(folder: Path, n: int, *, each: int = 50) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(int.from_bytes(os.urandom(4)))
    with databases(folder) as addresses:
        for name, address in addresses.items():
            kills = between = acknowledged = 0
            while kills < n:
                place = folder / f"kill-{name}-{kills}"
                schema = "" if address is None else _new_schema(address, f"kill_{kills}")
                record = create_record(
                    place, now=CLOCK.now(), by="lead", database=f"{address}{schema}" if address else None
                )
                bring(record, LOGGED_CASE)
                account = Account()
                for _ in range(min(each, n - kills)):
                    kill_a_writer(place, account, rng)
                check_account(record, account)
                record.close()
                kills, between = kills + account.n_kills, between + account.n_between
                acknowledged += len(account.acknowledged)
            print(
                f"{name}: {kills} kills, {between} of them inside an action; {acknowledged} acknowledged actions, none lost, none by half",
                flush=True,
            )


def _new_schema(address: str, name: str) -> str:
    from sqlalchemy import create_engine, text

    engine = create_engine(address.replace("postgresql:", "postgresql+psycopg:"))
    with engine.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {name}"))
    engine.dispose()
    return f"?options=-csearch_path%3D{name}"


if __name__ == "__main__":
    task, where = sys.argv[1], Path(sys.argv[2])
    given = sys.argv[3] if len(sys.argv) > 3 else ""
    if task == "kill":
        kill(where, int(given or 1000))
    elif task == "build":
        build(where, float(given or 1e9))
    else:
        {"measure": measure, "backup": measure_backups}[task](where)
