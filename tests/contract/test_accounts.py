"""Accounts of the record, on both databases: rules, entries in the chain, backups, and changes made past them."""

from collections.abc import Callable
from pathlib import Path

import pytest
from argon2 import PasswordHasher as Argon2
from argon2 import extract_parameters
from argon2.low_level import Type
from sqlalchemy import text
from tests.contract.conftest import START, Practice

from seatwright.errors import ConflictError, InputError, RecordError
from seatwright.record import Accounts, Passwords, back_up, restore, verify_record
from seatwright.workflows.accounts import Access, add_account, change_password, change_role, check_sign_in, set_disabled
from seatwright.workflows.rights import Role

QUICK = Passwords(Argon2(time_cost=1, memory_cost=64, parallelism=1))
PHRASE = "correct horse battery"


def _store(practice: Practice) -> Accounts:
    return Accounts(practice.record.database)


@pytest.fixture
def store(practice: Practice) -> Accounts:
    store = _store(practice)
    for name, role in (("dentist", Role.DENTIST), ("technician-1", Role.TECHNICIAN)):
        add_account(store, QUICK, name, role, PHRASE, by="lead", now=practice.clock.now())
    return store


def test_an_account_is_there_after_the_record_was_closed_and_opens_with_its_password(
    practice: Practice, store: Accounts
) -> None:
    practice.record.close()
    again = Accounts(practice.reopen().database)
    assert [(a.name, a.role) for a in again.list_accounts()] == [
        ("dentist", Role.DENTIST),
        ("technician-1", Role.TECHNICIAN),
    ]
    account = check_sign_in(again, QUICK, "Technician-1", PHRASE)
    assert account is not None
    assert account.role is Role.TECHNICIAN
    assert check_sign_in(again, QUICK, "technician-1", PHRASE + " ") is None
    assert check_sign_in(again, QUICK, "nobody", PHRASE) is None


def test_the_last_dentist_is_neither_locked_out_nor_given_another_role(practice: Practice, store: Accounts) -> None:
    now = practice.clock.now()
    with pytest.raises(ConflictError, match="no dentist would be left"):
        set_disabled(store, "dentist", disabled=True, by="lead", now=now)
    with pytest.raises(ConflictError, match="no dentist would be left"):
        change_role(store, "dentist", Role.READER, by="lead", now=now)
    change_role(store, "technician-1", Role.DENTIST, by="lead", now=now)
    assert set_disabled(store, "dentist", disabled=True, by="lead", now=now).is_disabled
    assert check_sign_in(store, QUICK, "dentist", PHRASE) is None
    with pytest.raises(ConflictError):
        set_disabled(store, "technician-1", disabled=True, by="lead", now=now)


def test_two_changes_made_from_one_look_do_not_both_pass(practice: Practice, store: Accounts) -> None:
    looked_at = store.find("technician-1")
    assert looked_at
    change_password(store, QUICK, "technician-1", "another horse battery", by="lead", now=practice.clock.now())

    class Stale(Accounts):
        def find(self, name: str):
            return looked_at

    with pytest.raises(ConflictError, match="changed by somebody else"):
        set_disabled(
            Stale(practice.record.database), "technician-1", disabled=True, by="lead", now=practice.clock.now()
        )


@pytest.mark.parametrize(
    ("name", "password", "said"),
    [
        ("x", "eleven char", "has 11 characters; it needs at least 12"),
        ("x", "aaaaaaaaaaaaaaa", "tried first"),
        ("technician-2", "technician-2technician-2", "tried first"),
        ("x", "ab cd " * 60, "more than 256"),
        ("Page", PHRASE, "cannot be an account's name"),
        ("a\nb", PHRASE, "cannot be an account's name"),
        ("x" * 33, PHRASE, "cannot be an account's name"),
        ("", PHRASE, "cannot be an account's name"),
    ],
)
def test_a_name_or_password_that_will_not_do_is_told(practice: Practice, name: str, password: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        add_account(_store(practice), QUICK, name, Role.READER, password, by="lead", now=START)


def test_a_name_is_taken_in_whatever_case_it_is_written(practice: Practice, store: Accounts) -> None:
    with pytest.raises(ConflictError, match="already"):
        add_account(store, QUICK, "DENTIST", Role.READER, PHRASE, by="lead", now=practice.clock.now())


def test_everything_done_to_and_with_an_account_stands_in_the_chain(practice: Practice, store: Accounts) -> None:
    set_disabled(store, "technician-1", disabled=True, by="dentist", now=practice.clock.now())
    store.tell(Access.SIGNED_IN, account="dentist", address="192.0.2.7", now=practice.clock.now())
    store.tell(Access.REFUSED, account="", address="192.0.2.9", now=practice.clock.now())
    rows = store.history(limit=4)
    assert [(row.what, row.account, row.by, row.said) for row in rows] == [
        ("refused", "", "page", "192.0.2.9"),
        ("signed_in", "dentist", "dentist", "192.0.2.7"),
        ("disabled", "technician-1", "dentist", "technician, disabled"),
        ("added", "technician-1", "lead", "technician"),
    ]
    verified = verify_record(practice.record.database, practice.record.store)
    assert verified.is_sound, verified.damages
    with practice.record.database.reading() as connection:
        bodies = connection.execute(text("SELECT body FROM entry WHERE kind = 'account'")).scalars().all()
    assert bodies
    assert not any(b"argon2" in bytes(body) for body in bodies)


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE account SET role = 'dentist' WHERE name = 'technician-1'",
        "UPDATE account SET is_disabled = 1 WHERE name = 'technician-1'",
        "UPDATE account SET password_hash = password_hash || 'x' WHERE name = 'technician-1'",
        "DELETE FROM account WHERE name = 'technician-1'",
    ],
)
def test_an_account_changed_past_the_record_is_told_as_damage(practice: Practice, store: Accounts, change: str) -> None:
    with practice.record.database.writing() as connection:
        connection.execute(text(change))
    damages = verify_record(practice.record.database, practice.record.store).damages
    assert [damage.where for damage in damages] == ["account technician-1"]


def test_an_entry_of_an_unknown_kind_is_refused_by_the_database(practice: Practice) -> None:
    values = "(2, 'x', 'x', '', 'gossip', '', 'x', 'x', 'x', '', NULL)"
    with pytest.raises(RecordError), practice.record.database.writing() as connection:
        connection.execute(text(f"INSERT INTO entry VALUES {values}"))


def test_a_backup_brings_the_accounts_back_and_an_older_record_up(
    practice: Practice, store: Accounts, tmp_path: Path, new_address: Callable[[], str | None]
) -> None:
    back_up(practice.record, tmp_path / "backups", now=practice.clock.now())
    address = new_address()
    assert restore(tmp_path / "backups", tmp_path / "again", database=address).verified.is_sound
    set_disabled(store, "technician-1", disabled=True, by="dentist", now=practice.clock.now())
    add_account(store, QUICK, "reader", Role.READER, PHRASE, by="dentist", now=practice.clock.now())
    back_up(practice.record, tmp_path / "backups", now=practice.clock.now())
    again = restore(tmp_path / "backups", tmp_path / "again")
    assert again.verified.is_sound, again.verified.damages
    from seatwright.record import open_record

    accounts = Accounts(open_record(tmp_path / "again").database)
    assert accounts.list_accounts() == store.list_accounts()
    assert check_sign_in(accounts, QUICK, "reader", PHRASE) is not None


def test_a_password_is_kept_as_argon2id_with_the_parameters_of_rfc_9106() -> None:
    # RFC 9106 (2021), 4, second recommended option: Argon2id, t = 3, p = 4, m = 2^16 KiB, 16 bytes salt, 32 bytes tag
    found = extract_parameters(Passwords().hash(PHRASE))
    assert (found.type, found.time_cost, found.parallelism, found.memory_cost) == (Type.ID, 3, 4, 2**16)
    assert (found.salt_len, found.hash_len) == (16, 32)


def test_a_name_that_there_is_not_costs_the_same_check(practice: Practice, store: Accounts) -> None:
    """As many hashes are checked, of the same parameters: nothing of it depends on whether there is an account."""
    checked: list[str] = []

    class Counting(Argon2):
        def verify(self, *given: str) -> bool:
            checked.append(given[0])
            return super().verify(*given)

    hasher = Passwords(Counting(time_cost=1, memory_cost=64, parallelism=1))
    set_disabled(store, "technician-1", disabled=True, by="dentist", now=practice.clock.now())
    for name in ("dentist", "nobody", "technician-1"):
        checked.clear()
        assert check_sign_in(store, hasher, name, "wrong horse battery") is None
        assert len(checked) == 1
        assert extract_parameters(checked[0]) == extract_parameters(QUICK.hash("x"))
