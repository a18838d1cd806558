"""Running the machine: its threads, the web server, and the watch over all of them."""

import gc
import logging
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Final, Protocol

from chamberwatch.core.errors import ChamberwatchError, RefusedError
from chamberwatch.core.health import UNHEARD
from chamberwatch.daemon.serving import Server, serving_config
from chamberwatch.service.history import Vitals
from chamberwatch.systemd import tell_systemd, watch_every_s
from chamberwatch.web.succession import Succession
from chamberwatch.wiring.machine import Machine
from chamberwatch.wiring.renewing import Step
from chamberwatch.wiring.self_watch import WAITS

log = logging.getLogger(__name__)

STUCK_AFTER_S: Final = 300.0
"""A delivery may hang in a slow service for a minute or two; five is not slow any more."""
STALE_MESSAGES: Final = timedelta(minutes=15)
JOIN_S: Final = 45.0
"""For all threads together: longer than the delivery waits for a phone service, so that how its
message went is still kept; and well below TimeoutStopSec, so that we end in order."""
LOOK_AGAIN_S: Final = 0.2
BROKE: Final = (
    "They could not be taken over; the fault is ours and was written to the log. What was set "
    "before goes on."
)
NEITHER: Final = "The settings could not be taken over."


class Renewing(Protocol):
    """Makes the parts that the newest settings ask for."""

    def next(self) -> Step | None:
        """Return what makes them; None: those at work are right already.

        Raises:
            ChamberwatchError: the settings can't be taken; the text says why.
        """
        ...

    def took(self, why_not: str) -> None:
        """Hear how it went; not empty: why the former settings go on."""
        ...


@dataclass(slots=True)
class Daemon:
    """Starts and stops everything, and gives up in the open when a part has died.

    Attributes:
        machine: the parts; set before `running`.
        renewing: what takes new settings over; None: they stay as they were at the start.
    """

    machine: Machine | None = None
    renewing: Renewing | None = None
    _stopping: threading.Event = field(default_factory=threading.Event)
    _wanted: threading.Event = field(default_factory=threading.Event)
    _resting: threading.Event = field(default_factory=threading.Event)
    _front: Succession | None = None
    _changing_s: float | None = None
    _threads: list[threading.Thread] = field(default_factory=list)
    _server: Server | None = None
    _failed: str = ""
    _stop_wanted: bool = False
    _given_up_s: float | None = None
    _jobs_run: bool = False

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
            troubles.append(trouble or WAITS)
        elif not machine.link.listening():
            troubles.append("The broker has not agreed yet to hand over the sensors' messages.")
        if machine.intake.trouble is not None:
            troubles.append(machine.intake.trouble)
        last_s = machine.link.last_message_s()
        ago = None if last_s is None else timedelta(seconds=machine.clock.monotonic() - last_s)
        if connected and machine.house.sensors and ago is not None and ago > STALE_MESSAGES:
            troubles.append(UNHEARD)
        return Vitals(connected, ago, (*troubles, *machine.self_watch.troubles()))

    def _dead(self) -> list[threading.Thread]:
        if self._changing_s is not None:
            return []
        return [t for t in self._threads if not t.is_alive()]

    def ailing(self) -> str:
        """Return what has died or hangs; empty when all is alive."""
        machine = self.machine
        if machine is None:
            return ""
        changing_s = self._changing_s
        if changing_s is not None:
            return self._stuck(changing_s)
        if dead := self._dead():
            return f"The thread “{dead[0].name}” has stopped."
        if not machine.link.alive():
            return "The thread that listens to the broker has stopped."
        return self._unanswering(machine)

    def _stuck(self, since_s: float) -> str:
        stuck = time.monotonic() - since_s > STUCK_AFTER_S
        return "The settings can't be taken over." if stuck else ""

    def _unanswering(self, machine: Machine) -> str:
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
        self._front = Succession(machine.app)
        renewer = self._thread("settings", self._renew_when_wanted)
        with ExitStack() as stack:
            stack.callback(self._end)
            self._begin(machine)
            self._thread("self-check", machine.self_watch.checkup.at_start).start()
            stack.callback(self._end_renewing, renewer)
            renewer.start()
            yield

    def _begin(self, machine: Machine) -> None:
        self.machine = machine
        self._resting, self._given_up_s = threading.Event(), None
        self._threads = self._made(machine)
        for thread in self._threads:
            thread.start()
        machine.link.start()
        if machine.self_watch.out is not None:
            machine.self_watch.out.start()
        machine.jobs.start()
        self._jobs_run = True

    def _end(self) -> None:
        machine = self.machine
        if machine is not None:
            self._rest(machine)
            self._put_away(machine)

    def _rest(self, machine: Machine) -> None:
        """End all threads; what the intake commits on its way out is still acknowledged."""
        if self._jobs_run:
            machine.jobs.stop()
            self._jobs_run = False
        self._resting.set()
        machine.wake_delivery.set()
        self._wait_for(*self._threads)
        self._threads = self._living()

    def _living(self) -> list[threading.Thread]:
        return [thread for thread in self._threads if thread.is_alive()]

    def _put_away(self, machine: Machine, *, farewell: bool = True) -> None:
        with ExitStack() as stack:
            stack.callback(machine.books.close)
            stack.callback(machine.link.stop)
            if farewell:
                orderly = not self._failed
                machine.self_watch.farewell(machine.clock.now(), orderly=orderly)
            else:
                machine.self_watch.rest()

    def _made(self, machine: Machine) -> list[threading.Thread]:
        stop, watching = self._resting, machine.self_watch
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

    # ------------------------------------------------------------ new settings

    def renew(self) -> None:
        """Take the newest settings over, soon; safe from any thread, and from a signal."""
        if self.renewing is not None and self._front is not None:
            self._front.expect()
            self._wanted.set()

    def _renew_when_wanted(self) -> None:
        while True:
            self._wanted.wait()
            self._wanted.clear()
            if self._stopping.is_set():
                return
            try:
                self._renew()
            except Exception:
                log.exception("Neither the new nor the former settings could be taken.")
                self._failed = NEITHER
                self.stop()

    def _end_renewing(self, renewer: threading.Thread) -> None:
        self._stopping.set()
        self._wanted.set()
        renewer.join()

    def _renew(self) -> None:
        renewing, front = self.renewing, self._front
        if renewing is None or front is None:
            return
        why_not, step = "", None
        try:
            step = renewing.next()
        except ChamberwatchError as error:
            why_not = str(error)
        if step is not None:
            why_not = self._replace(step, front)
            log.info("The settings were read again.")
        if why_not:
            log.error("The settings stay as they were: %s", why_not)
        renewing.took(why_not)
        front.resume(self.machine.app if self.machine is not None else None)
        if self._wanted.is_set():  # changed once more meanwhile
            front.expect()

    def _replace(self, step: Step, front: Succession) -> str:
        """Put new parts in place of those at work; return why it had to be the former ones.

        Pages are answered for as long as the threads take to end.
        """
        old = self.machine
        if old is None:
            return ""
        self._changing_s = time.monotonic()
        try:
            self._rest(old)
            # The books can't be closed beneath one that still works with them; where it goes on
            # for too long, the watch stops all.
            while self._threads and not self._stopping.wait(LOOK_AGAIN_S):
                self._threads = self._living()
            if self._stopping.is_set():
                return ""
            front.pause()
            self._put_away(old, farewell=False)
            try:
                self._begin_or_leave(step.new)
            except ChamberwatchError as error:
                why_not = str(error)
            except Exception:
                log.exception("The new settings could not be taken over.")
                why_not = BROKE
            else:
                return ""
            self._go_back(step)
            return why_not
        finally:
            self._changing_s = None

    def _go_back(self, step: Step) -> None:
        try:
            self._begin_or_leave(step.former)
        except Exception:
            # Said at once: the watch would find what was put away to have died.
            self._failed = NEITHER
            raise

    def _begin_or_leave(self, make: Callable[[], Machine]) -> None:
        machine, old = make(), self.machine
        if old is not None:
            machine.self_watch.checkup.go_on_from(old.self_watch.checkup)
        try:
            self._begin(machine)
        except Exception:
            self._rest(machine)
            self._put_away(machine, farewell=False)
            raise

    def serve(self, listener: socket.socket, ready: Callable[[], None]) -> None:
        """Serve pages until a signal or `stop`; call inside `running`.

        Raises:
            RefusedError: a part died, so that whoever started us starts us anew.
        """
        front = self._front
        if front is None:
            raise RefusedError("Nothing is running yet.")
        server = Server(serving_config(front))
        server.front = front
        self._server = server
        if self._stop_wanted:
            server.close()
        # What stands now stays: looking through all of it for refuse, each time that some thousand
        # rows were read, would hold up an answer for a tenth of a second.
        gc.collect()
        gc.freeze()
        tell_systemd("READY=1")
        # After it: a service manager counts from there; a sign of life before it means nothing.
        watch = threading.Thread(target=self._watch, name="watch", daemon=True)
        watch.start()
        ready()
        try:
            server.run(sockets=[listener])
        finally:
            # First, so that no look that begins after that feeds the watchdog once more.
            self._stopping.set()
            tell_systemd("STOPPING=1")
            front.close()
            self._wait_for(watch)
        if self._failed:
            raise RefusedError(self._failed)

    def stop(self) -> None:
        """End serving, or not begin; safe from any thread."""
        self._stop_wanted = True
        if self._server is not None:
            self._server.close()

    def give_up(self, why: str) -> None:
        """End with a failure that says why; safe from any thread."""
        log.critical("%s Stopping.", why)
        self._failed = why
        self.stop()

    def _watch(self) -> None:
        """Feed systemd's watchdog while every part lives; stop when one doesn't."""
        every_s = watch_every_s(os.environ, os.getpid())
        while not self._stopping.wait(every_s):
            trouble = self.ailing()
            if trouble:
                log.critical("%s Stopping, so that a fresh start can mend it.", trouble)
                self._failed = self._failed or trouble
                self.stop()
                return
            tell_systemd("WATCHDOG=1")
