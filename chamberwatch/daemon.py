"""Running the machine: threads, the web server, signals, and the watch over all of them."""

import logging
import os
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from types import FrameType
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from chamberwatch.core.errors import RefusedError
from chamberwatch.service.history import Vitals
from chamberwatch.wiring.machine import Machine

log = logging.getLogger(__name__)

WATCH_EVERY_S: Final = 10.0
STUCK_AFTER_S: Final = 300.0
"""A delivery may hang in a slow service for a minute or two; five is not slow any more."""
STALE_MESSAGES: Final = timedelta(minutes=15)
JOIN_S: Final = 45.0
"""For all threads together: longer than the delivery waits for a phone service, so that how its
message went is still kept; and well below TimeoutStopSec, so that we end in order."""
ANSWERED_WITHIN_S: Final = 3
"""So long requests under way are waited for when it stops."""
BELIEVED: Final = "127.0.0.1,::1"
"""Proxies that say for whom they ask; stated, so that nothing in the environment widens it."""


class Server(uvicorn.Server):
    """A server that lets go of open live streams when it is told to stop."""

    closing: threading.Event | None = None

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop, and say so to the streams."""
        self.close()
        super().handle_exit(sig, frame)

    def close(self) -> None:
        """Stop as soon as the requests under way are answered."""
        if self.closing is not None:
            self.closing.set()
        self.should_exit = True


@dataclass(slots=True)
class Daemon:
    """Starts and stops everything, and gives up in the open when a part has died.

    Attributes:
        machine: the parts; set before `running`.
    """

    machine: Machine | None = None
    _stopping: threading.Event = field(default_factory=threading.Event)
    _threads: list[threading.Thread] = field(default_factory=list)
    _server: Server | None = None
    _failed: str = ""
    _stop_wanted: bool = False
    _given_up_s: float | None = None

    # ------------------------------------------------------------ how it is

    def vitals(self) -> Vitals:
        """Return how the parts are, in plain words."""
        machine = self.machine
        if machine is None:
            return Vitals(connected=False, message_ago=None, troubles=("Still starting.",))
        troubles = [
            f"The thread “{t.name}” has stopped; restart the service." for t in self._dead()
        ]
        connected = machine.link.connected()
        trouble = machine.link.trouble()
        if trouble or not connected:
            troubles.append(trouble or "The broker is not connected yet.")
        elif not machine.link.listening():
            troubles.append("The broker has not agreed yet to hand over the sensors' messages.")
        last_s = machine.link.last_message_s()
        ago = None if last_s is None else timedelta(seconds=machine.clock.monotonic() - last_s)
        if connected and machine.house.sensors and ago is not None and ago > STALE_MESSAGES:
            troubles.append(
                "No message from any sensor for a while; look at their power and at the broker."
            )
        return Vitals(connected, ago, (*troubles, *machine.self_watch.troubles()))

    def _dead(self) -> list[threading.Thread]:
        return [t for t in self._threads if not t.is_alive()]

    def ailing(self) -> str:
        """Return what has died or hangs; empty when all is alive."""
        machine = self.machine
        if machine is None:
            return ""
        if dead := self._dead():
            return f"The thread “{dead[0].name}” has stopped."
        if not machine.link.alive():
            return "The thread that listens to the broker has stopped."
        now_s = machine.clock.monotonic()
        pace = getattr(machine.clock, "pace", 1.0)
        looked = [
            ("rounds", machine.rounds.looked_s),
            ("delivery", machine.delivery.looked_s),
            ("intake", machine.intake.looked_s),
        ]
        if machine.self_watch.announcing is not None:
            looked.append(("announcing", machine.self_watch.announcing.looked_s))
        for name, looked_s in looked:
            if now_s - looked_s > STUCK_AFTER_S * pace:
                return f"The thread “{name}” does not answer."
        return ""

    # ------------------------------------------------------------ life

    @contextmanager
    def running(self, machine: Machine) -> Iterator[None]:
        """Run intake, rounds, delivery and the links to the broker inside the block."""
        self.machine = machine
        self._threads = self._made(machine)
        with ExitStack() as stack:
            stack.callback(machine.books.close)
            # The link ends after the threads: what the intake commits on its way out is still
            # acknowledged.
            stack.callback(machine.link.stop)
            stack.callback(self._farewell, machine)
            stack.callback(self._join, machine)
            for thread in self._threads:
                thread.start()
            machine.link.start()
            if machine.self_watch.out is not None:
                machine.self_watch.out.start()
            self._thread("self-check", machine.self_watch.checkup.at_start).start()
            machine.jobs.start()
            stack.callback(machine.jobs.stop)
            yield

    def _made(self, machine: Machine) -> list[threading.Thread]:
        stop, watching = self._stopping, machine.self_watch
        threads = [
            self._thread("intake", machine.intake.run, machine.inbox, stop),
            self._thread("rounds", machine.rounds.run, stop),
            self._thread("delivery", machine.delivery.run, stop),
        ]
        if watching.announcing is not None:
            threads.append(self._thread("announcing", watching.announcing.run, stop))
        if watching.sign_of_life is not None:
            threads.append(self._thread("sign of life", watching.sign_of_life.run, stop))
        return threads

    def _thread(self, name: str, work: Callable[..., None], *args: object) -> threading.Thread:
        # daemon: they are waited for in `_join`, and one that hangs must not keep the process
        # alive, or nobody could start it anew.
        return threading.Thread(target=self._guard, args=(work, *args), name=name, daemon=True)

    def _farewell(self, machine: Machine) -> None:
        machine.self_watch.farewell(machine.clock.now(), orderly=not self._failed)

    def _join(self, machine: Machine) -> None:
        self._stopping.set()
        machine.wake_delivery.set()
        self._wait_for(*self._threads)
        self._threads = []

    def _wait_for(self, *threads: threading.Thread) -> None:
        """Wait for threads to end; all of them, from the first on, have one time in common."""
        if self._given_up_s is None:
            self._given_up_s = time.monotonic() + JOIN_S
        for thread in threads:
            if thread.ident is not None:
                thread.join(max(0.0, self._given_up_s - time.monotonic()))

    def _guard(self, work: Callable[..., None], *args: object) -> None:
        """Log what ends a thread; the watch sees that it is dead."""
        try:
            work(*args)
        except Exception:
            log.exception("The %s has stopped.", threading.current_thread().name)

    def serve(self, listener: socket.socket, ready: Callable[[], None]) -> None:
        """Serve pages until a signal or `stop`; call inside `running`.

        Raises:
            RefusedError: a part died, so that whoever started us starts us anew.
        """
        machine = self.machine
        if machine is None:
            raise RefusedError("Nothing is running yet.")
        server = Server(serving_config(machine.app))
        server.closing = machine.app.state.closing
        self._server = server
        if self._stop_wanted:
            server.close()
        watch = threading.Thread(target=self._watch, name="watch", daemon=True)
        watch.start()
        tell_systemd("READY=1")
        ready()
        try:
            server.run(sockets=[listener])
        finally:
            tell_systemd("STOPPING=1")
            machine.app.state.closing.set()
            self._stopping.set()
            self._wait_for(watch)
        if self._failed:
            raise RefusedError(self._failed)

    def stop(self) -> None:
        """End serving, or not begin; safe from any thread."""
        self._stop_wanted = True
        if self._server is not None:
            self._server.close()

    def _watch(self) -> None:
        """Feed systemd's watchdog while every part lives; stop when one doesn't."""
        every_s = watch_every_s(os.environ, os.getpid())
        while not self._stopping.wait(every_s):
            trouble = self.ailing()
            if trouble:
                log.critical("%s Stopping, so that a fresh start can mend it.", trouble)
                self._failed = trouble
                self.stop()
                return
            tell_systemd("WATCHDOG=1")


def serving_config(app: ASGIApp) -> uvicorn.Config:
    """Return how the pages are served."""
    return uvicorn.Config(
        app,
        log_level="warning",
        lifespan="off",
        timeout_graceful_shutdown=ANSWERED_WITHIN_S,
        forwarded_allow_ips=BELIEVED,
    )


def watch_every_s(environment: Mapping[str, str], pid: int) -> float:
    """Return how often to feed the watchdog: twice as often as systemd asks, where it asks us.

    Source: sd_watchdog_enabled(3).
    """
    asked, whom = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", str(pid))
    if not asked.isdecimal() or int(asked) == 0 or whom != str(pid):
        return WATCH_EVERY_S
    return min(WATCH_EVERY_S, int(asked) / 1e6 / 2)


def listen(host: str, port: int) -> socket.socket:
    """Open the port of the pages.

    Raises:
        RefusedError: it is taken, or not ours to open.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        reason = "is taken" if port else "can't be opened"
        raise RefusedError(
            f"Port {port} on {host} {reason} ({error.strerror}); choose another."
        ) from error
    return listener


def heed_signals() -> None:
    """Make SIGTERM and SIGINT end the process in order.

    The web server answers a signal by ending its loop and raising the signal once more; without
    handlers of ours that second one would kill the process before it has cleaned up.
    """

    def leave(_signal: int, _frame: FrameType | None) -> None:
        # A second one must not cut the cleaning up short.
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, signal.SIG_IGN)
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, leave)
    signal.signal(signal.SIGINT, leave)


def tell_systemd(state: str) -> None:
    """Say how we are to systemd, where it asked (sd_notify protocol)."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    target = "\0" + address[1:] if address.startswith("@") else address
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
        try:
            channel.sendto(state.encode(), target)
        except OSError as error:
            log.warning("systemd can't be told %s: %s", state, error)
