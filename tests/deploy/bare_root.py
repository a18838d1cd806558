"""A Debian tree made with debootstrap, lived in by processes of its own: a machine to install on.

Everything of it (processes, network, host name, mounts) lies in namespaces that end with it, and
its processes in a control group of their own, so that the machine that tests stays as it is.
"""

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

SUITE: Final = "bookworm"
NAME: Final = "chamberpi"
ENVIRONMENT: Final = (
    "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin",
    "HOME=/root",
    "LANG=C.UTF-8",
    "DEBIAN_FRONTEND=noninteractive",
    "PIP_NO_INDEX=1",
)
BOOTED_WITHIN_S: Final = 60.0
INIT: Final = "/lib/systemd/systemd"
ASLEEP: Final = ("sleep", "infinity")

# What a container is given: its own /proc (what belongs to the whole machine can't be written), a
# bare /dev, an empty /run, its own control groups, and a network of nothing but itself.
MOUNTS: Final = r"""
set -e
tree=$1 name=$2
shift 2
hostname "$name"
ip link set lo up
mount --make-rprivate /
mount --bind "$tree" "$tree"
mount -t proc proc "$tree/proc"
mount --bind "$tree/proc/sys" "$tree/proc/sys"
mount -o remount,bind,ro "$tree/proc/sys"
mount -t sysfs -o ro sysfs "$tree/sys"
mount -t tmpfs -o mode=755 tmpfs "$tree/dev"
for device in null zero full random urandom tty; do
    touch "$tree/dev/$device"
    mount --bind "/dev/$device" "$tree/dev/$device"
done
mkdir "$tree/dev/pts" "$tree/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666,mode=620 devpts "$tree/dev/pts"
ln -s pts/ptmx "$tree/dev/ptmx"
ln -s /proc/self/fd "$tree/dev/fd"
mount -t tmpfs -o mode=755 tmpfs "$tree/run"
mount -t tmpfs -o mode=1777,size=20m tmpfs "$tree/tmp"
mount -t cgroup2 cgroup2 "$tree/sys/fs/cgroup"
# In a mere chroot the kernel allows no user namespaces, and the service has one of its own.
cd "$tree"
mkdir -p srv/outside
pivot_root . srv/outside
exec env -i container=other PATH=/usr/sbin:/usr/bin:/sbin:/bin LANG=C.UTF-8 \
    sh -c 'cd /; umount -l /srv/outside; mount --make-rshared /; exec "$@"' sh "$@" \
    <dev/null >dev/null 2>&1
"""


def missing() -> str:
    """Return what this machine lacks for it, with the cure; nothing if all is there."""
    if os.geteuid() != 0:
        return "A tree is made and entered as root: run this with sudo."
    lacking = [
        tool for tool in ("debootstrap", "unshare", "nsenter", "ip") if shutil.which(tool) is None
    ]
    if lacking:
        return f"Missing: {', '.join(lacking)}. sudo apt install debootstrap util-linux iproute2"
    if _groups() is None:
        return "No control groups (cgroup2) are mounted here: use a machine that runs systemd."
    return ""


def mirror() -> str:
    """Return where apt of this machine has the suite from."""
    which = ("Created-By: Packages", f"Codename: {SUITE}", "Component: main")
    said = subprocess.run(
        ["apt-get", "indextargets", "--format", "$(REPO_URI)", *which],
        capture_output=True,
        text=True,
        check=True,
    )
    return said.stdout.split()[0]


def make_bare(tree: Path) -> None:
    """Make the smallest Debian; nothing is done if it is there."""
    if (tree / "made").exists():
        return
    shutil.rmtree(tree, ignore_errors=True)
    subprocess.run(
        ["debootstrap", "--variant=minbase", "--include=ca-certificates", SUITE, tree, mirror()],
        stdout=subprocess.DEVNULL,
        check=True,
    )
    # Debian starts a broker as soon as it is installed; here whoever tests starts it.
    policy = tree / "usr/sbin/policy-rc.d"
    policy.write_text("#!/bin/sh\nexit 101\n")
    policy.chmod(0o755)
    (tree / "made").touch()


def add_packages(tree: Path, *packages: str) -> None:
    """Install packages of Debian into a tree that nobody lives in, over this machine's network."""
    shutil.copy("/etc/resolv.conf", tree / "etc/resolv.conf")
    script = 'mount -t proc proc "$1/proc"; exec chroot "$@"'
    inside = ("unshare", "--mount", "--pid", "--fork", "sh", "-c", script, "sh", tree)
    apt = ("apt-get", "-qq", "-y", "--no-install-recommends", "install", *packages)
    subprocess.run(
        [*inside, "env", "-i", *ENVIRONMENT, *apt],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=True,
    )


@dataclass
class House:
    """A tree that is lived in.

    Attributes:
        tree: its root.
        group: the control group of all its processes.
        init: process 1 of it, as this machine counts.
    """

    tree: Path
    group: Path
    init: int

    def run(self, *command: str, said: str = "", ok: bool = True) -> str:
        """Run a command in it to its end; return what it said.

        Args:
            command: the words.
            said: typed into it.
            ok: whether it must succeed; False: it must fail.
        """
        ran = self.start(command, said)
        assert (ran.returncode == 0) is ok, f"{command}: {ran.returncode}\n{ran.stdout}"
        return ran.stdout

    def start(self, command: Sequence[str], said: str = "") -> subprocess.CompletedProcess[str]:
        """Run a command in it to its end, whatever that is."""
        return subprocess.run(
            [*self._enter(), *command],
            input=said,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            check=False,
        )

    def begin(self, *command: str) -> "subprocess.Popen[str]":
        """Start a command in it and leave it running."""
        return subprocess.Popen(
            [*self._enter(), *command],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def _enter(self) -> list[str]:
        spaces = ["-m", "-p", "-u", "-i", "-n", "-C", "-r", "-w"]
        inside = ["sh", "-c", f'echo $$ >{self.group}/cgroup.procs; exec "$@"', "sh"]
        return [*inside, "nsenter", "-t", str(self.init), *spaces, "env", "-i", *ENVIRONMENT]

    def path(self, name: str) -> Path:
        """Return where this machine sees a file of it."""
        return self.tree / name.lstrip("/")

    def kill(self) -> None:
        """End everything in it at once, as a power cut does."""
        (self.group / "cgroup.kill").write_text("1")
        wait_for(lambda: not _procs(self.group), "all processes ended")


@contextmanager
def lived_in(tree: Path, *init: str) -> Iterator[House]:
    """Start process 1 of a tree; end all of it when the block is left."""
    groups = _groups()
    assert groups is not None
    group = groups / f"chamberwatch-{os.getpid()}-{time.monotonic_ns()}"
    group.mkdir()
    into = 'echo $$ >"$1/cgroup.procs"; shift; exec "$@"'
    spaces = ["--mount", "--pid", "--uts", "--ipc", "--net", "--cgroup", "--fork", "--kill-child"]
    life = ("sh", "-c", MOUNTS, "sh", str(tree), NAME, *(init or (INIT,)))
    outer = subprocess.Popen(
        ["sh", "-c", into, "sh", group, "unshare", *spaces, *life],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
    )
    try:
        wait_for(lambda: _init(outer.pid) is not None, "process 1 started")
        house = House(tree, group, _init(outer.pid) or 0)
        wait_for(lambda: _is_inside(house), "the tree was entered")
        if not init:
            wait_for(lambda: _is_booted(house), "systemd was up", BOOTED_WITHIN_S)
        yield house
    finally:
        with suppress(OSError):
            (group / "cgroup.kill").write_text("1")
        outer.wait()
        for folder in sorted((p for p in group.rglob("*") if p.is_dir()), reverse=True):
            _remove(folder)
        _remove(group)


def wait_for(
    condition: Callable[[], bool], what: str, deadline_s: float = 30.0, every_s: float = 0.1
) -> None:
    """Return as soon as it holds.

    Raises:
        AssertionError: it did not in time.
    """
    pause, end_s = threading.Event(), time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end_s, f"not within {deadline_s} s: {what}"
        pause.wait(every_s)


def _groups() -> Path | None:
    for line in Path("/proc/mounts").read_text().splitlines():
        _, place, kind, *_ = line.split()
        if kind == "cgroup2":
            return Path(place)
    return None


def _init(outer: int) -> int | None:
    children = Path(f"/proc/{outer}/task/{outer}/children")
    with suppress(OSError):
        for child in children.read_text().split():
            return int(child)
    return None


def _is_inside(house: House) -> bool:
    """Tell whether process 1 has left this machine's files behind."""
    with suppress(OSError):
        top = Path("/proc", str(house.init), "root")
        return (top / "srv/checkout").exists() and not (top / "srv/outside/proc").exists()
    return False


def _is_booted(house: House) -> bool:
    return house.start(["systemctl", "is-system-running"]).stdout.strip() in (
        "running",
        "degraded",
    )


def _procs(group: Path) -> list[str]:
    found: list[str] = []
    for each in [group, *(p for p in group.rglob("*") if p.is_dir())]:
        with suppress(OSError):
            found += (each / "cgroup.procs").read_text().split()
    return found


def _remove(group: Path) -> None:
    """Remove a control group once the last of it has gone."""

    def removed() -> bool:
        with suppress(OSError):
            group.rmdir()
        return not group.exists()

    wait_for(removed, f"{group} is empty")
