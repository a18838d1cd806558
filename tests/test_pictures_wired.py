"""The parts of the pictures, joined: made where somebody takes them, and missed once."""

import logging
import sys
from dataclasses import replace
from datetime import UTC
from pathlib import Path

import pytest

from chamberwatch.core.shown_in import ShownIn
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.notify.picture import Painter
from chamberwatch.service.books import OutKind, OutRow, OutState
from chamberwatch.wiring.pictures import pictures
from tests.fakes import Phone
from tests.make import NOON
from tests.service.machine import Bench

ROW = OutRow(0, 1, 1, "phone", "t", "b", Priority.LOW, OutState.SENDING, NOON, NOON)
TRIAL = replace(ROW, kind=OutKind.TRIAL)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    made = Bench(tmp_path)
    made.minutes_of("humidity", 76.0, 5)
    made.intake.commit()
    return made


@pytest.mark.skipif(bool(Painter().missing), reason=Painter().missing)
def test_a_reading_becomes_a_picture(bench: Bench) -> None:
    phones = [Phone(), Phone(pictures=True)]
    picture = pictures(bench.sql, bench.clock, bench.house, UTC, phones, ShownIn())
    assert picture is not None
    assert (picture(TRIAL, None) or b"").startswith(b"\x89PNG")


def test_where_nobody_takes_any_there_are_none(bench: Bench) -> None:
    assert pictures(bench.sql, bench.clock, bench.house, UTC, [Phone()], ShownIn()) is None


def test_what_is_missing_is_said_once(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    caplog.set_level(logging.WARNING)
    phones = [Phone(pictures=True), Phone(pictures=True)]
    assert pictures(bench.sql, bench.clock, bench.house, UTC, phones, ShownIn()) is None
    assert caplog.text.count("Messages carry no pictures") == 1
