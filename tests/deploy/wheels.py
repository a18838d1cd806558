"""Wheels of this checkout and of versions yet to come, and trees to install them in."""

import hashlib
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.deploy.bare_root import NAME
from tests.deploy.shell import CHECKOUT

STEP: Final = "a step of the test"
NOW: Final = "0.1.0"
NEWER: Final = "0.9.1"
BROKEN: Final = "0.9.2"

_MORE_STEPS: Final = """

def {function}(connection: Connection) -> None:
    _run(connection, ("CREATE TABLE {function} (id INTEGER PRIMARY KEY) STRICT",))


STEPS = (*STEPS, ("{name}", {function}))
"""
_OF_NEWER: Final = _MORE_STEPS.format(function="of_the_test", name=STEP)
_OF_BROKEN: Final = _OF_NEWER + _MORE_STEPS.format(function="of_the_failed", name="of the failed")
_NO_START: Final = """

def run_daemon(config: Path) -> None:  # type: ignore[no-redef]
    from chamberwatch.storage import engine, migrations
    from chamberwatch.clock import WallClock

    read = _read(config)
    writer = engine.make_writer(engine.path_of(read.settings.database.url), 5.0)
    migrations.migrate(writer, WallClock().now())
    raise SettingsError([Fault(str(config), "", None, "This version does not start.")])
"""


@dataclass(frozen=True)
class Wheels:
    """Where the wheels lie, all that they need beside them.

    Attributes:
        folder: of all wheels.
        now: of this checkout.
        newer: it takes the database a step further.
        broken: it takes the database a step further, and then does not start.
    """

    folder: Path
    now: str
    newer: str
    broken: str


def make_wheels(folder: Path) -> Wheels:
    """Build the three, and fetch what they need; nothing is done if they are of this checkout."""
    wheels, print_of_it = folder / "wheels", _print_of_the_program()
    made = wheels / "made-from"
    names = [f"chamberwatch-{version}-py3-none-any.whl" for version in (NOW, NEWER, BROKEN)]
    if not made.exists() or made.read_text() != print_of_it:
        shutil.rmtree(wheels, ignore_errors=True)
        wheels.mkdir(parents=True)
        _wheel(CHECKOUT, wheels)
        _wheel(_doctored(folder / "newer", NEWER, _OF_NEWER), wheels)
        _wheel(_doctored(folder / "broken", BROKEN, _OF_BROKEN, _NO_START), wheels)
        pins = CHECKOUT / "deploy/constraints.txt"
        _pip(
            "wheel",
            "--wheel-dir",
            wheels,
            "--constraint",
            pins,
            f"{wheels / names[0]}[images,postgres]",
        )
        made.write_text(print_of_it)
    return Wheels(wheels, *names)


def _print_of_the_program() -> str:
    names = [CHECKOUT / "pyproject.toml", CHECKOUT / "deploy/constraints.txt", Path(__file__)]
    for pattern in ("chamberwatch/**/*", "deploy/web/*.*"):
        names += sorted(path for path in CHECKOUT.glob(pattern) if path.is_file())
    contents = [path.read_bytes() for path in names if path.suffix != ".pyc"]
    return hashlib.sha256(b"".join(contents)).hexdigest()


def _doctored(copy: Path, version: str, steps: str, running: str = "") -> Path:
    shutil.rmtree(copy, ignore_errors=True)
    put_checkout(copy)
    shutil.copytree(
        CHECKOUT / "chamberwatch/web/static/vendor", copy / "chamberwatch/web/static/vendor"
    )
    for name in ("pyproject.toml", "chamberwatch/__init__.py"):
        path = copy / name
        path.write_text(path.read_text().replace(f'"{NOW}"', f'"{version}"'))
    migrations, run = (
        copy / "chamberwatch/storage/migrations.py",
        copy / "chamberwatch/cli/running.py",
    )
    # Before what takes the steps as its default.
    text = migrations.read_text()
    assert text.count("\ndef applied(") == 1
    migrations.write_text(text.replace("\ndef applied(", f"\n{steps}\n\ndef applied("))
    run.write_text(run.read_text() + running)
    return copy


def _wheel(checkout: Path, folder: Path) -> None:
    _pip("wheel", "--no-deps", "--wheel-dir", folder, checkout)


def _pip(*words: str | Path) -> None:
    subprocess.run([sys.executable, "-m", "pip", "-qq", *words], check=True)


def put_checkout(to: Path) -> None:
    """Copy what git keeps of this checkout, as it lies here."""
    said = subprocess.run(
        ["git", "-C", CHECKOUT, "ls-files", "-z", "-co", "--exclude-standard"],
        capture_output=True,
        text=True,
        check=True,
    )
    for name in filter(None, said.stdout.split("\0")):
        if (CHECKOUT / name).exists():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(CHECKOUT / name, to / name)


def new_tree(folder: Path, name: str, wheels: Wheels) -> Path:
    """Copy the bare tree, and put checkout and wheels into it."""
    tree = folder / name
    shutil.rmtree(tree, ignore_errors=True)
    subprocess.run(["cp", "-a", folder / "bare", tree], check=True)
    (tree / "etc/hostname").write_text(f"{NAME}\n")
    (tree / "etc/hosts").write_text(f"127.0.0.1 localhost\n127.0.1.1 {NAME}\n")
    put_checkout(tree / "srv/checkout")
    shutil.copytree(wheels.folder, tree / "srv/wheels")
    return tree
