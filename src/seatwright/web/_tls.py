"""Certificate and key, looked at before the server starts, so that what is wrong is told in words."""

import ssl
from pathlib import Path

from seatwright.errors import InputError

__all__ = ["check_tls"]

_HELP = "docs/how-to/serve-on-the-network.md shows how to make both"


def check_tls(certificate: Path | None, private_key: Path | None) -> None:
    """Raise `InputError` where the two do not make a server that browsers can talk to; both may be absent.

    Raises
    ------
    InputError
        One is missing, cannot be read, is no PEM file, is locked by a passphrase, or they do not belong together.
    """
    if certificate is None and private_key is None:
        return
    if certificate is None or private_key is None:
        raise InputError("--certificate and --key go together", hint=_HELP)
    for option, path in (("--certificate", certificate), ("--key", private_key)):
        try:
            path.read_bytes()
        except OSError as error:
            raise InputError(f"{option} {path} cannot be read: {error.strerror}", hint=_HELP) from error
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, private_key, password=_no_passphrase)
    except ssl.SSLError as error:
        raise InputError(_said(error, certificate, private_key), hint=_HELP) from error


def _no_passphrase() -> str:
    raise InputError("the key is locked by a passphrase", hint="give a key without one, readable by this user alone")


def _said(error: ssl.SSLError, certificate: Path, private_key: Path) -> str:
    if error.reason == "KEY_VALUES_MISMATCH":
        return f"{private_key} is not the key of {certificate}"
    return f"{certificate} and {private_key} are no PEM certificate with its key ({error.reason or 'unreadable'})"
