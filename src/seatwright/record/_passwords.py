"""Password hashes by Argon2id, slow on purpose; their parameters stand in each hash."""

import secrets

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

__all__ = ["Passwords"]


class Passwords:
    """Implements `workflows.accounts.PasswordHasher`.

    Parameters are the library's, RFC 9106, 4, second recommended option: 64 MiB, three passes, four lanes.
    """

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher()
        self._nobodys = self._hasher.hash(secrets.token_hex(16))

    def hash(self, password: str) -> str:
        """Return a salted hash."""
        return self._hasher.hash(password)

    def fits(self, stored: str | None, password: str) -> bool:
        """Whether a password has this hash; where there is none, False after checking a hash that nothing has."""
        try:
            self._hasher.verify(stored or self._nobodys, password)
        except (VerificationError, InvalidHashError):
            return False
        return stored is not None
