"""deploy/demo on a bare machine: it installs once, passes everything on, and fails kindly."""

from pathlib import Path

import pytest

from tests.deploy.shell import BareMachine


@pytest.fixture
def machine(tmp_path: Path) -> BareMachine:
    return BareMachine(tmp_path)


def test_first_run_installs_pinned_and_starts_the_demo(machine: BareMachine) -> None:
    run = machine.run("deploy/demo", "--pace", "60", "--help")
    assert (run.returncode, run.stdout) == (0, "chamberwatch:demo --pace 60 --help\n")
    (installation,) = machine.installations()
    assert installation.endswith(
        f"--constraint {machine.checkout}/deploy/constraints.txt "
        f"--editable {machine.checkout}[broker,images]"
    )
    assert not list(machine.checkout.joinpath(".venv").glob("*.log"))
    assert not machine.checkout.joinpath(".venv", "tmp").exists()


def test_second_run_installs_nothing_and_says_nothing(machine: BareMachine) -> None:
    machine.run("deploy/demo")
    run = machine.run("deploy/demo")
    assert (run.returncode, run.stdout, run.stderr) == (0, "chamberwatch:demo\n", "")
    assert len(machine.installations()) == 1


@pytest.mark.parametrize(
    "changed",
    [
        pytest.param("pyproject.toml", id="dependencies"),
        pytest.param("deploy/constraints.txt", id="pins"),
        pytest.param("deploy/web/package-lock.json", id="charts"),
    ],
)
def test_changed_dependencies_are_installed(machine: BareMachine, changed: str) -> None:
    machine.run("deploy/demo")
    path = machine.checkout / changed
    path.write_text(path.read_text() + "\n# changed\n")
    machine.run("deploy/demo")
    assert len(machine.installations()) == 2


def test_another_python_makes_the_environment_anew(machine: BareMachine) -> None:
    machine.run("deploy/demo")
    machine.pretend["PRETEND_VERSION"] = "3.13"
    assert machine.run("deploy/demo").returncode == 0
    assert len(machine.installations()) == 2


def test_moved_checkout_is_installed_again(machine: BareMachine) -> None:
    machine.run("deploy/demo")
    machine.checkout.rename(machine.folder / "moved")
    machine.folder.joinpath("moved").rename(machine.folder / "checkout")
    machine.run("deploy/demo")
    assert len(machine.installations()) == 1, "it came back to its place"
    other = BareMachine(machine.folder / "elsewhere")
    machine.checkout.joinpath(".venv").rename(other.checkout / ".venv")
    other.run("deploy/demo")
    assert len(other.installations()) == 1


def test_broken_off_installation_is_taken_up_again(machine: BareMachine) -> None:
    machine.pretend["PRETEND_PIP_ERROR"] = "anything"
    assert machine.run("deploy/demo").returncode == 1
    del machine.pretend["PRETEND_PIP_ERROR"]
    assert machine.run("deploy/demo").returncode == 0


@pytest.mark.parametrize(
    ("pretend", "missing", "said"),
    [
        pytest.param({"PRETEND_OLD": "3.9.2"}, (), "3.9.2, but 3.11 or newer", id="old python"),
        pytest.param({}, ("python3",), "sudo apt install python3 python3-venv", id="no python"),
        pytest.param({"PRETEND_NO_VENV": "1"}, (), "sudo apt install python3-venv", id="no venv"),
        pytest.param(
            {"PRETEND_PIP_ERROR": "Temporary failure in name resolution"},
            (),
            "connect this machine",
            id="no network",
        ),
        pytest.param(
            {"PRETEND_PIP_ERROR": "npm could not reach the internet to fetch the script"},
            (),
            "connect this machine",
            id="no network for npm",
        ),
        pytest.param(
            {"PRETEND_PIP_ERROR": "OSError: [Errno 28] No space left on device"},
            (),
            "disk is full",
            id="full disk",
        ),
        pytest.param({"PRETEND_PIP_ERROR": "odd"}, (), "install.log", id="any other failure"),
    ],
)
def test_failure_is_one_line_that_says_what_to_do(
    machine: BareMachine, pretend: dict[str, str], missing: tuple[str, ...], said: str
) -> None:
    machine.pretend.update(pretend)
    machine.without(*missing)
    run = machine.run("deploy/demo")
    lines = [line for line in run.stderr.splitlines() if not line.startswith("Installing")]
    assert run.returncode == 1
    assert run.stdout == ""
    assert len(lines) == 1
    assert said in lines[0]


def test_log_of_a_failed_installation_is_kept_where_it_says(machine: BareMachine) -> None:
    machine.pretend["PRETEND_PIP_ERROR"] = "odd"
    run = machine.run("deploy/demo")
    log = machine.checkout / ".venv" / "install.log"
    assert str(log) in run.stderr
    assert log.read_text() == "odd\n"


def test_environment_of_the_tests_serves_the_demo_too(machine: BareMachine) -> None:
    machine.run("deploy/test")
    machine.run("deploy/demo")
    (installation,) = machine.installations()
    assert installation.endswith("[dev]")
