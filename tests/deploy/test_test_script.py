"""deploy/test: every check in its order, pytest's own words last, and the first fault ends it."""

from pathlib import Path
from typing import Final

import pytest

from tests.deploy.shell import BareMachine

BEFORE: Final = ["ruff:format --check .", "ruff:check .", "mypy:", "lint-imports:"]
CORE: Final = "coverage:report --include=chamberwatch/core/* --fail-under=100"


@pytest.fixture
def machine(tmp_path: Path) -> BareMachine:
    return BareMachine(tmp_path)


def _called(output: str) -> list[str]:
    tools = ("ruff:", "mypy:", "lint-imports:", "pytest:", "coverage:")
    return [line for line in output.splitlines() if line.startswith(tools)]


def test_every_check_runs_in_order_and_pytest_has_the_last_word(machine: BareMachine) -> None:
    run = machine.run("deploy/test")
    tests = "pytest:--cov --numprocesses=2 --color=no"
    assert (run.returncode, _called(run.stdout)) == (0, [*BEFORE, tests, CORE, tests])
    assert run.stdout.splitlines()[-1] == tests
    assert "shellcheck is not installed" in run.stdout
    (installation,) = machine.installations()
    assert installation.endswith("[dev]")


def test_arguments_are_given_to_pytest_and_the_floors_left_out(machine: BareMachine) -> None:
    run = machine.run("deploy/test", "tests/core", "-k", "dew or wet")
    assert (run.returncode, _called(run.stdout)) == (
        0,
        [*BEFORE, "pytest:tests/core -k dew or wet"],
    )


@pytest.mark.parametrize(
    "tool",
    [
        pytest.param(tool, id=tool)
        for tool in ("ruff", "mypy", "lint-imports", "pytest", "coverage")
    ],
)
def test_first_fault_ends_the_run(machine: BareMachine, tool: str) -> None:
    machine.pretend["PRETEND_FAULT"] = tool
    run = machine.run("deploy/test")
    assert run.returncode == 1
    assert _called(run.stdout)[-1].startswith(tool)
    assert "All checks passed" not in run.stdout
