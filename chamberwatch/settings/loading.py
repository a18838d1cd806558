"""Reading the file, and saying everything that is wrong with it at once."""

import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path
from typing import Any, Final

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.settings.cross import cross_faults
from chamberwatch.settings.models import Settings
from chamberwatch.settings.salvage import validated
from chamberwatch.settings.wording import fault_of, one_line, shown

PASSWORD: Final = "CHAMBERWATCH_MQTT_PASSWORD"  # noqa: S105 - the name of a variable
NOTIFY: Final = "CHAMBERWATCH_NOTIFY"
SIGN_OF_LIFE: Final = "CHAMBERWATCH_SIGN_OF_LIFE"
CREDENTIALS: Final = "CREDENTIALS_DIRECTORY"


def load(path: Path, environment: Mapping[str, str]) -> Settings:
    """Return the settings; secrets come from the environment or from systemd credentials.

    Args:
        path: the settings file (TOML).
        environment: such as os.environ.

    Raises:
        SettingsError: with every fault of the file.
    """
    settings, faults = _read(path, environment)
    if faults or settings is None:
        raise SettingsError(tuple(faults))
    return settings


def check(path: Path, environment: Mapping[str, str]) -> tuple[Fault, ...]:
    """Return every fault of the file."""
    return tuple(_read(path, environment)[1])


def _read(path: Path, environment: Mapping[str, str]) -> tuple[Settings | None, list[Fault]]:
    try:
        raw = parsed(path)
    except SettingsError as error:
        return None, list(error.faults)
    faults = list(_secrets_in_file(path, raw))
    content = _with_secrets(raw, environment, path, faults)
    settings, found = validated(content)
    faults += [fault_of(path, raw, detail) for detail in found]
    for key, value, cure in cross_faults(content):
        given = "" if value is None else shown(value)
        faults.append(Fault(str(path), key, given, one_line(cure)))
    return _resolved(settings, path) if settings else None, faults


def parsed(path: Path) -> dict[str, Any]:
    """Return what a TOML file holds.

    Raises:
        SettingsError: it can't be read, or is no TOML.
    """
    try:
        # Some editors begin a file with a byte order mark, which TOML does not know.
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        cure = "There is no such file; give the right one with --config."
    except OSError as error:
        cure = f"It can't be read ({error.strerror}); look at what it is and at its rights."
    except UnicodeDecodeError:
        cure = "It is not UTF-8 text; save it as UTF-8."
    except tomllib.TOMLDecodeError as error:
        cure = f"{error}. Mend that line; the rest comes after."
    except (RecursionError, ValueError):
        cure = "It holds lists or numbers far too long to be settings; take them out."
    raise SettingsError((Fault(str(path), "", "", cure),)) from None


def _secrets_in_file(path: Path, raw: Mapping[str, Any]) -> Iterator[Fault]:
    mqtt = raw.get("mqtt")
    if isinstance(mqtt, dict) and "password" in mqtt:
        mqtt.pop("password")
        yield Fault(
            str(path),
            "mqtt.password",
            "",
            f"A password does not belong in this file; set {PASSWORD} or a systemd credential "
            f"named mqtt_password.",
        )


def _with_secrets(
    raw: dict[str, Any], environment: Mapping[str, str], path: Path, faults: list[Fault]
) -> dict[str, Any]:
    """Return the file's content with what must not stand in it, and names for the nameless."""
    made = dict(raw)
    password = environment.get(PASSWORD) or _credential(environment, path, faults)
    mqtt = made.get("mqtt", {})
    if password and isinstance(mqtt, dict):
        made["mqtt"] = {**mqtt, "password": password}
    sign = made.get("sign_of_life", {})
    if (url := environment.get(SIGN_OF_LIFE)) and isinstance(sign, dict):
        made["sign_of_life"] = {**sign, "url": url}
    notify = made.get("notify", [])
    if isinstance(notify, list):
        made["notify"] = _named(notify, environment.get(NOTIFY))
    return made


def _named(notify: Sequence[Any], extra: str | None) -> list[Any]:
    """Return the addresses with names for the nameless, and the one of the environment."""
    given = [entry.get("name") for entry in notify if isinstance(entry, dict)]
    # Whatever else stands for a name, a list even, is found at fault later.
    taken = {name for name in given if isinstance(name, str)}

    def name(stem: str) -> str:
        free = stem if stem not in taken else next(_numbered(stem, taken))
        taken.add(free)
        return free

    named = [
        {"name": name("phone"), **entry}
        if isinstance(entry, dict) and "name" not in entry
        else entry
        for entry in notify
    ]
    return [*named, {"name": name("env"), "to": extra}] if extra else named


def _numbered(stem: str, taken: Collection[Any]) -> Iterator[str]:
    return (f"{stem}-{n}" for n in count(2) if f"{stem}-{n}" not in taken)


def _credential(environment: Mapping[str, str], path: Path, faults: list[Fault]) -> str | None:
    folder = environment.get(CREDENTIALS)
    if not folder:
        return None
    file = Path(folder) / "mqtt_password"
    try:
        return file.read_text(encoding="utf-8").strip() if file.exists() else None
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        cure = f"The credential can't be read ({why}); look at it and at its rights."
        faults.append(Fault(str(path), "mqtt_password", "", cure))
        return None


def _resolved(settings: Settings, path: Path) -> Settings:
    """Put a relative database beside the settings file."""
    file = settings.database.url.removeprefix("sqlite:///")
    place = (path.resolve().parent / file).as_posix()
    database = settings.database.model_copy(update={"url": f"sqlite:///{place}"})
    return settings.model_copy(update={"database": database})
