"""How often sign-in failed, and how long to wait before the next try: for each account, and for each address."""

import ipaddress
import math
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

__all__ = ["Attempts"]

_PER_ACCOUNT = 5  # judgement: a person who mistypes; NIST SP 800-63B-4 allows at most 100 in a row
_PER_ADDRESS = 20  # judgement: several people at one tablet
_FIRST_WAIT_S = 30.0  # judgement
_LONGEST_WAIT_S = 900.0  # judgement: an attacker cannot keep somebody from the bench longer than that at a time
_FORGOTTEN = timedelta(hours=1)  # judgement
_KEPT = 10_000  # judgement: names and addresses remembered


@dataclass(frozen=True, slots=True)
class _Failed:
    n: int
    last: datetime
    limit: int

    def wait_s(self, now: datetime) -> float:
        over = self.n - self.limit
        if over < 0:
            return 0.0
        wait = min(_FIRST_WAIT_S * 2.0 ** min(over, 30), _LONGEST_WAIT_S)
        return wait - (now - self.last).total_seconds()


@dataclass(slots=True)
class Attempts:
    """Failed tries since the last success, forgotten after an hour; a name that there is not counts like any other."""

    _failed: OrderedDict[str, _Failed] = field(default_factory=OrderedDict)

    def wait_s(self, name: str, address: str, *, now: datetime) -> int:
        """Return the whole seconds to wait before the next try; 0 when it may be made."""
        waits = [self._failed[key].wait_s(now) for key, _ in _keys(name, address) if key in self._failed]
        return max(0, math.ceil(max(waits, default=0.0)))

    def fail(self, name: str, address: str, *, now: datetime) -> None:
        """Count a try that failed."""
        for key, limit in _keys(name, address):
            before = self._failed.pop(key, None)
            n = before.n if before is not None and now - before.last < _FORGOTTEN else 0
            self._failed[key] = _Failed(n + 1, now, limit)
        while len(self._failed) > _KEPT:
            self._failed.popitem(last=False)

    def succeed(self, name: str) -> None:
        """Forget an account's failures; those of the address stay, since others may try from there."""
        self._failed.pop(_account_key(name), None)


def _keys(name: str, address: str) -> tuple[tuple[str, int], tuple[str, int]]:
    return (_account_key(name), _PER_ACCOUNT), (f"address {_network(address)}", _PER_ADDRESS)


def _account_key(name: str) -> str:
    return f"account {name.casefold()}"


def _network(address: str) -> str:
    """Return what one machine cannot leave by itself: an IPv4 address, or the /64 of an IPv6 address."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    return str(found) if found.version == 4 else str(ipaddress.ip_network((found, 64), strict=False))
