"""Starts the bench page and says where it is, and to whom."""

import ipaddress
import shlex
import socket
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from seatwright import record_wiring, wiring
from seatwright.cli._moment import ShiftedClock, parse_now
from seatwright.errors import InputError
from seatwright.web import LOOPBACK, ServeSettings, check_tls, serve

__all__ = ["ServeWish", "make_settings", "run_serve"]

_EVERYWHERE = "0.0.0.0"  # noqa: S104 - only by --lan, which refuses to start without accounts
_HOW = "docs/how-to/serve-on-the-network.md"


@dataclass(frozen=True, slots=True)
class ServeWish:
    """What the command line asked for; a host of None is chosen by `lan`; `limits` are fields of `ServeSettings`."""

    data: Path
    host: str | None = None
    port: int = 8731
    lan: bool = False
    names: Sequence[str] = ()
    certificate: Path | None = None
    key: Path | None = None
    limits: Mapping[str, Any] = field(default_factory=dict)


def run_serve(wish: ServeWish, *, now: str | None) -> int:
    """Run `seatwright serve` until it is stopped."""
    settings = make_settings(wish)
    sys.stderr.write("\n".join(_greeting(settings)) + "\n")
    serve(settings, clock=ShiftedClock(wiring.SystemClock(), parse_now(now)))
    return 0


def make_settings(wish: ServeWish) -> ServeSettings:
    """Return how the page is served.

    Raises
    ------
    InputError
        Other machines would reach it and nobody could sign in, or certificate and key do not serve.
    """
    host = wish.host or (_EVERYWHERE if wish.lan else LOOPBACK)
    lan = wish.lan or not _is_loopback(host)
    check_tls(wish.certificate, wish.key)
    if lan:
        _require_accounts(wish.data, f"--host {host}" if wish.host else "--lan")
    return ServeSettings(
        data=wish.data,
        host=host,
        port=wish.port,
        lan=lan,
        names=(*wish.names, *(_own_names() if _is_everywhere(host) else ())),
        certificate=wish.certificate,
        private_key=wish.key,
        **wish.limits,
    )


def _require_accounts(data: Path, option: str) -> None:
    from seatwright.record import is_record_folder  # noqa: PLC0415 - for other machines alone

    make = f"seatwright users add dentist-1 --role dentist --by dentist --record {shlex.quote(str(data))}"
    if not is_record_folder(data):
        raise InputError(
            f"{option} lets other machines in, but there is no record in {data}, so nobody could sign in",
            hint=f"seatwright record init --by dentist --record {shlex.quote(str(data))}; then {make}",
        )
    record = wiring.open_record(data)
    try:
        accounts = record_wiring.accounts_of_record(record).list_accounts()
    finally:
        record.close()
    if all(account.is_disabled for account in accounts):
        raise InputError(
            f"{option} lets other machines in, but the record has no account that may sign in", hint=f"first: {make}"
        )


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False  # a name: other machines may well reach what it stands for


def _is_everywhere(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_unspecified
    except ValueError:
        return False


def _own_names() -> tuple[str, ...]:
    """Return what this machine is called on its networks: its own name, and its addresses."""
    import psutil  # noqa: PLC0415 - for other machines alone

    name = socket.gethostname()
    found = [one.address.partition("%")[0] for each in psutil.net_if_addrs().values() for one in each]
    addresses = [text for text in found if _is_address(text)]
    return (name, *(() if "." in name else (f"{name}.local",)), *addresses)


def _is_address(text: str) -> bool:
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


def _greeting(settings: ServeSettings) -> list[str]:
    scheme = "https" if settings.tls else "http"
    places = [settings.host]
    if _is_everywhere(settings.host):
        named = [name for name in settings.names if not (_is_address(name) and _is_out_of_reach(name))]
        places = named or [LOOPBACK]
    urls = [f"{scheme}://{f'[{place}]' if ':' in place else place}:{settings.port}/" for place in places]
    lines = [f"The bench page is at {' or '.join(urls)} (record: {settings.data}). Stop it with Ctrl-C."]
    if settings.lan:
        lines.append("Everybody signs in. It answers to these names alone; --name adds one.")
        if not settings.tls and not _is_loopback(settings.host):
            lines += [
                "This line is NOT encrypted: whoever shares the network can read passwords and cases.",
                f"  -> give --certificate FILE and --key FILE; {_HOW} shows how to make both",
            ]
    return lines


def _is_out_of_reach(text: str) -> bool:
    address = ipaddress.ip_address(text)
    return address.is_loopback or address.is_link_local
