"""`seatwright users`: passwords come from the terminal or standard input, never from an argument."""

import getpass
import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from seatwright.cli import main
from seatwright.cli._users_app import users_app

PHRASE = "correct horse battery"
Run = Callable[..., tuple[int, str, str]]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    monkeypatch.setenv("SEATWRIGHT_RECORD", str(tmp_path / "practice"))
    monkeypatch.setenv("SEATWRIGHT_BY", "dentist")

    def run_command(*arguments: str, typed: io.StringIO | None = None) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", typed or io.StringIO())
        with pytest.raises(SystemExit) as ended:
            main(list(arguments))
        said = capsys.readouterr()
        return int(ended.value.code or 0), said.out, said.err

    assert run_command("record", "init")[0] == 0
    return run_command


def test_no_command_takes_a_password_as_an_argument() -> None:
    for command in users_app.registered_commands:
        assert command.callback is not None
        assert set(command.callback.__annotations__) <= {
            "name",
            "role",
            "role_name",
            "by",
            "record",
            "limit",
            "as_json",
            "return",
        }


def test_a_password_is_asked_twice_at_a_terminal(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([PHRASE, "correct horse buttery", PHRASE, PHRASE])
    monkeypatch.setattr(getpass, "getpass", lambda _prompt: next(answers))
    code, _, said = run("users", "add", "dentist", "--role", "dentist", typed=Terminal())
    assert (code, "differ" in said) == (2, True)
    code, said, _ = run("users", "add", "dentist", "--role", "dentist", typed=Terminal())
    assert (code, said) == (0, "dentist (dentist) added.\n")


def test_accounts_are_kept_and_told(run: Run) -> None:
    assert run("users", "list")[1].startswith("No account yet")
    assert run("users", "add", "d", "--role", "dentist", typed=io.StringIO(f"{PHRASE}\n"))[0] == 0
    assert run("users", "add", "t", "--role", "technician", typed=io.StringIO(f"{PHRASE}\n"))[0] == 0
    assert run("users", "role", "t", "reader")[1] == "t (reader) is a reader now.\n"
    assert run("users", "disable", "t")[0] == 0
    code, told, _ = run("users", "list", "--json")
    assert code == 0
    assert [(a["name"], a["role"], a["disabled"]) for a in json.loads(told)["result"]] == [
        ("d", "dentist", False),
        ("t", "reader", True),
    ]
    assert PHRASE not in told
    assert "argon2" not in told
    assert run("users", "enable", "t")[1] == "t (reader) may sign in.\n"
    assert len(run("users", "history")[1].splitlines()) == 5


@pytest.mark.parametrize(
    ("arguments", "typed", "said", "code"),
    [
        (("add", "x", "--role", "dentist"), "short\n", "at least 12", 2),
        (("add", "x", "--role", "dentist"), "", "no password came", 2),
        (("add", "x", "--role", "king"), PHRASE, "is no role", 2),
        (("password", "nobody"), PHRASE, "no account 'nobody'", 2),
        (("disable", "d"), "", "no dentist would be left", 5),
        (("role", "d", "reader"), "", "no dentist would be left", 5),
    ],
)
def test_what_cannot_be_done_is_told(run: Run, arguments: tuple[str, ...], typed: str, said: str, code: int) -> None:
    run("users", "add", "d", "--role", "dentist", typed=io.StringIO(f"{PHRASE}\n"))
    found, _, told = run("users", *arguments, typed=io.StringIO(typed))
    assert (found, said in told) == (code, True), told
