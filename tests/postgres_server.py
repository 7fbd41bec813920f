"""A private PostgreSQL server on loopback for the tests that need one: made in a temporary folder, gone afterwards."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["Server", "find_server_programs", "require_server_programs", "running_server"]


def find_server_programs() -> Path | None:
    """Return the folder with initdb and pg_ctl, the newest version first; None when PostgreSQL is not installed."""
    on_path = shutil.which("initdb")
    places = [Path(on_path).parent] if on_path else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name), reverse=True)
    return next((place for place in places if (place / "initdb").exists() and (place / "pg_ctl").exists()), None)


def require_server_programs() -> Path:
    """Return `find_server_programs`; where there are none skip, or fail when SEATWRIGHT_REQUIRE names postgres."""
    programs = find_server_programs()
    if programs is None:
        message = "PostgreSQL is absent: install it (Debian: postgresql), or set SEATWRIGHT_POSTGRES_URL"
        if "postgres" in os.environ.get("SEATWRIGHT_REQUIRE", "").split(","):
            pytest.fail(message)
        pytest.skip(message)
    return programs


@dataclass(frozen=True)
class Server:
    """A server that a test may stop and start."""

    programs: Path
    folder: Path
    port: int

    @property
    def url(self) -> str:
        return f"postgresql://seatwright@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        options = f"-c listen_addresses=127.0.0.1 -c port={self.port} -c unix_socket_directories={self.folder}"
        self._run("pg_ctl", "-D", "data", "-w", "-l", "log", "-o", options, "start")

    def crash(self) -> None:
        """End it at once, as a power cut would: no shutdown, recovery at the next start."""
        self._run("pg_ctl", "-D", "data", "-w", "-m", "immediate", "stop")

    def make(self) -> None:
        self._run("initdb", "-D", "data", "-U", "seatwright", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")

    def _run(self, program: str, *arguments: str) -> None:
        as_server = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        command = [*as_server, str(self.programs / program), *arguments]
        subprocess.run(command, check=True, cwd=self.folder, stdout=subprocess.DEVNULL)


@contextmanager
def running_server(programs: Path, *, data: Path | None = None) -> Iterator[Server]:
    """Start a server on a loopback port as an unprivileged user; stop it and clear it away afterwards.

    One whose `data` folder is named stays there, with its port, to be started again.
    """
    if data is not None:
        with _kept_server(programs, data) as server:
            yield server
        return
    folder = Path(tempfile.mkdtemp(prefix="seatwright-postgres-"))
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
    server = Server(programs, folder, _free_port())
    try:
        server.make()
        server.start()
        try:
            yield server
        finally:
            server.crash()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _kept_server(programs: Path, folder: Path) -> Iterator[Server]:
    is_new = not folder.exists()
    folder.mkdir(exist_ok=True)
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
    port = folder / "port"
    if is_new:
        port.write_text(str(_free_port()))
    server = Server(programs, folder, int(port.read_text()))
    if is_new:
        server.make()
    server.start()
    try:
        yield server
    finally:
        server.crash()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
