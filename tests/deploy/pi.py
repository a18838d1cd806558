"""A bare machine with a folder to install into, where systemd may seem to run."""

import shutil
import subprocess
from pathlib import Path
from typing import Final

from tests.deploy.shell import BareMachine

STATE: Final = "var/lib/chamberwatch/chamberwatch.toml"
BROKER: Final = "etc/mosquitto/conf.d/chamberwatch.conf"
PASSWORDS: Final = "etc/mosquitto/chamberwatch.passwd"
DAEMONS: Final = "etc/chamberwatch/mqtt_password"
UNIT: Final = "etc/systemd/system/chamberwatch.service"
AUTHORITY: Final = "etc/mosquitto/ca_certificates/chamberwatch-ca.crt"
CERTIFICATE: Final = "etc/mosquitto/certs/chamberwatch.crt"
KEY: Final = "etc/mosquitto/certs/chamberwatch.key"
PROGRAM: Final = "opt/chamberwatch"
COMMAND: Final = "usr/local/bin/chamberwatch"

# Writes down what it is asked for, and knows what runs. What PRETEND_NO_START names, a part of the
# name of a version, does not start.
SYSTEMCTL: Final = r"""#!/bin/bash
root=${1#--root=}
shift
echo "$*" >>"$PRETEND_RECORD.systemctl"
verb='' name=''
for word in "$@"; do
    case $word in
        --*) ;;
        *) [ -z "$verb" ] && verb=$word || name=$word ;;
    esac
done
runs=$PRETEND_RECORD.$name.runs
case $verb in
    start | restart)
        rm -f "$runs"
        if [ "$name" = chamberwatch ] && [ -n "$PRETEND_NO_START" ] &&
            [[ $(readlink "$root/opt/chamberwatch/venv") == *"$PRETEND_NO_START"* ]]; then
            exit 1
        fi
        touch "$runs" ;;
    stop | disable) rm -f "$runs" ;;
    is-active) [ -e "$runs" ] ;;
esac
"""

# Only that which is there can be brought onto the disk.
SYNC: Final = """#!/bin/bash
for each in "$@"; do [[ $each == --* || -e $each ]] || exit 1; done
echo "$*" >>"$PRETEND_RECORD.sync"
"""


class Pi(BareMachine):
    """A bare machine with a folder to install into."""

    def __post_init__(self) -> None:
        super().__post_init__()
        # What is waited for happens at once, and no disk is waited for.
        self.put_tool("sleep", "#!/bin/bash\n")
        self.put_tool("sync", SYNC)

    @classmethod
    def like(cls, other: "Pi", folder: Path) -> "Pi":
        """Return a copy of another, as it is now."""
        shutil.copytree(other.folder, folder, symlinks=True, dirs_exist_ok=True)
        made = cls.__new__(cls)
        made.folder, made.pretend = folder, {}
        for record in folder.glob("record*"):
            record.write_text(record.read_text().replace(f"{other.folder}/", f"{folder}/"))
        return made

    @property
    def root(self) -> Path:
        return self.folder / "root"

    def install(self, *options: str) -> subprocess.CompletedProcess[str]:
        self.root.mkdir(exist_ok=True)
        return self.run("deploy/install.sh", "--root", str(self.root), *options)

    def there(self) -> dict[str, str]:
        """Return every file below the root with its content."""
        return {
            str(path.relative_to(self.root)): path.read_text()
            for path in sorted(self.root.rglob("*"))
            if path.is_file() and not path.is_symlink()
        }

    def all(self) -> dict[str, tuple[object, ...]]:
        """Return all that lies below the root with everything that can change of it."""
        found: dict[str, tuple[object, ...]] = {}
        for path in sorted(self.root.rglob("*")):
            stat = path.lstat()
            link = str(path.readlink()) if path.is_symlink() else ""
            found[str(path)] = (
                stat.st_mode,
                stat.st_ino,
                stat.st_mtime_ns,
                stat.st_ctime_ns,
                link,
            )
        return found

    def with_systemd(self) -> None:
        """Let systemd run."""
        self.root.joinpath("run/systemd/system").mkdir(parents=True)
        self.put_tool("systemctl", SYSTEMCTL)

    def asked(self) -> list[str]:
        """Return what systemd was asked for, oldest first, and forget it."""
        record = self.folder / "record.systemctl"
        said = record.read_text().splitlines() if record.exists() else []
        record.unlink(missing_ok=True)
        return said

    def python_ran(self) -> list[str]:
        """Return what was run with the program's own Python, oldest first."""
        record = self.folder / "record.python"
        return record.read_text().splitlines() if record.exists() else []

    def synced(self) -> set[str]:
        """Return what was brought onto the disk, relative to the root."""
        words = (self.folder / "record.sync").read_text().split()
        return {word.removeprefix(f"{self.root}/") for word in words if word[:2] != "--"}

    def release(self, version: str) -> None:
        """Change the checkout to another version."""
        path = self.checkout / "pyproject.toml"
        lines = path.read_text().splitlines(keepends=True)
        changed = [
            f'version = "{version}"\n' if ln.startswith("version = ") else ln for ln in lines
        ]
        path.write_text("".join(changed))

    def in_use(self) -> str:
        """Return the version that the link leads to, without its print."""
        return self.root.joinpath(PROGRAM, "venv").resolve().name.rsplit("-", 1)[0]

    def versions(self) -> list[str]:
        """Return the versions that lie there."""
        return sorted(p.name for p in self.root.joinpath(PROGRAM, "versions").iterdir())

    def mode(self, name: str) -> int:
        """Return the rights of a file below the root."""
        return self.root.joinpath(name).stat().st_mode & 0o777
