"""A private PostgreSQL server on loopback for the tests that need one: made in a temporary folder, gone afterwards."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["find_server_programs", "running_server"]


def find_server_programs() -> Path | None:
    """Return the folder with initdb and pg_ctl, the newest version first; None when PostgreSQL is not installed."""
    on_path = shutil.which("initdb")
    places = [Path(on_path).parent] if on_path else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name), reverse=True)
    return next((place for place in places if (place / "initdb").exists() and (place / "pg_ctl").exists()), None)


@contextmanager
def running_server(programs: Path) -> Iterator[str]:
    """Start a server on a free loopback port as an unprivileged user; yield its URL; stop it and clear it away."""
    folder = Path(tempfile.mkdtemp(prefix="seatwright-postgres-"))
    as_server: list[str] = []
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_server = ["runuser", "-u", "postgres", "--"]
    data, port = folder / "data", _free_port()

    def run(program: str, *arguments: str) -> None:
        command = [*as_server, str(programs / program), *arguments]
        subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL)

    try:
        run("initdb", "-D", str(data), "-U", "seatwright", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        options = f"-c listen_addresses=127.0.0.1 -c port={port} -c unix_socket_directories={folder}"
        run("pg_ctl", "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://seatwright@127.0.0.1:{port}/postgres"
        finally:
            run("pg_ctl", "-D", str(data), "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
