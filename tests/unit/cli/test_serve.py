"""`seatwright serve`: other machines are let in only where somebody can sign in, and certificates are looked at first."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest
from argon2 import PasswordHasher as Argon2
from tests.unit.web.signing import PHRASE, START

from seatwright.cli import _serve
from seatwright.cli._serve import ServeWish, make_settings
from seatwright.errors import InputError
from seatwright.record import Accounts, Passwords, create_record
from seatwright.web import check_tls
from seatwright.workflows.accounts import add_account
from seatwright.workflows.rights import Role


@pytest.fixture
def record(tmp_path: Path) -> Path:
    opened = create_record(tmp_path / "practice", now=START, by="lead")
    quick = Passwords(Argon2(time_cost=1, memory_cost=64, parallelism=1))
    add_account(Accounts(opened.database), quick, "dentist", Role.DENTIST, PHRASE, by="lead", now=START)
    opened.close()
    return tmp_path / "practice"


def test_by_default_this_machine_alone_reaches_it_and_nobody_signs_in(tmp_path: Path) -> None:
    settings = make_settings(ServeWish(tmp_path))
    assert (settings.host, settings.lan) == ("127.0.0.1", False)


@pytest.mark.parametrize("asked", [{"lan": True}, {"host": "0.0.0.0"}, {"host": "192.0.2.7"}, {"host": "::"}, {"host": "bench"}, {"lan": True, "host": "127.0.0.1"}])  # fmt: skip
def test_other_machines_are_not_let_in_before_somebody_can_sign_in(tmp_path: Path, asked: dict[str, object]) -> None:
    with pytest.raises(InputError, match="nobody could sign in") as caught:
        make_settings(ServeWish(tmp_path / "nowhere", **asked))
    assert "record init" in caught.value.hint
    create_record(tmp_path / "practice", now=START, by="lead").close()
    with pytest.raises(InputError, match="no account that may sign in") as caught:
        make_settings(ServeWish(tmp_path / "practice", **asked))
    assert "users add dentist-1" in caught.value.hint


def test_a_record_whose_accounts_are_all_disabled_lets_nobody_in(tmp_path: Path) -> None:
    opened = create_record(tmp_path / "practice", now=START, by="lead")
    accounts = Accounts(opened.database)
    new = accounts.add("reader", Role.READER, "x", by="lead", now=START)
    from dataclasses import replace

    from seatwright.workflows.accounts import Deed

    accounts.change(replace(new, is_disabled=True), Deed.DISABLED, by="lead", now=START)
    with pytest.raises(InputError, match="no account that may sign in"):
        make_settings(ServeWish(tmp_path / "practice", lan=True))


def test_on_the_network_everybody_signs_in_and_it_answers_to_its_own_names_alone(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_serve.socket, "gethostname", lambda: "bench-1")
    settings = make_settings(ServeWish(record, lan=True, names=("bench.example",)))
    assert (settings.host, settings.lan) == ("0.0.0.0", True)
    assert {"bench-1", "bench-1.local", "bench.example", "127.0.0.1", "localhost"} <= settings.hosts
    assert "0.0.0.0" not in settings.hosts
    named = make_settings(ServeWish(record, host="192.0.2.7"))
    assert named.lan
    assert named.hosts == {"127.0.0.1", "localhost", "::1", "192.0.2.7"}


def test_an_open_line_is_told_plainly(record: Path) -> None:
    greeting = "\n".join(_serve._greeting(make_settings(ServeWish(record, lan=True))))
    assert "NOT encrypted" in greeting
    assert "--certificate FILE" in greeting
    assert "NOT encrypted" not in "\n".join(_serve._greeting(make_settings(ServeWish(record))))


@pytest.fixture(scope="module")
def pems(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two self-made pairs, and a key with a passphrase, as the how-to makes them."""
    if shutil.which("openssl") is None:
        message = "openssl is absent: install it (Debian: openssl)"
        if "openssl" in os.environ.get("SEATWRIGHT_REQUIRE", "").split(","):
            pytest.fail(message)
        pytest.skip(message)
    folder = tmp_path_factory.mktemp("pems")
    for name in ("one", "two"):
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
             "-keyout", f"{name}.key", "-out", f"{name}.crt", "-days", "2", "-subj", "/CN=bench"],
            cwd=folder, check=True, capture_output=True,
        )  # fmt: skip
    locked = ["openssl", "ec", "-in", "one.key", "-aes128", "-passout", "pass:x", "-out", "locked.key"]
    subprocess.run(locked, cwd=folder, check=True, capture_output=True)
    (folder / "text.pem").write_text("not a certificate\n")
    return folder


def test_a_certificate_with_its_key_is_taken(pems: Path, record: Path) -> None:
    settings = make_settings(ServeWish(record, lan=True, certificate=pems / "one.crt", key=pems / "one.key"))
    assert settings.tls
    assert "https://" in _serve._greeting(settings)[0]
    assert "NOT encrypted" not in "\n".join(_serve._greeting(settings))


@pytest.mark.parametrize(
    ("certificate", "key", "said"),
    [
        ("one.crt", None, "go together"),
        (None, "one.key", "go together"),
        ("absent.crt", "one.key", "--certificate .*absent.crt cannot be read: No such file"),
        ("one.crt", "absent.key", "--key .*absent.key cannot be read"),
        ("one.crt", "two.key", "two.key is not the key of .*one.crt"),
        ("text.pem", "one.key", "are no PEM certificate with its key"),
        ("one.crt", "text.pem", "are no PEM certificate with its key"),
        ("one.crt", "locked.key", "locked by a passphrase"),
        (".", "one.key", "cannot be read: Is a directory"),
    ],
)
def test_a_certificate_that_will_not_do_is_told(
    pems: Path, certificate: str | None, key: str | None, said: str
) -> None:
    with pytest.raises(InputError, match=said) as caught:
        check_tls(pems / certificate if certificate else None, pems / key if key else None)
    assert caught.value.hint
