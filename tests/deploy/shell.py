"""A bare machine for the shell scripts: a few tools, and a Python that only pretends."""

import os
import shutil
import subprocess
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

CHECKOUT: Final = Path(__file__).resolve().parents[2]

TOOLS: Final = """
base64 basename bash cat chmod cmp cp cut df dirname du env find flock grep head id install ln ls
mkdir mktemp mosquitto_passwd mv openssl printenv readlink rm sed sha256sum sleep sort stat sync
tail tee touch tr uname xargs
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
    "deploy/web/build_hook.py --for-tests") echo "rules:" ;;
    *"deploy/install/use_tls.py "*)
        grep -qsxF -- "$*" "$PRETEND_RECORD.python" || echo changed
        echo "$*" >>"$PRETEND_RECORD.python" ;;
    *"deploy/install/keep_database.py "*)
        echo "$*" >>"$PRETEND_RECORD.python"
        echo "$PRETEND_COPY"
        [ "$PRETEND_FAULT" != keep_database ] ;;
    "-m pip install "*)
        echo "$*" >>"$PRETEND_RECORD"
        if [ -n "$PRETEND_PIP_ERROR" ]; then
            echo "$PRETEND_PIP_ERROR"
            exit 1
        fi
        for tool in chamberwatch ruff mypy lint-imports pytest coverage; do
            printf '#!/bin/bash\necho "%s:$*"\ncase $PRETEND_FAULT in %s|"%s $1") exit 1; esac\n' \
                $tool $tool $tool >"${0%/*}/$tool"
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
        for folder in ("install", "web"):
            shutil.copytree(
                CHECKOUT / "deploy" / folder,
                self.checkout / "deploy" / folder,
                ignore=shutil.ignore_patterns("__pycache__", "node_modules"),
            )
        self.checkout.joinpath("chamberwatch").mkdir()
        self.checkout.joinpath("chamberwatch", "__init__.py").write_text("# the program\n")
        shutil.copy(CHECKOUT / "pyproject.toml", self.checkout)
        shutil.copy(CHECKOUT / "config" / "chamberwatch.toml", self.checkout / "config")
        for tool in TOOLS:
            self._link(tool)
        self.put_tool("python3", PRETENDER)

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

    def put_tool(self, name: str, script: str) -> None:
        """Add a tool, or put another in its place."""
        self.without(name)
        tool = self._bin / name
        tool.write_text(script)
        tool.chmod(0o755)

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
