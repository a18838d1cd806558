"""Clocks: what they promise, not how long things take."""

import ctypes
import threading
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from chamberwatch import clock
from chamberwatch.clock import PacedClock, WallClock, boot_id, kernel_synchronised
from tests.make import NOON


def test_the_wall_clock_is_aware_and_the_monotonic_one_never_steps_back() -> None:
    wall = WallClock()
    assert wall.now().tzinfo is UTC
    first = wall.monotonic()
    assert wall.monotonic() >= first
    assert wall.synchronised() in (True, False)


def test_a_wait_ends_with_its_event() -> None:
    event = threading.Event()
    assert not WallClock().wait(event, -1.0)
    event.set()
    assert WallClock().wait(event, 3600.0)
    assert PacedClock(NOON, 60.0).wait(event, 3600.0)


def test_the_paced_clock_stands_until_it_goes() -> None:
    paced = PacedClock(NOON, 3600.0)
    assert (paced.now(), paced.monotonic()) == (NOON, 0.0)
    paced.go()
    paced.wait(threading.Event(), 36.0)
    elapsed_s = paced.monotonic()
    assert elapsed_s >= 36.0
    assert paced.now() - NOON >= timedelta(seconds=elapsed_s)
    paced.go()
    assert paced.monotonic() >= elapsed_s
    assert paced.synchronised()
    assert paced.wall().tzinfo is UTC


def test_the_boot_has_a_name_even_where_the_kernel_gives_none(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert boot_id() == boot_id()
    monkeypatch.setattr(clock, "_BOOT_FILE", tmp_path / "none")
    assert boot_id() != boot_id()


class _Libc:
    def __init__(self, state: int, status: int) -> None:
        self._state, self._status = state, status

    def adjtimex(self, buffer: "ctypes.Array[ctypes.c_char]") -> int:
        offset = ctypes.sizeof(ctypes.c_long) * 5
        ctypes.c_int.from_buffer(buffer, offset).value = self._status
        return self._state


@pytest.mark.parametrize(
    ("state", "status", "right"),
    [
        pytest.param(0, 0x0001, True, id="held by a time service"),
        pytest.param(5, 0x0040, False, id="not synchronised"),
        pytest.param(0, 0x0040, False, id="flag alone"),
        pytest.param(-1, 0, True, id="the kernel refuses to say"),
    ],
)
def test_what_the_kernel_says(
    monkeypatch: pytest.MonkeyPatch, state: int, status: int, right: bool
) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda *_a, **_k: _Libc(state, status))
    assert kernel_synchronised() is right


def test_a_machine_without_the_call(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda *_a, **_k: object())
    assert kernel_synchronised() is True
