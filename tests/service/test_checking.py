"""When the watcher looks itself over, and what it keeps of it."""

from dataclasses import dataclass, field

import pytest

from chamberwatch.core.self_check import Database, Disk
from chamberwatch.core.watch.reading import Reading
from chamberwatch.service.checking import Checkup, Probes
from tests.fakes import HandClock
from tests.make import humidity


@dataclass
class Found:
    """What there is to find."""

    disk: Disk = field(default_factory=lambda: Disk("/srv", 10**10, writable=True))
    database: Database = field(
        default_factory=lambda: Database("/srv/cw.db", newest=humidity(80.0))
    )
    trouble: str | None = None
    budgets: list[float] = field(default_factory=list)
    waits: list[float] = field(default_factory=list)

    def probes(self) -> Probes:
        def look(budget_s: float) -> Database:
            self.budgets.append(budget_s)
            return self.database

        def knock(within_s: float) -> str | None:
            self.waits.append(within_s)
            return self.trouble

        return Probes(lambda: self.disk, look, knock, "pi:1883")


@pytest.fixture
def found() -> Found:
    return Found()


def wells(checkup: Checkup) -> dict[str, bool]:
    return {line.name: line.well for line in checkup.now()}


def test_the_database_is_kept_and_the_rest_looked_at_afresh(found: Found) -> None:
    checkup = Checkup(found.probes(), HandClock())
    assert wells(checkup) == {"clock": True, "disk": True, "broker": True}
    checkup.look()
    found.disk, found.trouble = Disk("/srv", 10, writable=True), "It is off; switch it on."
    found.database = Database("/srv/cw.db", damage="much")
    assert wells(checkup) == {"clock": True, "disk": False, "broker": False, "database": True}
    checkup.at_night()
    assert wells(checkup)["database"] is False
    assert found.budgets == [5.0, 20.0]
    assert found.waits == [0.0, 3.0, 0.0, 3.0, 0.0]


@pytest.mark.parametrize(
    ("newest", "well"),
    [
        pytest.param(None, True, id="nothing heard"),
        pytest.param(humidity(80.0), True, id="now"),
        pytest.param(humidity(80.0, 30), False, id="ahead of the clock"),
    ],
)
def test_the_newest_reading_is_the_daemons_where_there_is_one(
    found: Found, newest: Reading | None, well: bool
) -> None:
    found.database = Database("/srv/cw.db", newest=humidity(80.0, 60))
    checkup = Checkup(found.probes(), HandClock(synced=False), lambda: newest)
    assert {line.name: line.well for line in checkup.look()}["clock"] is well
    alone = Checkup(found.probes(), HandClock(synced=False))
    assert {line.name: line.well for line in alone.look()}["clock"] is False


def test_every_line_is_logged_at_the_start(found: Found, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    found.trouble = "It is off; switch it on."
    checkup = Checkup(found.probes(), HandClock())
    checkup.at_start()
    assert [(r.levelname, r.getMessage().split(":")[0]) for r in caplog.records] == [
        ("INFO", "clock"),
        ("INFO", "disk"),
        ("WARNING", "broker"),
        ("INFO", "database"),
    ]
    caplog.clear()
    checkup.at_night()
    assert caplog.messages == ["broker: It is off; switch it on."]
