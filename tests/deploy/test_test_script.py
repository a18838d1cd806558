"""deploy/test: every check in its order, pytest's own words last, and the first fault ends it."""

from pathlib import Path
from typing import Final

import pytest

from tests.deploy.shell import BareMachine

BEFORE: Final = ["ruff:format --check .", "ruff:check .", "mypy:", "lint-imports:"]
CORE: Final = (
    "pytest:tests/core --cov=chamberwatch.core --cov-fail-under=100 --numprocesses=2 --color=no"
)


@pytest.fixture
def machine(tmp_path: Path) -> BareMachine:
    return BareMachine(tmp_path)


def _called(output: str) -> list[str]:
    tools = ("ruff:", "mypy:", "lint-imports:", "pytest:")
    return [line for line in output.splitlines() if line.startswith(tools)]


def test_every_check_runs_in_order_and_pytest_has_the_last_word(machine: BareMachine) -> None:
    run = machine.run("deploy/test")
    tests = "pytest:--ignore=tests/core --numprocesses=3 --durations=20 --color=no"
    assert (run.returncode, _called(run.stdout)) == (0, [*BEFORE, CORE, tests, tests])
    assert run.stdout.splitlines()[-1] == tests
    assert "shellcheck is not installed" in run.stdout
    (installation,) = machine.installations()
    assert installation.endswith("[dev]")


def test_arguments_are_given_to_pytest_alone(machine: BareMachine) -> None:
    run = machine.run("deploy/test", "tests/core", "-k", "dew or wet")
    assert (run.returncode, _called(run.stdout)) == (
        0,
        [*BEFORE, "pytest:tests/core -k dew or wet"],
    )


@pytest.mark.parametrize(
    "tool",
    [pytest.param(tool, id=tool) for tool in ("ruff", "mypy", "lint-imports", "pytest")],
)
def test_first_fault_ends_the_run(machine: BareMachine, tool: str) -> None:
    machine.pretend["PRETEND_FAULT"] = tool
    run = machine.run("deploy/test")
    assert run.returncode == 1
    assert _called(run.stdout)[-1].startswith(tool)
    assert "All checks passed" not in run.stdout
