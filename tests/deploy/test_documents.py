"""The documents keep up with the code: commands, settings, addresses, examples."""

import re
import shlex
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Final, get_args

import pytest
import typer
from _pytest.mark.structures import ParameterSet
from fastapi.routing import APIRoute
from packaging.requirements import Requirement
from packaging.version import Version
from pydantic import BaseModel
from typer.core import TyperGroup

from chamberwatch.service.ports import Arrival
from tests.deploy.shell import CHECKOUT
from tests.said import read

README: Final = (CHECKOUT / "README.md").read_text()
DEVELOPERS: Final = (CHECKOUT / "DEVELOPERS.md").read_text()
TOP_LEVEL: Final = frozenset(
    {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    | {"chamberwatch", "tests", "config", "deploy"}
)


def _kept_files() -> list[Path]:
    """Return the files that git keeps or would keep, relative to the checkout."""
    listed = subprocess.run(
        ["git", "-C", str(CHECKOUT), "ls-files", "-z", "-co", "--exclude-standard"],
        capture_output=True,
        text=True,
        check=True,
    )
    return [Path(name) for name in listed.stdout.split("\0") if name]


needs_git = pytest.mark.skipif(
    shutil.which("git") is None or not (CHECKOUT / ".git").exists(),
    reason="this is not a git checkout, or git is not installed",
)


# ------------------------------------------------------------------ commands and settings


def _options() -> dict[str, set[str]]:
    """Return every command with its options; one within another has the names of both."""
    from chamberwatch.cli import app

    group = typer.main.get_command(app)
    assert isinstance(group, TyperGroup)
    return dict(_commands(group))


def _commands(group: TyperGroup, above: str = "") -> Iterator[tuple[str, set[str]]]:
    for name, command in group.commands.items():
        if isinstance(command, TyperGroup):
            yield from _commands(command, f"{above}{name} ")
        options = {option for param in command.params for option in param.opts}
        yield f"{above}{name}", {option for option in options if option[:2] == "--"}


def test_every_command_and_option_is_in_the_readme() -> None:
    known = _options()
    missing = [
        name for name in known if not re.search(rf"(chamberwatch |deploy/){name}\b", README)
    ]
    missing += [
        f"{name} {option}"
        for name, options in known.items()
        for option in options - {"--help"}
        if option not in README
    ]
    assert missing == []
    assert {"run", "check", "demo", "replay", "batch start", "batch withdraw"} <= set(known)


def _keys(model: type[BaseModel], above: str = "") -> Iterator[str]:
    for name, info in model.model_fields.items():
        key = f"{above}{info.alias or name}"
        yield key
        for inner in _models_in(info.annotation):
            yield from _keys(inner, f"{key}.")


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models_in(part)


def test_every_setting_is_explained() -> None:
    from chamberwatch.settings import Settings

    texts = README + (CHECKOUT / "config" / "chamberwatch.toml").read_text()
    missing = [
        key for key in _keys(Settings) if not re.search(rf"\b{key.rsplit('.', 1)[-1]}\b", texts)
    ]
    assert missing == []


def test_every_address_of_the_api_is_in_the_readme() -> None:
    from chamberwatch.web import api

    parts = [import_module(f"{api.__name__}.{m.name}") for m in iter_modules(api.__path__)]
    asked = {
        (method, re.sub(r"\?.*", "", path))
        for method, path in re.findall(r"^\| `(GET|POST|DELETE) (\S+)` ", README, re.MULTILINE)
    }
    served = {
        (method, route.path)
        for part in parts
        if hasattr(part, "router")
        for route in part.router.routes
        if isinstance(route, APIRoute)
        for method in route.methods or ()
    }
    assert asked == served


# ------------------------------------------------------------------ the examples


def _settings_of_the_readme(folder: Path) -> Path:
    """Write the examples of settings, those of species into a file beside them."""
    blocks = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    species = [block for block in blocks if block.startswith("[[species]]")]
    path = folder / "chamberwatch.toml"
    path.write_text("\n".join(block for block in blocks if block not in species))
    (folder / "species.toml").write_text("\n".join(species))
    return path


def _published() -> list[ParameterSet]:
    lines = re.findall(r"^    (mosquitto_pub (?:[^\n]*\\\n)*[^\n]*)", README, re.MULTILINE)
    found = []
    for line in lines:
        words = shlex.split(line.replace("\\\n", " "))
        topic, payload = words[words.index("-t") + 1], words[words.index("-m") + 1]
        found.append(pytest.param(topic, payload, id=topic))
    return found


def test_examples_of_settings_are_valid(tmp_path: Path) -> None:
    from chamberwatch.settings import load

    settings = load(_settings_of_the_readme(tmp_path), {})
    assert [chamber.name for chamber in settings.chamber] == ["tent", "room"]
    assert len(settings.sensor) == len(_published()) == 3


def test_examples_of_species_are_valid(tmp_path: Path) -> None:
    from chamberwatch.settings import load_species

    assert load_species(_settings_of_the_readme(tmp_path)).own == {"shiitake"}


@pytest.mark.parametrize(("topic", "payload"), _published())
def test_examples_of_messages_are_understood(tmp_path: Path, topic: str, payload: str) -> None:
    from chamberwatch.mqtt.payload import PayloadReader
    from chamberwatch.settings import load
    from chamberwatch.wiring.machine import _source

    settings = load(_settings_of_the_readme(tmp_path), {})
    (sensor,) = (sensor for sensor in settings.sensor if sensor.topic == topic)
    arrival = Arrival(
        topic, payload.encode(), False, 1, 1, 1, datetime(2026, 1, 20, 18, 5, tzinfo=UTC), 10.0
    )
    said = PayloadReader([_source(sensor)]).read(arrival)
    assert {value.quantity for value in said} == set(sensor.reads)


_SAID: Final = re.compile(
    r"^`chamberwatch/([^`]+)`[^\n]*\n(?:[^`\n][^\n]*\n)*\n```json\n(.*?)```",
    re.MULTILINE | re.DOTALL,
)


def test_examples_of_what_is_said_fit_the_schema() -> None:
    told = _SAID.findall(README)
    assert [topic for topic, _ in told] == ["status", "chamber/tent", "reminder/tent/mist"]
    for topic, block in told:
        for example in re.split(r"\n(?=\{)", block.strip()):
            read(topic, example)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_whatever_a_document_points_to_is_there(name: str) -> None:
    text = (CHECKOUT / name).read_text()
    links = re.findall(r"\]\(([^)#:]+)\)|src=\"([^\"]+)\"", text)
    assert [link for link in map("".join, links) if not (CHECKOUT / link).exists()] == []


# ------------------------------------------------------------------ the checkout


@needs_git
def test_top_level_is_as_it_should_be() -> None:
    tops = {path.parts[0] for path in _kept_files()}
    assert {top for top in tops if not top.startswith(".")} == TOP_LEVEL


@needs_git
def test_nothing_names_a_place_of_somebodys_machine() -> None:
    place = re.compile(r"/(?:root|work|Users|home/[a-z]+)/")
    found = []
    for path in _kept_files():
        try:
            text = (CHECKOUT / path).read_text()
        except (UnicodeDecodeError, FileNotFoundError):
            continue  # a picture, or a file that is being taken away
        found += [f"{path}: {hit}" for hit in place.findall(text)]
    assert found == []


@needs_git
def test_no_host_of_a_package_index_is_named() -> None:
    host = re.compile(r"pypi\.|--index-url|--extra-index|registry\.npm")
    scripts = [path for path in _kept_files() if path.parts[0] in ("deploy", ".ci", "config")]
    assert [str(p) for p in scripts if p.suffix != ".png" and host.search(_text(p))] == []


def _text(path: Path) -> str:
    return (CHECKOUT / path).read_text() if (CHECKOUT / path).exists() else ""


# ------------------------------------------------------------------ pins


def _pins() -> dict[str, Version]:
    lines = (CHECKOUT / "deploy" / "constraints.txt").read_text().splitlines()
    pins = dict(line.split("==") for line in lines if line and not line.startswith("#"))
    return {name: Version(version) for name, version in pins.items()}


def test_every_dependency_is_pinned_inside_its_range() -> None:
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["project"]
    wanted = [*project["dependencies"]]
    for group in project["optional-dependencies"].values():
        wanted += [name for name in group if not name.startswith("chamberwatch[")]
    pins = _pins()
    loose = [
        text
        for text in wanted
        if (need := Requirement(text)).name not in pins or pins[need.name] not in need.specifier
    ]
    assert loose == []


def test_pins_hold_names_and_versions_only() -> None:
    text = (CHECKOUT / "deploy" / "constraints.txt").read_text()
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    assert [line for line in lines if not re.fullmatch(r"[a-z0-9-]+==[a-z0-9.]+", line)] == []
    assert lines == sorted(lines)


def test_developers_page_names_every_room() -> None:
    pyproject = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())
    layers = pyproject["tool"]["importlinter"]["contracts"][0]["layers"]
    rooms = {room.strip() for layer in layers for room in layer.split("|")}
    assert [room for room in rooms if room not in DEVELOPERS] == []


# ------------------------------------------------------------------ what it survives


def test_each_line_of_what_it_survives_is_a_test() -> None:
    lines = README.partition("## What it survives\n")[2].partition("\n## ")[0].splitlines()
    named = [found[1] for line in lines if (found := re.search(r"\| `(test_\w+)` \|$", line))]
    assert len(named) == sum(line.startswith("| ") for line in lines) - 1
    tests = "\n".join(file.read_text() for file in (CHECKOUT / "tests").rglob("test_*.py"))
    assert [name for name in named if f"def {name}(" not in tests] == []
