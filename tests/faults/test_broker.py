"""The broker goes away in the ways brokers do; the daemon comes back to it without a hand."""

import secrets
import signal
import subprocess
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

import pytest

from chamberwatch.storage.columns import to_micros
from tests.brokers import MOSQUITTO, NO_MOSQUITTO, visiting, wait_until
from tests.faults.flow import (
    HOUSE,
    PAIRS,
    READINGS,
    Sender,
    assert_all_kept,
    humidity_at,
    sent_more,
    taken_in,
    three_hours_ago,
)
from tests.faults.processes import DaemonProcess, daemon_at

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason=NO_MOSQUITTO)

AUTOSAVE_S: Final = 30.0
"""`autosave_interval` of deploy/broker.conf, which the test's broker has too."""
BACK_S: Final = 60.0
"""The client waits longer after each vain try; a minute is the longest it may take."""


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[DaemonProcess]:
    with daemon_at(tmp_path) as made:
        made.settle(HOUSE)
        made.start()
        yield made


def test_a_broker_that_is_restarted_costs_nothing(daemon: DaemonProcess) -> None:
    with visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            for _ in range(2):
                sent_more(sender)
                daemon.broker.stop()
                wait_until(lambda: daemon.says("broker"), "it says that the broker is away")
                daemon.broker.start()
                wait_until(lambda: not daemon.troubles(), "it is back by itself", BACK_S)
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert daemon.end() == 0, daemon.log()
        assert_all_kept(daemon, sender, accepted)


def test_a_broker_that_stands_still_costs_nothing(daemon: DaemonProcess) -> None:
    with visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            sent_more(sender)
            daemon.broker.signal(signal.SIGSTOP)
            # What is sent now waits in the socket or with the sender.
            sent_more(sender)
            daemon.broker.signal(signal.SIGCONT)
            sent_more(sender)
        accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert daemon.end() == 0, daemon.log()
        assert_all_kept(daemon, sender, accepted)


def test_without_a_broker_it_starts_says_so_and_waits(tmp_path: Path) -> None:
    with daemon_at(tmp_path) as daemon:
        daemon.settle(HOUSE)
        daemon.broker.stop()
        daemon.start(awaited=False)
        wait_until(lambda: daemon.says("broker"), "it says so")
        daemon.broker.start()
        wait_until(lambda: not daemon.troubles(), "it finds the broker by itself", BACK_S)
        with visiting(daemon.broker) as client:
            sender = Sender(client, three_hours_ago())
            with sender.sending():
                sent_more(sender)
            accepted = sender.accepted()
        taken_in(daemon, accepted)
        assert_all_kept(daemon, sender, accepted)


def test_a_broker_that_refuses_for_a_while_costs_nothing(tmp_path: Path) -> None:
    passwords, secret = tmp_path / "passwords", secrets.token_hex()
    passwords.write_text(f"sensors:{secret}\n")
    subprocess.run(["mosquitto_passwd", "-U", str(passwords)], check=True)
    with daemon_at(tmp_path, log=f"\npassword_file {passwords}\n") as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        with visiting(daemon.broker, "sensors", secret) as client:
            sender = Sender(client, three_hours_ago())
            with sender.sending():
                sent_more(sender)
                _restart(daemon, "allow_anonymous true", "allow_anonymous false")
                wait_until(lambda: daemon.says("does not let us in"), "it says why", BACK_S)
                sent_more(sender)
                _restart(daemon, "allow_anonymous false", "allow_anonymous true")
                wait_until(lambda: not daemon.troubles(), "it is back by itself", BACK_S)
            accepted = sender.accepted()
            taken_in(daemon, accepted)
            assert daemon.end() == 0, daemon.log()
            assert_all_kept(daemon, sender, accepted)


def _restart(daemon: DaemonProcess, old: str, new: str) -> None:
    """Restart the broker with a line of its settings changed."""
    settings = daemon.broker.folder / "mosquitto.conf"
    text = settings.read_text()
    assert old in text
    daemon.broker.stop()
    settings.write_text(text.replace(old, new))
    daemon.broker.start()


def test_what_waited_is_told_from_what_is_new_also_without_a_pause(
    daemon: DaemonProcess, record_property: Callable[[str, object], None]
) -> None:
    """Many chambers never fall silent, so that no silence tells where the queue has its end."""

    def dated() -> set[int]:
        return {0, *(round(v) for _, v in daemon.rows(READINGS.format("untimed")))}

    with visiting(daemon.broker) as client:
        sender = Sender(client, three_hours_ago())
        with sender.sending():
            sent_more(sender)
            assert daemon.end() == 0, daemon.log()
            off = len(sender.pairs)
            sent_more(sender)
            waiting = len(sender.pairs)
            wait_until(lambda: sender.confirmed(waiting), "the broker has all of that")
            daemon.start()
            back = len(sender.pairs)
            wait_until(lambda: max(dated()) > back, "what is new has a time again")
        sent = sender.accepted()
        taken_in(daemon, sent)
        assert daemon.end() == 0, daemon.log()
    undated = {round(value) for (value,) in daemon.rows("select value from undated")}
    record_property(
        "told", f"{len(undated)} without a time, of {back - off} sent while it was off"
    )
    # Without a time is all that was sent while it was off, and a little around that: what it had
    # not confirmed, and what came until the mark.
    assert undated == set(range(min(undated), max(undated) + 1))
    assert min(undated) <= off
    assert max(undated) >= waiting
    assert dated() | undated == set(range(sent + 1))
    # What it had taken in and could not confirm any more at its end came again.
    assert max(dated() & undated, default=0) <= off


QUEUE: Final = 300
"""Messages that the broker keeps for who is away; with the settings we ship they are unlimited."""


def test_a_full_broker_loses_what_it_throws_away_and_no_more(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    with daemon_at(tmp_path, log=f"\nmax_queued_messages {QUEUE}\n") as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        assert daemon.end() == 0, daemon.log()
        with visiting(daemon.broker) as client:
            sender = Sender(client, three_hours_ago())
            with sender.sending():
                wait_until(lambda: len(sender.pairs) > 2 * QUEUE, "more is sent than it keeps")
                daemon.start()
                back = len(sender.pairs)
                sent_more(sender)
            accepted = sender.accepted()
            last = to_micros(sender.timed()[-1][0])
            wait_until(
                lambda: (last, humidity_at(accepted - 1)) in daemon.rows(READINGS.format("timed")),
                "the last one is stored",
            )
            assert daemon.end() == 0, daemon.log()
        kept = [(time - to_micros(sender.begin)) // 10**6 for time, _ in sorted(_timed(daemon))]
        lost = sorted(set(range(accepted)) - set(kept))
        record_property("told", f"{len(lost)} of {accepted} pairs did not fit into its queue")
        assert len(kept) == len(set(kept))
        # The oldest fit, half of them timed; whatever came after it was back is there.
        assert QUEUE // 2 <= lost[0] < back
        assert lost[-1] < back
        assert daemon.number("select count(*) from rejects") == 0


def _timed(daemon: DaemonProcess) -> Sequence[tuple[int, float]]:
    return daemon.rows(READINGS.format("timed"))


@pytest.mark.long
def test_a_killed_broker_forgets_half_a_minute_of_its_queue_and_no_more(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """The settings we ship let the broker write its queue down every 30 s.

    So a kill of the broker may cost what it took in within that time and had not handed over:
    the daemon is off meanwhile, so that everything waits in the queue.
    """
    with daemon_at(tmp_path) as daemon:
        daemon.settle(HOUSE)
        daemon.start()
        assert daemon.end() == 0, daemon.log()
        with visiting(daemon.broker) as client:
            sender = Sender(client, three_hours_ago(), 0.2)
            with sender.sending():
                threading.Event().wait(75.0)
            accepted = sender.accepted()
            daemon.broker.kill()
            daemon.broker.start()
            daemon.start(awaited=False)
            wait_until(lambda: not daemon.troubles(), "it is back", BACK_S)
            kept = -1
            while (now := daemon.number("select count(*) from readings")) != kept:
                kept = now
                threading.Event().wait(3.0)
        # The last written seconds of a flow of `PAIRS` each 0.2 s.
        lost_s = (accepted - len(daemon.rows(READINGS.format("timed")))) / PAIRS * 0.2
        record_property("told", f"{lost_s:.0f} s of its queue lost, of {accepted} pairs")
        assert 0 < len(daemon.rows(READINGS.format("timed"))) <= accepted
        assert lost_s <= AUTOSAVE_S + 3.0
