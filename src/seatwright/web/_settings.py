"""How the page is served: where, to whom, how much it takes in one go."""

from dataclasses import dataclass
from pathlib import Path

__all__ = ["LOOPBACK", "ServeSettings"]

LOOPBACK = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class ServeSettings:
    """What `serve` was asked for.

    Attributes
    ----------
    data : Path
        Folder of the practice record.
    host, port : str, int
        Address to listen at.
    lan : bool
        Whether other machines may reach it; then everybody signs in.
    names : tuple of str
        Further names that this server answers to.
    certificate, private_key : Path or None
        For TLS; both or neither.
    max_body_bytes : int
        Largest request that brings no scan.
    max_upload_bytes, max_triangles : int
        Largest scan taken.
    workers : int
        Processes for long work.
    memory_mib : float
        Memory that one piece of long work may take, MiB.
    read_limit_s : float
        Longest time that reading a brought scan may take.
    """

    data: Path
    host: str = LOOPBACK
    port: int = 8731
    lan: bool = False
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    private_key: Path | None = None
    max_body_bytes: int = 2_000_000  # judgement: a plan with all that hangs on it is some 50 kB
    max_upload_bytes: int = 300_000_000  # judgement: six times a 1M-triangle STL
    max_triangles: int = 3_000_000  # judgement: three times the largest cast that the checks were measured on
    workers: int = 2
    memory_mib: float = 4096.0
    read_limit_s: float = 120.0  # judgement: ten times what the largest scan taken needs on a slow machine

    @property
    def hosts(self) -> frozenset[str]:
        """Names, without port, that a request may call this server by."""
        own = {LOOPBACK, "localhost", "::1"}
        if self.host not in ("0.0.0.0", "::"):  # noqa: S104 - compared, not bound
            own.add(self.host.lower())
        return frozenset(own | {name.lower() for name in self.names})

    @property
    def tls(self) -> bool:
        """Whether it is served under TLS."""
        return self.certificate is not None
