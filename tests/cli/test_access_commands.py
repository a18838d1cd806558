"""`passcode`, `token` and `calendar` as a person types them, and when the network may come in."""

import io
import json
import os
import pty
import sqlite3
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from chamberwatch.cli import main
from chamberwatch.clock import WallClock
from chamberwatch.service.admission import PASSCODE_NAME, Admission, WrongPasscodeError
from chamberwatch.storage.book import kept_text, open_books
from chamberwatch.web.hashing import Argon2
from tests.brokers import free_port, wait_until

Run = Callable[..., tuple[int, str, str]]

PASSCODE = "wet straw in june"
SETTINGS = """
[database]
url = "sqlite:///{file}"
[web]
host = "{host}"
port = {port}
[mqtt]
port = {broker}
[[chamber]]
name = "tent"
stage = "fruiting"
"""
EVERY = "0.0.0.0"  # noqa: S104 - what a grower writes; nothing is bound to it here


class Home:
    """A settings file, and the database that it names."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "cw.db"
        self.config = folder / "chamberwatch.toml"
        self.port = free_port()
        self.write("127.0.0.1")

    def write(self, host: str) -> None:
        """Write the settings anew, for this host."""
        text = SETTINGS.format(file=self.file, host=host, port=self.port, broker=free_port())
        self.config.write_text(text, encoding="utf-8")

    def kept(self) -> str | None:
        return kept_text(f"sqlite:///{self.file}", PASSCODE_NAME)

    def opens_with(self, passcode: str) -> bool:
        clock = WallClock()
        books = open_books(f"sqlite:///{self.file}", clock.now())
        try:
            return bool(Admission(books, clock, Argon2()).let_in(passcode, "here"))
        except WrongPasscodeError:
            return False
        finally:
            books.close()


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Home) -> Run:
    def typed(*words: str, stdin: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.StringIO(stdin))
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words, "--config", str(home.config)])
        with pytest.raises(SystemExit) as left:
            main()
        told = capsys.readouterr()
        code = left.value.code
        return (code if isinstance(code, int) else 0), told.out, told.err

    return typed


# ------------------------------------------------------------------ passcode


def test_set_and_changed_from_a_pipe(run: Run, home: Home) -> None:
    code, out, _ = run("passcode", stdin=f"{PASSCODE}\n")
    assert (code, out.splitlines()[0]) == (0, "The passcode is set.")
    first = home.kept()
    assert first is not None
    assert first.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert home.opens_with(PASSCODE)
    code, out, _ = run("passcode", stdin="another good one")
    assert (code, out.splitlines()[:2]) == (
        0,
        [
            "The passcode was changed.",
            "Everybody is logged out; tokens of programs go on working.",
        ],
    )
    assert home.kept() != first
    assert not home.opens_with(PASSCODE)
    assert home.opens_with("another good one")


@pytest.mark.parametrize(
    ("stdin", "says"),
    [
        pytest.param("", "there were 0", id="nothing"),
        pytest.param(f"{PASSCODE}\n{PASSCODE}\n", "there were 2", id="two-lines"),
        pytest.param("short\n", "at least 8", id="short"),
        pytest.param("12345678\n", "anybody tries", id="easy"),
    ],
)
def test_refused_from_a_pipe(run: Run, home: Home, stdin: str, says: str) -> None:
    code, _, err = run("passcode", stdin=stdin)
    assert code == 1
    assert says in err
    assert home.kept() is None


@pytest.mark.parametrize(
    ("answers", "says", "kept"),
    [
        pytest.param([PASSCODE, PASSCODE], "The passcode is set.", True, id="twice-the-same"),
        pytest.param([PASSCODE, "wet straw in july"], "not the same", False, id="differ"),
    ],
)
def test_asked_for_twice_at_a_terminal_and_not_shown(
    home: Home, answers: list[str], says: str, kept: bool
) -> None:
    ours, theirs = pty.openpty()
    words = [sys.executable, "-m", "chamberwatch", "passcode", "--config", str(home.config)]
    # A session of its own, so that the terminal becomes the one it asks at.
    typing = subprocess.Popen(
        ["setsid", "--ctty", *words], stdin=theirs, stdout=theirs, stderr=theirs
    )
    os.close(theirs)
    shown, asked = "", ["New passcode: ", "The same once more: "]
    while True:
        try:
            piece = os.read(ours, 4096).decode()
        except OSError:
            break  # the other end is closed
        if not piece:
            break
        shown += piece
        if asked and asked[0] in shown:
            asked.pop(0)
            os.write(ours, f"{answers.pop(0)}\n".encode())
    os.close(ours)
    typing.wait(30)
    assert asked == []
    assert says in shown
    assert "straw" not in shown
    assert (home.kept() is not None) is kept


def test_removed_where_only_this_machine_comes_in(run: Run, home: Home) -> None:
    assert "nothing was changed" in run("passcode", "--remove")[1]
    run("passcode", stdin=PASSCODE)
    home.write(EVERY)
    code, _, err = run("passcode", "--remove")
    assert code == 1
    assert "Set web.host to 127.0.0.1 first" in err
    assert home.opens_with(PASSCODE)
    home.write("127.0.0.1")
    code, out, _ = run("passcode", "--remove")
    assert (code, out.startswith("The passcode was removed")) == (0, True)
    assert not home.kept()


# ------------------------------------------------------------------ the network


@pytest.mark.parametrize("command", ["run", "check"])
@pytest.mark.parametrize("host", [EVERY, "::", "192.0.2.4"])
def test_a_wider_address_needs_a_passcode(run: Run, home: Home, command: str, host: str) -> None:
    home.write(host)
    code, _, err = run(command)
    assert code == 2
    assert f'web.host = "{host}": This lets the network in, and no passcode is set.' in err
    assert f"chamberwatch passcode --config {home.config}" in err


def test_check_makes_no_database(run: Run, home: Home) -> None:
    home.write(EVERY)
    run("check")
    assert not home.file.exists()


def test_with_a_passcode_a_wider_address_is_fine(run: Run, home: Home) -> None:
    home.write(EVERY)
    assert run("passcode", stdin=PASSCODE)[0] == 0
    assert run("check")[0] == 0
    # An address for documents, that no machine has: past the passcode, it fails at the port.
    home.write("192.0.2.4")
    code, _, err = run("run")
    assert code == 1
    assert f"Port {home.port} on 192.0.2.4" in err


@pytest.mark.parametrize(
    ("address", "warned"),
    [
        pytest.param("https://tent.example", True, id="over TLS"),
        pytest.param("http://tent.example:8642", False, id="without"),
    ],
)
def test_check_warns_of_a_proxy_without_a_passcode(
    run: Run, home: Home, address: str, warned: bool
) -> None:
    home.write("127.0.0.1")
    text = home.config.read_text(encoding="utf-8")
    stated = text.replace("[mqtt]", f'address = "{address}"\n[mqtt]')
    home.config.write_text(stated, encoding="utf-8")
    code, out, _ = run("check")
    words = f"Set one: chamberwatch passcode --config {home.config}"
    assert (code, words in out) == (0, warned)
    assert not home.file.exists()
    run("passcode", stdin=PASSCODE)
    code, out, _ = run("check")
    assert (code, words in out) == (0, False)


# ------------------------------------------------------------------ tokens and calendar


def test_tokens_from_first_to_last(run: Run, home: Home) -> None:
    assert "No program has a token." in run("token", "list")[1]
    code, secret, err = run("token", "new", "a lamp")
    assert code == 0
    assert len(secret.strip()) == 43
    assert "Token 1, for a lamp. It can't be read again" in err
    with sqlite3.connect(home.file) as file:
        assert secret.strip() not in "".join(file.iterdump())
    file.close()
    listed = run("token", "list")[1]
    assert listed.startswith("1: a lamp, made ")
    assert listed.endswith("never used\n")
    assert run("token", "revoke", "1")[1] == "Token 1 (a lamp) opens nothing from now on.\n"
    assert "never used, revoked" in run("token", "list")[1]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        pytest.param(("token", "revoke", "9"), 1, "There is no token 9", id="no-such"),
        pytest.param(("token", "revoke", "0"), 2, "equal to 1", id="no-number"),
        pytest.param(("token", "new", " "), 1, "Name the program", id="no-name"),
    ],
)
def test_tokens_refused(run: Run, words: tuple[str, ...], code: int, says: str) -> None:
    left, _, err = run(*words)
    assert left == code
    assert says in err


def test_the_address_of_the_calendar(run: Run, home: Home) -> None:
    first = run("calendar")[1]
    assert first.startswith(f"http://localhost:{home.port}/calendar/")
    assert run("calendar")[1] == first
    second = run("calendar", "--new-address")[1]
    assert second != first
    assert run("calendar")[1] == second


# ------------------------------------------------------------------ beside a running daemon


def fetch(port: int, path: str, **headers: str) -> tuple[int, Any]:
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=10) as answer:  # noqa: S310
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, json.load(refused)


def test_what_is_set_beside_a_running_daemon_holds_at_once(run: Run, home: Home) -> None:
    words = [sys.executable, "-m", "chamberwatch", "run", "--config", str(home.config)]
    daemon = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    assert daemon.stderr is not None
    heard: list[str] = []
    ear = threading.Thread(target=heard.extend, args=(daemon.stderr,))
    ear.start()

    def status(**headers: str) -> int:
        return fetch(home.port, "/api/v1/chambers", **headers)[0]

    try:
        wait_until(lambda: any("The page is at" in line for line in heard), "the daemon serves")
        assert status() == 200
        run("passcode", stdin=PASSCODE)
        assert status() == 401
        secret = run("token", "new", "a lamp")[1].strip()
        assert status(Authorization=f"Bearer {secret}") == 200
        assert "last used" in run("token", "list")[1]
        run("token", "revoke", "1")
        assert status(Authorization=f"Bearer {secret}") == 401
        run("passcode", "--remove")
        assert status() == 200
    finally:
        daemon.terminate()
        assert daemon.wait(40) == 0
        ear.join()
        daemon.stderr.close()
    assert PASSCODE not in "".join(heard)
