"""deploy/install.sh for real, as root, on the smallest Debian and on a booted one.

    sudo .venv/bin/python -m tests.deploy.in_a_bare_root [smallest] [booted] [--folder DIR]

Makes wheels of this checkout and of two doctored ones (a newer version that changes the database,
and one that does not start), a Debian tree with debootstrap (kept in DIR for the next time), and
lives through: what is missing and said, installing without any network, the service at work, a
second run, encryption, an upgrade killed at many moments, one that goes through, one that is
taken back, and the way out. Needs debootstrap, 2 GB in DIR and ten minutes; ends with a table.
"""

import argparse
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from rich.console import Console
from rich.table import Table

from tests.deploy.bare_root import (
    ASLEEP,
    NAME,
    SUITE,
    House,
    add_packages,
    lived_in,
    make_bare,
    missing,
    wait_for,
)
from tests.deploy.installed import (
    AUTHORITY,
    CHAMBERWATCH,
    COMMAND,
    DATABASE,
    OF_TLS,
    OWNERS,
    PROGRAM,
    PYTHON,
    SCRIPT,
    SETTINGS,
    STATE,
    Gap,
    all_files,
    changed,
    humidities,
    install,
    is_active,
    is_heard,
    megabytes,
    password_in,
    rights,
    steps,
    store_at_once,
)
from tests.deploy.wheels import NEWER, NOW, STEP, Wheels, make_wheels, new_tree

FOLDER: Final = Path("/var/tmp/chamberwatch-bare-root")  # noqa: S108 - root's, named in --help
UNIT: Final = "/etc/systemd/system/chamberwatch.service"
KILLED: Final = 6
ENCRYPTED: Final = ("-h", "localhost", "-p", "8883", "--cafile", AUTHORITY)
BOOTED_WITHIN_S: Final = 90.0

TERMINATE: Final = """
import os, pathlib, signal, sys
for each in pathlib.Path("/proc").glob("[0-9]*/cmdline"):
    try:
        words = each.read_bytes().split(b"\\0")
    except OSError:
        continue
    if sys.argv[1].encode() in words[:2]:
        os.kill(int(each.parent.name), signal.SIGTERM)
"""


@dataclass
class Report:
    """What was tried, how long it took, and what it came to."""

    rows: list[tuple[str, float, str]] = field(default_factory=list)

    @contextmanager
    def row(self, title: str) -> Iterator[list[str]]:
        """Time a block; what it appends is shown beside it."""
        print(f"{title} ...", file=sys.stderr, flush=True)
        begun_s, found = time.monotonic(), list[str]()
        try:
            yield found
        except BaseException:
            found.append("FAILED")
            raise
        finally:
            self.rows.append((title, time.monotonic() - begun_s, ", ".join(found)))

    def print(self) -> None:
        """Print all of it."""
        table = Table("what", "s", "found", title="Installing in a bare root")
        for title, took_s, found in self.rows:
            table.add_row(title, f"{took_s:.0f}", found)
        Console().print(table)


def _version(house: House) -> str:
    return house.run(CHAMBERWATCH, "--version").split()[-1]


def _rights_are_right(house: House, wanted: dict[str, str]) -> str:
    found = rights(house, *wanted)
    assert found == wanted, changed(found, wanted)
    return f"{len(wanted)} owners and modes"


# ------------------------------------------------------------------ without systemd


def in_the_smallest(tree: Path, wheels: Wheels, report: Report) -> None:
    """Live through it where systemd does not run."""
    with report.row("what is missing is said, with the cure") as found:
        for cure, packages in (
            ("sudo apt install python3 python3-venv", ("python3",)),
            ("sudo apt install python3-venv", ("python3-venv",)),
            ("sudo apt install mosquitto", ("mosquitto", "mosquitto-clients")),
        ):
            with lived_in(tree, *ASLEEP) as house:
                said = install(house, wheels.now, ok=False)
                assert cure in said, said
                assert len(said.splitlines()) == 1, said
            add_packages(tree, *packages)
            found.append(packages[0])
    with lived_in(tree, *ASLEEP) as house:
        said = _installed_by_hand(house, wheels, report)
        _at_work_by_hand(house, said, report)
        _refused(house, wheels, report)
        _away(house, wheels, report)


def _installed_by_hand(house: House, wheels: Wheels, report: Report) -> str:
    with report.row("installed without network, npm or systemd, /tmp of 20 MB") as found:
        for tool in ("npm", "node", "systemctl"):
            assert house.start(["which", tool]).returncode != 0, tool
        said = install(house, wheels.now)
        assert "there is no systemd here" in said, said
        assert "apt install logrotate" in said
        assert _version(house) == NOW
        store_at_once(house)
        found.append(f"program {megabytes(house, PROGRAM)}")
        static = f"{PROGRAM}/venv/lib/python3.11/site-packages/chamberwatch/web/static/vendor"
        assert "echarts.min.js.gz" in house.run("ls", static)
    with report.row("check, as the service's account"):
        said_of_it = house.run("chamberwatch", "check")
        assert "is fine: 2 chambers" in said_of_it, said_of_it
    return said


def _at_work_by_hand(house: House, said: str, report: Report) -> None:
    with report.row("broker and daemon by hand, with the words that were said") as found:
        by_hand = said[said.index("  install -d") :].split("Left to do")[0]
        broker, line = by_hand.replace("\\\n", "").strip().splitlines()
        house.run("sh", "-c", broker)
        daemon = house.begin("sh", "-c", line)
        is_heard(house, password_in(said), 91.5)
        found.append(_rights_are_right(house, OWNERS))
        house.run(PYTHON, "-c", TERMINATE, CHAMBERWATCH)
        assert "everything taken in is kept" in daemon.communicate(timeout=60)[0]
        house.run(PYTHON, "-c", TERMINATE, "mosquitto")


def _refused(house: House, wheels: Wheels, report: Report) -> None:
    """Leave the newer version made, and not in use."""
    with report.row("settings that the newer version refuses: nothing is touched"):
        path = house.path(SETTINGS)
        sound = path.read_text()
        path.write_text(sound.replace("altitude_m = 120", "altitude_m = 99999"))
        before = all_files(house)
        said = install(house, wheels.newer, ok=False)
        assert "altitude_m" in said, said
        assert "nothing was changed" in said
        assert _version(house) == NOW
        outside = [n for n in changed(before, all_files(house)) if not n.startswith("/opt")]
        assert outside == [], outside
        path.write_text(sound)


def _away(house: House, wheels: Wheels, report: Report) -> None:
    with report.row("a second run, --uninstall, and --purge asks"):
        # The version that was refused was made, and nobody wants it any more.
        assert "Taking away versions that are not used" in install(house, wheels.now)
        before = all_files(house)
        assert "nothing was changed" in install(house, wheels.now)
        assert changed(before, all_files(house)) == []
        house.run(SCRIPT, "--uninstall")
        assert not house.path(COMMAND).exists()
        assert not house.path(PROGRAM).exists()
        assert "Nothing was removed" in house.run(SCRIPT, "--purge", said="no\n", ok=False)
        assert house.path(DATABASE).exists()
        house.run(SCRIPT, "--purge", said="remove\n")
        assert not house.path(STATE).exists()
        assert not house.path("/etc/chamberwatch").exists()
        assert house.start(["id", "chamberwatch"]).returncode != 0


# ------------------------------------------------------------------ with systemd


def in_a_booted_one(tree: Path, wheels: Wheels, report: Report) -> None:
    """Live through it where systemd runs."""
    packages = ("systemd", "systemd-sysv", "python3-venv", "openssl", "logrotate")
    with report.row("adding systemd, Python's venv, the broker"):
        add_packages(tree, *packages, "mosquitto", "mosquitto-clients")
    with (
        report.row("installed into an image that is not booted"),
        lived_in(tree, *ASLEEP) as house,
    ):
        said = install(house, wheels.now)
        assert "start when this system boots" in said, said
        assert "apt install" not in said
        store_at_once(house)
    with lived_in(tree) as house:
        _at_work(house, password_in(said), report)
        _command(house, report)
        _nothing_twice(house, wheels, report)
        password = _encrypted(house, wheels, report)
        _refused(house, wheels, report)
        assert is_active(house)
    kept = tree.with_name("kept")
    _snapshot(tree, kept)
    with lived_in(tree) as house:
        wait_for(lambda: is_active(house), "the service is active", BOOTED_WITHIN_S)
        _upgraded(house, wheels, password, report)
        _taken_back(house, wheels, password, report)
        _log_is_bounded(house, report)
        _no_encryption(house, wheels, password, report)
    _killed(kept, tree, wheels, password, report)
    with lived_in(tree) as house:
        _out(house, report)


def _at_work(house: House, password: str, report: Report) -> None:
    with report.row("booted: the service is at work") as found:
        wait_for(lambda: is_active(house), "the service is active", BOOTED_WITHIN_S)
        is_heard(house, password, 91.5)
        found.append(_rights_are_right(house, OWNERS))
        pid = house.run("systemctl", "show", "-P", "MainPID", "chamberwatch").strip()
        status = house.run("cat", f"/proc/{pid}/status")
        assert "Uid:\t0" not in status
        memory = re.search(r"VmRSS:\s+(\d+) kB", status)
        assert memory is not None
        found.append(f"{int(memory[1]) // 1024} MB of memory")


def _command(house: House, report: Report) -> None:
    with report.row("the command: as the service for root, refused to others"):
        stick = "/mnt/chamberwatch"
        house.run("install", "-d", "-o", "chamberwatch", stick)
        said = house.run("chamberwatch", "backup", "--new-place", "--to", stick)
        assert "looked through" in said, said
        made = house.run("find", stick, "-type", "f", "-printf", "%u:%g\\n").splitlines()
        assert len(made) >= 3, made
        assert set(made) == {"chamberwatch:chamberwatch"}, made
        said = house.run("chamberwatch", "passcode", said="a passcode to try\n")
        assert "The passcode is set." in said, said
        house.run("chamberwatch", "passcode", "--remove")
        assert "lets us in" in house.run("chamberwatch", "health", ok=False)  # two are silent
        other = house.start(["runuser", "-u", "nobody", "--", "chamberwatch", "health"])
        assert other.returncode == 2, other.stdout
        assert "with sudo in front" in other.stdout


def _nothing_twice(house: House, wheels: Wheels, report: Report) -> None:
    with report.row("a second run changes nothing and stops nothing"):
        ask = ("systemctl", "show", "-P", "MainPID", "chamberwatch", "mosquitto")
        before, pids = all_files(house), house.run(*ask)
        assert "nothing was changed" in install(house, wheels.now)
        assert changed(before, all_files(house)) == []
        assert house.run(*ask) == pids


def _encrypted(house: House, wheels: Wheels, report: Report) -> str:
    with report.row("--tls, with new passwords") as found:
        said = install(house, wheels.now, "--tls", "--new-passwords")
        assert f"called {NAME} {NAME}.local localhost" in said, said
        found.append(_rights_are_right(house, OF_TLS | OWNERS))
        password = password_in(said)
        is_heard(house, password, 92.5, *ENCRYPTED)
        plain = ["mosquitto_pub", "-p", "1883", "-t", "a", "-m", "b"]
        assert "refused" in house.start(plain).stdout
        before = all_files(house)
        assert "nothing was changed" in install(house, wheels.now)
        assert changed(before, all_files(house)) == []
    with report.row("another host name: renewed, the authority stays"):
        authority = house.path(AUTHORITY).read_bytes()
        house.run("hostname", "attic")
        assert "attic.local" in install(house, wheels.now)
        assert house.path(AUTHORITY).read_bytes() == authority
        is_heard(house, password, 92.6, *ENCRYPTED)
        house.run("hostname", NAME)
        install(house, wheels.now)
    return password


def _killed(kept: Path, tree: Path, wheels: Wheels, password: str, report: Report) -> None:
    """Kill the whole house at moments spread over an upgrade, boot it, and run again."""
    with report.row(f"killed at {KILLED} moments of an upgrade, booted, run again") as found:
        versions = []
        _snapshot(kept, tree)
        took_s = _upgrade_to_its_end(tree, wheels)
        for turn in range(KILLED):
            _snapshot(kept, tree)
            moment_s = took_s * (turn + 0.5) / KILLED
            _kill_an_upgrade(tree, wheels, moment_s)
            versions.append(_comes_back(tree, wheels, password, 50.0 + turn))
        found.append(f"{versions.count(NOW)} booted the former, {versions.count(NEWER)} the newer")


def _snapshot(here: Path, there: Path) -> None:
    for name in (PROGRAM, STATE, UNIT, "/etc/mosquitto", "/etc/chamberwatch"):
        to = there / name.lstrip("/")
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(to, ignore_errors=True)
        to.unlink(missing_ok=True)
        subprocess.run(["cp", "-a", "-T", here / name.lstrip("/"), to], check=True)


def _upgrade_to_its_end(tree: Path, wheels: Wheels) -> float:
    with lived_in(tree) as house:
        wait_for(lambda: is_active(house), "the service is active", BOOTED_WITHIN_S)
        begun_s = time.monotonic()
        install(house, wheels.newer)
        return time.monotonic() - begun_s


def _kill_an_upgrade(tree: Path, wheels: Wheels, after_s: float) -> None:
    with lived_in(tree) as house:
        wait_for(lambda: is_active(house), "the service is active", BOOTED_WITHIN_S)
        running = house.begin(SCRIPT, "--wheel", f"/srv/wheels/{wheels.newer}")
        threading.Event().wait(after_s)
        house.kill()
        running.communicate()


def _comes_back(tree: Path, wheels: Wheels, password: str, value: float) -> str:
    """Return the version that came up by itself; the next run brings the newer one."""
    with lived_in(tree) as house:
        wait_for(lambda: is_active(house), "the service came up by itself", BOOTED_WITHIN_S)
        version = _version(house)
        assert 92.5 in humidities(house), "what was taken in before is lost"
        install(house, wheels.newer)
        assert _version(house) == NEWER
        assert STEP in steps(house)
        is_heard(house, password, value, *ENCRYPTED)
        left = set(house.run("ls", PROGRAM).split())
        assert left == {"shipped", "venv", "versions"}, left
        assert len(house.run("ls", f"{PROGRAM}/versions").split()) == 1
        return version


def _upgraded(house: House, wheels: Wheels, password: str, report: Report) -> None:
    with report.row("upgraded to a version that changes the database") as found:
        before = humidities(house)
        gap = Gap(house)
        said = install(house, wheels.newer)
        found.append(f"the page was away for {gap.ended():.1f} s")
        assert _version(house) == NEWER
        copy = f"{DATABASE}.before-upgrade"
        assert copy in said, said
        assert (STEP in steps(house), STEP in steps(house, copy)) == (True, False)
        assert rights(house, copy) == {copy: "600 chamberwatch:chamberwatch"}
        assert set(before) <= set(humidities(house))
        is_heard(house, password, 93.5, *ENCRYPTED)
        found.append(f"program {megabytes(house, PROGRAM)}")


def _taken_back(house: House, wheels: Wheels, password: str, report: Report) -> None:
    with report.row("one that changes the database and does not start is taken back") as found:
        before, unit = humidities(house), house.path(UNIT).read_text()
        gap = Gap(house)
        said = install(house, wheels.broken, ok=False)
        found.append(f"the page was away for {gap.ended():.1f} s")
        assert "What ran before was put back" in said, said
        assert "The database is as it was before" in said, said
        assert _version(house) == NEWER
        assert house.path(UNIT).read_text() == unit
        assert is_active(house)
        is_heard(house, password, 94.5, *ENCRYPTED)
        assert set(before) <= set(humidities(house))


def _log_is_bounded(house: House, report: Report) -> None:
    with report.row("the log is bounded") as found:
        every = house.run("systemctl", "show", "-P", "LogRateLimitIntervalUSec", "chamberwatch")
        most = house.run("systemctl", "show", "-P", "LogRateLimitBurst", "chamberwatch")
        assert (every, most) == ("10min\n", "200\n")
        found.append(f"{int(most)} lines in {every.strip()}")


def _no_encryption(house: House, wheels: Wheels, password: str, report: Report) -> None:
    with report.row("--no-tls"):
        install(house, wheels.newer, "--no-tls")
        is_heard(house, password, 95.5)


def _out(house: House, report: Report) -> None:
    with report.row("--uninstall keeps the data, --purge does not"):
        house.run(SCRIPT, "--uninstall")
        assert not is_active(house)
        assert house.path(DATABASE).exists()
        # The authority of the certificates stays with the settings that name it.
        assert house.run("ls", "/etc/chamberwatch") == "ca.key\n"
        assert house.run("systemctl", "is-active", "mosquitto") == "active\n"
        house.run(SCRIPT, "--purge", said="remove\n")
        assert not house.path(STATE).exists()
        assert house.start(["id", "chamberwatch"]).returncode != 0


PARTS: Final[dict[str, Callable[[Path, Wheels, Report], None]]] = {
    "smallest": in_the_smallest,
    "booted": in_a_booted_one,
}


def main() -> None:
    """Live through all of it."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("parts", nargs="*", default=list(PARTS), help=f"of {', '.join(PARTS)}")
    asked.add_argument("--folder", type=Path, default=FOLDER, help=f"{FOLDER} by default")
    given = asked.parse_args()
    if lack := missing():
        sys.exit(lack)
    report = Report()
    try:
        with report.row("three wheels, built with npm, and what they need") as found:
            wheels = make_wheels(given.folder)
            found.append(f"{len(list(wheels.folder.iterdir()))} wheels")
        with report.row(f"the smallest {SUITE}") as found:
            make_bare(given.folder / "bare")
        for name in given.parts:
            PARTS[name](new_tree(given.folder, name, wheels), wheels, report)
    finally:
        report.print()


if __name__ == "__main__":
    main()
