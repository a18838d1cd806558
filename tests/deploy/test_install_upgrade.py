"""Upgrades: beside the version that runs, switched in one step, and taken back when they fail."""

import fcntl
import os
from pathlib import Path

import pytest

from tests.deploy.pi import PROGRAM, STATE, UNIT, Pi

COPY = "/var/lib/chamberwatch/chamberwatch.db.before-upgrade"
MINE = ("--no-broker",)


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Pi:
    pi = Pi(tmp_path_factory.mktemp("installed"))
    pi.release("0.1.0")
    pi.with_systemd()
    assert pi.install(*MINE).returncode == 0
    pi.asked()
    return pi


@pytest.fixture
def pi(installed: Pi, tmp_path: Path) -> Pi:
    """Return a machine where version 0.1.0 runs."""
    return Pi.like(installed, tmp_path)


def test_first_start_is_for_every_boot(tmp_path: Path) -> None:
    pi = Pi(tmp_path)
    pi.with_systemd()
    pi.install(*MINE)
    assert pi.asked() == [
        "--quiet is-active chamberwatch",
        "daemon-reload",
        "enable --quiet chamberwatch",
        "reset-failed chamberwatch",
        "restart chamberwatch",
        "--quiet is-active chamberwatch",
    ]


def test_second_run_stops_nothing(pi: Pi) -> None:
    assert "nothing was changed" in pi.install(*MINE).stdout
    assert pi.asked() == ["--quiet is-active chamberwatch"]


def test_one_that_does_not_run_is_started(pi: Pi) -> None:
    pi.folder.joinpath("record.chamberwatch.runs").unlink()
    assert pi.install(*MINE).returncode == 0
    assert "restart chamberwatch" in pi.asked()


def test_upgrade_is_made_beside_and_then_switched(pi: Pi) -> None:
    (former,) = pi.versions()
    pi.release("0.2.0")
    run = pi.install(*MINE)
    assert (run.returncode, run.stderr, pi.in_use()) == (0, "", "0.2.0")
    asked = pi.asked()
    assert asked.index("stop chamberwatch") < asked.index("restart chamberwatch")
    # What was replaced would only fill the card.
    assert former not in pi.versions()
    assert len(pi.versions()) == 1
    left = {path.name for path in pi.root.joinpath(PROGRAM).iterdir()}
    assert left == {"venv", "versions"}


def test_versions_that_a_broken_off_run_left_are_taken_away(pi: Pi) -> None:
    (used,) = pi.versions()
    pi.root.joinpath(PROGRAM, "versions", "0.0.9-left").mkdir()
    run = pi.install(*MINE)
    assert run.returncode == 0
    assert "Taking away versions that are not used any more." in run.stdout
    assert set(pi.versions()) == {used}
    assert "Taking away" not in pi.install(*MINE).stdout


def test_checkout_changed_under_the_same_version_is_another(pi: Pi) -> None:
    former = pi.versions()
    pi.checkout.joinpath("chamberwatch", "__init__.py").write_text("# mended\n")
    pi.install(*MINE)
    assert pi.versions() != former
    assert len(pi.installations()) == 2


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        pytest.param({"PRETEND_FAULT": "chamberwatch check"}, "your settings", id="settings"),
        pytest.param({"PRETEND_FAULT": "chamberwatch"}, "does not run", id="does not run"),
        pytest.param({"PRETEND_PIP_ERROR": "odd"}, "internet", id="not installed"),
    ],
)
def test_what_fails_before_the_switch_stops_nothing(
    pi: Pi, fault: dict[str, str], said: str
) -> None:
    pi.release("0.2.0")
    pi.pretend.update(fault)
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert said in run.stderr
    assert "what ran before goes on" in run.stderr.lower()
    assert [each for each in pi.asked() if "is-active" not in each] == []
    # Once mended, it goes through.
    pi.pretend.clear()
    assert pi.install(*MINE).returncode == 0
    assert pi.in_use() == "0.2.0"


def test_database_that_can_not_be_kept_starts_the_former_again(pi: Pi) -> None:
    pi.release("0.2.0")
    pi.pretend["PRETEND_FAULT"] = "keep_database"
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert "nothing was changed" in run.stderr
    assert pi.asked()[-2:] == ["stop chamberwatch", "start chamberwatch"]


def test_whatever_ends_it_half_way_the_service_runs_again(pi: Pi) -> None:
    pi.release("0.2.0")
    pi.put_tool("ln", "#!/bin/bash\nexit 1\n")
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert "df -h" in run.stderr
    assert pi.asked()[-2:] == ["stop chamberwatch", "start chamberwatch"]


@pytest.mark.parametrize("copy", [pytest.param("", id="kept"), pytest.param(COPY, id="changed")])
def test_one_that_does_not_start_is_taken_back(pi: Pi, copy: str) -> None:
    unit = pi.there()[UNIT]
    pi.release("0.2.0")
    shipped = pi.checkout / "deploy/chamberwatch.service"
    shipped.write_text(shipped.read_text() + "# newer\n")
    pi.pretend.update(PRETEND_NO_START="0.2.0", PRETEND_COPY=copy)
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use(), pi.there()[UNIT]) == (1, "0.1.0", unit)
    assert "put back and runs again" in run.stderr
    assert "journalctl -u chamberwatch" in run.stderr
    assert pi.asked()[-1] == "--quiet is-active chamberwatch"
    deeds = [line.split("keep_database.py ")[1].split(" ")[0] for line in pi.python_ran()[1:]]
    assert deeds == ["copy", "put-back"] if copy else ["copy"]
    # With the cause mended the next run goes over.
    pi.pretend.clear()
    assert pi.install(*MINE).returncode == 0
    assert pi.in_use() == "0.2.0"


def test_when_neither_starts_it_says_so(pi: Pi) -> None:
    pi.release("0.2.0")
    pi.pretend["PRETEND_NO_START"] = "0."
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert "neither does what ran before" in run.stderr


def test_first_one_that_does_not_start_has_nothing_to_go_back_to(tmp_path: Path) -> None:
    pi = Pi(tmp_path)
    pi.with_systemd()
    pi.pretend["PRETEND_NO_START"] = "0."
    run = pi.install(*MINE)
    assert run.returncode == 1
    assert "journalctl" in run.stderr
    assert "put back" not in run.stderr


def test_service_alone_is_renewed_without_installing_again(pi: Pi) -> None:
    shipped = pi.checkout / "deploy/chamberwatch.service"
    shipped.write_text(shipped.read_text() + "# newer\n")
    pi.install(*MINE)
    assert pi.there()[UNIT].endswith("# newer\n")
    assert len(pi.installations()) == 1
    assert "restart chamberwatch" in pi.asked()


def test_program_broken_off_is_made_again(pi: Pi) -> None:
    pi.release("0.2.0")
    pi.pretend["PRETEND_PIP_ERROR"] = "the power went"
    pi.install(*MINE)
    assert len(pi.versions()) == 2
    pi.pretend.clear()
    pi.install(*MINE)
    assert pi.in_use() == "0.2.0"


def broken_off_after_the_switch(pi: Pi) -> str:
    """Leave all as it lies there when the power goes; return the version that was before."""
    (former,) = pi.versions()
    pi.release("0.2.0")
    pi.pretend.update(PRETEND_NO_START="0.2.0", PRETEND_COPY=COPY)
    program = pi.root / PROGRAM
    pi.install(*MINE)
    (newer,) = set(pi.versions()) - {former}
    program.joinpath("venv").unlink()
    program.joinpath("venv").symlink_to(f"versions/{newer}")
    program.joinpath("upgrading-from").write_text(f"{former}\n")
    program.joinpath("unit-before").write_text("[Unit]\n# before\n")
    program.joinpath("database-before").write_text(f"{COPY}\n")
    return former


def test_broken_off_between_switch_and_start_it_can_still_go_back(pi: Pi) -> None:
    broken_off_after_the_switch(pi)
    pi.folder.joinpath("record.chamberwatch.runs").unlink()
    ran = len(pi.python_ran())
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert pi.there()[UNIT] == "[Unit]\n# before\n"
    # The copy is from before the switch; what the database is now must not go over it.
    (deed,) = pi.python_ran()[ran:]
    assert deed.endswith(f"put-back {pi.root / STATE} {COPY}")


def test_broken_off_and_at_work_since_it_is_never_gone_back_behind(pi: Pi) -> None:
    broken_off_after_the_switch(pi)
    pi.release("0.3.0")
    pi.pretend.update(PRETEND_NO_START="0.3.0")
    run = pi.install(*MINE)
    assert "The upgrade that was broken off is at work, and is kept: 0.2.0" in run.stdout
    assert (run.returncode, pi.in_use()) == (1, "0.2.0")


def test_program_of_before_there_were_versions_is_taken_over(pi: Pi) -> None:
    program = pi.root / PROGRAM
    (only,) = pi.versions()
    program.joinpath("venv").unlink()
    program.joinpath("versions", only).rename(program / "venv")
    pi.release("0.2.0")
    pi.pretend["PRETEND_NO_START"] = "0.2.0"
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "former")
    assert program.joinpath("venv/bin/chamberwatch").exists()
    pi.pretend.clear()
    assert pi.install(*MINE).returncode == 0
    assert pi.in_use() == "0.2.0"
    assert len(pi.versions()) == 1


def test_wheel_is_installed_in_place_of_the_checkout(pi: Pi) -> None:
    wheel = pi.folder / "chamberwatch-0.3.0-py3-none-any.whl"
    wheel.write_text("a wheel")
    run = pi.install("--wheel", str(wheel), *MINE)
    assert (run.returncode, pi.in_use()) == (0, "0.3.0")
    installation = pi.installations()[-1]
    assert installation.endswith(f"constraints.txt {wheel}[images,postgres]")
    assert f"--find-links {pi.folder} " in installation
    # The same wheel again is nothing new; another of the same name is.
    assert "nothing was changed" in pi.install("--wheel", str(wheel), *MINE).stdout
    wheel.write_text("another")
    pi.install("--wheel", str(wheel), *MINE)
    assert len(pi.installations()) == 3


def test_packages_are_unpacked_on_the_disk_and_not_kept_twice(pi: Pi) -> None:
    pi.release("0.2.0")
    pi.put_tool("df", "#!/bin/bash\nprintf 'head\\n/dev/card 1000 600 449 60%% /opt\\n'\n")
    run = pi.install(*MINE)
    assert (run.returncode, pi.in_use()) == (1, "0.1.0")
    assert "449 MB are free" in run.stderr
    assert "--no-cache-dir" in pi.installations()[0]
    assert not pi.root.joinpath(PROGRAM, "tmp").exists()


def test_only_one_at_a_time(pi: Pi) -> None:
    folder = os.open(pi.root, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        run = pi.install(*MINE)
    finally:
        os.close(folder)
    assert run.returncode == 1
    assert "Another deploy/install.sh" in run.stderr
