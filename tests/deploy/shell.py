"""A bare machine for the shell scripts: a few tools, and a Python that only pretends."""

import os
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

CHECKOUT: Final = Path(__file__).resolve().parents[2]

TOOLS: Final = """
base64 basename bash cat chmod cmp cp cut dirname env flock grep head id install ls mkdir mktemp
mosquitto_passwd rm sed sha256sum sleep tail tee touch tr
""".split()  # noqa: SIM905 - as one would type it

# Answers what the scripts ask of Python, venv and pip, and writes down every installation. What
# it installs are tools that say how they were called, and fail when told to.
PRETENDER: Final = r"""#!/bin/bash
case "$*" in
    *"sys.exit(sys.version_info"*) [ -z "$PRETEND_OLD" ] ;;
    *"import ensurepip"*) [ -z "$PRETEND_NO_VENV" ] ;;
    *"print(sys.version"*) echo "a pretended Python ${PRETEND_VERSION:-3.11}" ;;
    -V) echo "Python ${PRETEND_OLD:-3.11.2}" ;;
    "-c ") ;;
    "-m venv --clear "*)
        mkdir -p "$4/bin"
        cp "$0" "$4/bin/python" ;;
    "-m pip --version") ;;
    "-m pip install "*)
        echo "$*" >>"$PRETEND_RECORD"
        if [ -n "$PRETEND_PIP_ERROR" ]; then
            echo "$PRETEND_PIP_ERROR"
            exit 1
        fi
        for tool in chamberwatch ruff mypy lint-imports pytest coverage; do
            printf '#!/bin/bash\necho "%s:$*"\n[ "$PRETEND_FAULT" != %s ]\n' $tool $tool \
                >"${0%/*}/$tool"
            chmod 755 "${0%/*}/$tool"
        done ;;
    *)
        echo "The pretended Python does not know: $*" >&2
        exit 9 ;;
esac
"""


@dataclass
class BareMachine:
    """A copy of the checkout's scripts, on a machine that has only `TOOLS`."""

    folder: Path
    pretend: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.checkout.joinpath("deploy").mkdir(parents=True)
        self.checkout.joinpath("config").mkdir()
        self._bin.mkdir()
        for source in (CHECKOUT / "deploy").iterdir():
            if source.is_file():
                shutil.copy(source, self.checkout / "deploy" / source.name)
        shutil.copy(CHECKOUT / "pyproject.toml", self.checkout)
        shutil.copy(CHECKOUT / "config" / "chamberwatch.toml", self.checkout / "config")
        for tool in TOOLS:
            self._link(tool)
        python = self._bin / "python3"
        python.write_text(PRETENDER)
        python.chmod(0o755)

    @property
    def checkout(self) -> Path:
        return self.folder / "checkout"

    @property
    def _bin(self) -> Path:
        return self.folder / "bin"

    def _link(self, tool: str) -> None:
        found = shutil.which(tool, path=f"{os.environ['PATH']}:/usr/sbin:/sbin")
        if found is not None:
            self._bin.joinpath(tool).symlink_to(found)

    def without(self, *tools: str) -> None:
        """Take tools away."""
        for tool in tools:
            self._bin.joinpath(tool).unlink(missing_ok=True)

    def run(self, script: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run a script of the checkout to its end."""
        return subprocess.run(
            [str(self.checkout / script), *arguments],
            env={
                "PATH": str(self._bin),
                "PRETEND_RECORD": str(self.folder / "record"),
                **self.pretend,
            },
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            timeout=60,
            check=False,
        )

    def installations(self) -> list[str]:
        """Return the arguments of each `pip install`, oldest first."""
        record = self.folder / "record"
        return record.read_text().splitlines() if record.exists() else []
