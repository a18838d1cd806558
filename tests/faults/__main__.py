"""Every fault and every long test, and what came of each as a table.

    python -m tests.faults              all of them: an hour
    python -m tests.faults -k broker    only these; whatever follows is given to pytest

Needs mosquitto and chromium-headless-shell; as root also the faults of disks and networks, with
faketime those of clocks.
"""

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import pytest
from rich.console import Console
from rich.table import Table

HERE: Final = Path(__file__).parent
TESTS: Final = HERE.parent
OTHERS: Final = (TESTS / "storage" / "test_storage_versions.py",)
"""What is broken off elsewhere: the steps of the schema."""
LONG_ONES_IN: Final = (TESTS / "browser", TESTS / "service" / "test_tents_foretold.py")
"""Where else tests are too long for every day; the others there are left out."""


@dataclass(eq=False)  # pytest keeps plugins in a set
class Results:
    """What came of each test.

    Attributes:
        rows: its name, what it found or why it was left out, and how long it took. [s]
    """

    rows: list[tuple[str, str, str, float]] = field(default_factory=list)

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(
        self, config: pytest.Config, items: list[pytest.Item]
    ) -> None:
        """Leave out what runs every day and is no fault."""
        usual = [each for each in items if _is_usual(each)]
        config.hook.pytest_deselected(items=usual)
        items[:] = [each for each in items if not _is_usual(each)]

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep a test that has run, or that was left out before it."""
        if report.when != "call" and report.passed:
            return
        name = report.nodeid.rpartition("::")[2].removeprefix("test_").replace("_", " ")
        told = "; ".join(str(value) for key, value in report.user_properties if key == "told")
        if report.skipped and isinstance(report.longrepr, tuple):
            told = report.longrepr[2].removeprefix("Skipped: ")
        outcome = {"passed": "held", "failed": "NOT HELD", "skipped": "left out"}[report.outcome]
        self.rows.append((name, outcome, told, report.duration))


def _is_usual(item: pytest.Item) -> bool:
    """Tell whether a test stands among others of which only the long ones are wanted."""
    among = any(each in (item.path, *item.path.parents) for each in LONG_ONES_IN)
    return among and item.get_closest_marker("long") is None


def main(words: list[str]) -> int:
    """Run them and print the table; return the exit code of pytest."""
    results = Results()
    code = pytest.main(
        [
            "-m",
            "long or not long",
            "-p",
            "no:randomly",
            "-q",
            *map(str, (HERE, *OTHERS, *LONG_ONES_IN)),
            *words,
        ],
        [results],
    )
    table = Table("test", "", "what was seen", "s", title="Faults and long tests")
    for name, outcome, told, took_s in results.rows:
        table.add_row(name, outcome, told, f"{took_s:.0f}")
    Console().print(table)
    return int(code)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
