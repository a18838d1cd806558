"""A thousand chambers at three hundred messages a second, on one machine.

Each chamber has a sensor of three values, with its own time, and ten minutes behind it. One in
ten of them falls dry during the minute, one after another; when the reading that ends a delay was
sent is known, and when the move that follows from it stands in the file is looked up from
outside. A bare subscriber that reads the same messages as JSON runs beside it and says how late
messages are without any work.
"""

import json
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from chamberwatch.clock import WallClock
from chamberwatch.sim.publisher import Publisher
from chamberwatch.sim.show import Report
from tests.bench.processes import Daemon, Home, counting, publishing
from tests.bench.told import Told
from tests.brokers import Mosquitto, wait_until

CHAMBERS = 1000
PER_S = 300.0
WARM_UP_S = 20.0
LAST_S = 60.0
BEFORE = 60
BEFORE_EVERY = timedelta(seconds=10)
DRY = 100
DELAY_S = 10.0
AIM_SHARE = 0.40
AIM_LATE_S = 1.0
LOOK_S = 0.02

CHAMBER = """
[[chamber]]
name = "c{n}"
stage = "fruiting"
volume_l = 500
patience.humidity = {{ on_delay = "10 s" }}
[[sensor]]
name = "s{n}"
chamber = "c{n}"
topic = "bench/{n}/air"
reads.temperature = {{ at = "/temperature" }}
reads.humidity = {{ at = "/humidity" }}
reads.co2 = {{ at = "/co2" }}
time = {{ at = "/time" }}
"""
MOVES = """
select r.chamber, count(*) from moves m join reminders r on r.id = m.reminder
where m.event = 'raised' and r.call = 'mist' group by r.chamber
"""
SENT = "bench/+/air"


@dataclass
class Show:
    """A thousand chambers as they report, one after the other.

    Attributes:
        dry_from_s: when the first of them falls dry, after the start. [s]
        due_s: when the message was sent that ends a chamber's delay, on the monotonic clock. [s]
        sent: how many messages.
    """

    dry_from_s: float
    due_s: dict[str, float] = field(default_factory=dict)
    sent: int = 0
    _dry_since: dict[int, datetime] = field(default_factory=dict)

    def tell_before(self, publisher: Publisher) -> None:
        """Report the ten minutes before, as fast as the broker takes it."""
        start = WallClock().now() - BEFORE * BEFORE_EVERY
        for step in range(BEFORE):
            at = start + step * BEFORE_EVERY
            for n in range(CHAMBERS):
                publisher.publish(self._report_of(n, at, step, dry=False))
        publisher.drain(10 * LAST_S)

    @staticmethod
    def _report_of(n: int, at: datetime, step: int, *, dry: bool) -> Report:
        body = {
            "time": at.isoformat(),
            "temperature": 18 + step % 7 / 10,
            "humidity": 70.0 if dry else 88.5,
            "co2": 700,
        }
        return Report(f"bench/{n}/air", json.dumps(body).encode(), at, 3)

    def run(self, publisher: Publisher, for_s: float) -> None:
        """Report at an even pace."""
        began, pause = time.monotonic(), threading.Event()
        while (gone_s := time.monotonic() - began) < for_s:
            while self.sent < gone_s * PER_S:
                self._report(publisher, self.sent % CHAMBERS, gone_s)
                self.sent += 1
            pause.wait(0.005)

    def _report(self, publisher: Publisher, n: int, gone_s: float) -> None:
        now = WallClock().now()
        falls_dry = n % (CHAMBERS // DRY) == 0
        every_s = (LAST_S - DELAY_S - 2 * CHAMBERS / PER_S) / DRY
        dry = falls_dry and gone_s >= self.dry_from_s + n // (CHAMBERS // DRY) * every_s
        if dry:
            since = self._dry_since.setdefault(n, now)
            if now - since >= timedelta(seconds=DELAY_S):
                self.due_s.setdefault(f"c{n}", time.monotonic())
        publisher.publish(self._report_of(n, now, self.sent, dry=dry))


@dataclass
class Watching:
    """Looks from outside when a move stands in the file."""

    daemon: Daemon
    seen_s: dict[str, float] = field(default_factory=dict)
    stopping: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        """Look until told to stop."""
        while not self.stopping.wait(LOOK_S):
            for chamber, _ in self.daemon.rows(MOVES):
                self.seen_s.setdefault(chamber, time.monotonic())


@dataclass(frozen=True, slots=True)
class Figures:
    """What a run came to.

    Attributes:
        share: of one core.
        bare_share: the bare subscriber's.
        late_s: how late each move stood in the file. [s]
        bare_late_s: how late messages are that nothing is done with, p99. [s]
        resident_mb: at the end. [MB]
    """

    share: float
    bare_share: float
    late_s: list[float]
    bare_late_s: float
    resident_mb: float


def run(folder: Path, looked: Callable[[Daemon], None] = lambda _: None) -> Figures:
    """Run it once; `looked` is called when the load is on."""
    house = "".join(CHAMBER.format(n=n) for n in range(CHAMBERS))
    with Mosquitto(folder).running() as broker:
        home = Home(folder, broker.port, house)
        with (
            home.daemon() as daemon,
            publishing(broker.port) as publisher,
        ):
            daemon.await_pages()
            show, watching = Show(WARM_UP_S), Watching(daemon)
            show.tell_before(publisher)
            wait_until(
                lambda: daemon.number("select count(*) from readings") == 3 * BEFORE * CHAMBERS,
                "all before is stored",
                10 * LAST_S,
            )
            with counting(broker.port, SENT, "--late") as counter:
                reporting = threading.Thread(
                    target=show.run, args=(publisher, WARM_UP_S + LAST_S), daemon=True
                )
                looking = threading.Thread(target=watching.run, daemon=True)
                reporting.start()
                threading.Event().wait(WARM_UP_S)
                looking.start()
                before, bare = daemon.process.cpu_s(), counter.process.cpu_s()
                looked(daemon)
                began = time.monotonic()
                reporting.join(10 * LAST_S)
                took = time.monotonic() - began
                share = (daemon.process.cpu_s() - before) / took
                bare_share = (counter.process.cpu_s() - bare) / took
                wait_until(lambda: set(show.due_s) <= set(watching.seen_s), "all moved", 60.0)
                watching.stopping.set()
                looking.join(10)
                late = [watching.seen_s[name] - due for name, due in show.due_s.items()]
                told = counter.ask()
            return Figures(
                share, bare_share, late, told["late_p99_s"], daemon.process.resident_mb()
            )


def many(told: Told) -> None:
    """A thousand chambers: share of a core, lateness of moves, memory."""
    with tempfile.TemporaryDirectory() as name:
        found = run(Path(name))
    late = statistics.quantiles(found.late_s, n=100)[-1]
    how = f"{CHAMBERS} chambers, {PER_S:.0f} messages/s of 3 values, {LAST_S:.0f} s"
    told.add(
        "1,000 chambers: share of a core",
        f"{found.share:.0%}",
        limit=f"{found.bare_share:.0%}",
        ratio=found.share / found.bare_share,
        aim=f"< {AIM_SHARE:.0%}",
        met=found.share < AIM_SHARE,
        how=f"{how}; limit: a bare subscriber beside it that reads JSON",
    )
    told.add(
        "1,000 chambers: a move stands in the file, p99",
        f"{late:.2f} s",
        limit=f"{found.bare_late_s:.2f} s",
        ratio=late / found.bare_late_s,
        aim=f"<= {AIM_LATE_S:.0f} s",
        met=late <= AIM_LATE_S,
        how=f"after the message that ends its delay was sent; {len(found.late_s)} moves, median "
        f"{statistics.median(found.late_s):.2f} s; limit: how late messages reach the bare one",
    )
    told.add("1,000 chambers: resident memory", f"{found.resident_mb:.0f} MB", how=how)
