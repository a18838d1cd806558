"""Reading the file, and saying everything that is wrong with it at once."""

import codecs
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from chamberwatch.core.errors import Fault, RefusedError, SettingsError
from chamberwatch.settings.cross import cross_faults
from chamberwatch.settings.models import EXAMPLE, DatabaseSettings, Settings
from chamberwatch.settings.salvage import validated
from chamberwatch.settings.wording import fault_of, one_line, shown

PASSWORD: Final = "CHAMBERWATCH_MQTT_PASSWORD"  # noqa: S105 - the name of a variable
WIRED_PASSWORD: Final = "CHAMBERWATCH_WIRED_PASSWORD"  # noqa: S105 - likewise
NOTIFY: Final = "CHAMBERWATCH_NOTIFY"
DATABASE_PASSWORD: Final = "CHAMBERWATCH_DATABASE_PASSWORD"  # noqa: S105 - the same
SIGN_OF_LIFE: Final = "CHAMBERWATCH_SIGN_OF_LIFE"
CREDENTIALS: Final = "CREDENTIALS_DIRECTORY"
_PASSWORDS: Final = {
    "password": (PASSWORD, "mqtt_password"),
    "wired_password": (WIRED_PASSWORD, "wired_password"),
}
"""Of [mqtt]: each comes from a variable of the environment or from a systemd credential."""


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


def reading(text: str, path: Path, environment: Mapping[str, str]) -> Settings:
    """Return the settings of a text that may come to stand in a file.

    Args:
        text: TOML.
        path: of that file.
        environment: such as os.environ.

    Raises:
        SettingsError: with every fault of the text.
    """
    with _at_fault(path):
        raw = tomllib.loads(text)
    settings, faults = _looked_at(raw, path, environment)
    if faults or settings is None:
        raise SettingsError(tuple(faults))
    return settings


def _read(path: Path, environment: Mapping[str, str]) -> tuple[Settings | None, list[Fault]]:
    try:
        raw = parsed(path)
    except SettingsError as error:
        return None, list(error.faults)
    return _looked_at(raw, path, environment)


def _looked_at(
    raw: dict[str, Any], path: Path, environment: Mapping[str, str]
) -> tuple[Settings | None, list[Fault]]:
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
    with _at_fault(path):
        return tomllib.loads(read_text(path)[0])


def sound_text(path: Path) -> tuple[str, bytes]:
    """Return the text of a TOML file, line ends as they are, and the mark it begins with.

    Raises:
        SettingsError: it can't be read, or is no TOML.
    """
    with _at_fault(path):
        text, mark = read_text(path)
        tomllib.loads(text)
        return text, mark


def read_text(path: Path) -> tuple[str, bytes]:
    """Return what a file holds, line ends as they are, and the mark it begins with.

    Raises:
        OSError: it can't be read.
        UnicodeDecodeError: it is not UTF-8.
    """
    raw = path.read_bytes()
    # Some editors begin a file with a byte order mark, which TOML does not know.
    mark = codecs.BOM_UTF8 if raw.startswith(codecs.BOM_UTF8) else b""
    return raw.removeprefix(mark).decode(), mark


@contextmanager
def _at_fault(path: Path) -> Iterator[None]:
    """Say of a file that can't be read, or is no TOML, what to do about it."""
    try:
        yield
    except FileNotFoundError:
        cure = (
            "There is no such file. Before the first start there is none: chamberwatch run makes "
            "it. If it lies elsewhere, give it with --config."
        )
    except PermissionError:
        cure = (
            "This account may not read it. Run the command as the one that runs chamberwatch: "
            "where it was installed as a service, with sudo in front."
        )
    except OSError as error:
        cure = f"It can't be read ({error.strerror}); look at what it is and at its rights."
    except UnicodeDecodeError:
        cure = "It is not UTF-8 text; save it as UTF-8."
    except tomllib.TOMLDecodeError as error:
        cure = f"{error}. Mend that line; the rest comes after."
    except (RecursionError, ValueError):
        cure = "It holds lists or numbers far too long to be settings; take them out."
    else:
        return
    raise SettingsError((Fault(str(path), "", "", cure),)) from None


def _secrets_in_file(path: Path, raw: Mapping[str, Any]) -> Iterator[Fault]:
    mqtt = raw.get("mqtt")
    for key, (variable, credential) in _PASSWORDS.items():
        if isinstance(mqtt, dict) and key in mqtt:
            mqtt.pop(key)
            yield Fault(
                str(path),
                f"mqtt.{key}",
                "",
                f"A password does not belong in this file; set {variable} or a systemd credential "
                f"named {credential}.",
            )
    database = raw.get("database")
    if isinstance(database, dict):
        yield from _database_password(path, database)


def _database_password(path: Path, database: dict[str, Any]) -> Iterator[Fault]:
    """Take a password out before anything is said of what stands there."""
    cure = (
        f"A password does not belong in this file; take it out, and set {DATABASE_PASSWORD} or a "
        "systemd credential named database_password, or write it into ~/.pgpass."
    )
    if "password" in database:
        database.pop("password")
        yield Fault(str(path), "database.password", "", cure)
    url = database.get("url")
    if isinstance(url, str) and not url.startswith("sqlite:") and (bare := without_password(url)):
        database["url"] = bare
        yield Fault(str(path), "database.url", "", cure)


def without_password(url: str) -> str | None:
    """Return the address of a server's database without the password in it; None: it has none."""
    scheme, _, rest = url.partition("://")
    # The last of them: a password may hold any of these signs.
    entry, at, place = rest.rpartition("@")
    role, colon, _ = entry.partition(":")
    place, asked, query = place.partition("?")
    kept = [each for each in query.split("&") if not each.startswith("password=")]
    query = "&".join(kept)
    bare = f"{scheme}://{role}{at}{place}{asked if query else ''}{query}"
    return bare if colon or len(bare) < len(url) else None


def _with_secrets(
    raw: dict[str, Any], environment: Mapping[str, str], path: Path, faults: list[Fault]
) -> dict[str, Any]:
    """Return the file's content with what must not stand in it, and names for the nameless."""
    made = dict(raw)
    for key, (variable, credential) in _PASSWORDS.items():
        given = environment.get(variable) or _credential(environment, path, credential, faults)
        mqtt = made.get("mqtt", {})
        if given and isinstance(mqtt, dict):
            made["mqtt"] = {**mqtt, key: given}
    given = environment.get(DATABASE_PASSWORD) or _credential(
        environment, path, "database_password", faults
    )
    database = made.get("database", {})
    if given and isinstance(database, dict):
        made["database"] = {**database, "password": given}
    sign = made.get("sign_of_life", {})
    if (url := environment.get(SIGN_OF_LIFE)) and isinstance(sign, dict):
        made["sign_of_life"] = {**sign, "url": url}
    notify = made.get("notify", [])
    if isinstance(notify, list):
        made["notify"] = named(notify, environment.get(NOTIFY))
    return made


def named(notify: Sequence[Any], extra: str | None) -> list[Any]:
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


def moved_to(now: DatabaseSettings, url: str) -> DatabaseSettings:
    """Return the settings of a database on a server in place of those of now.

    Raises:
        RefusedError: it is no such address, or it holds a password.
    """
    if without_password(url) is not None:
        raise RefusedError(
            "A password on the command line can be read by everybody on this machine. Take it out "
            f"of the address, and set {DATABASE_PASSWORD} or write it into ~/.pgpass."
        )
    try:
        new = DatabaseSettings(url=url, password=now.password)
    except ValidationError:
        new = DatabaseSettings()
    if not new.on_server:
        raise RefusedError(f"{url} is no address of a server. Write one like {EXAMPLE}.")
    return new


def _credential(
    environment: Mapping[str, str], path: Path, name: str, faults: list[Fault]
) -> str | None:
    folder = environment.get(CREDENTIALS)
    if not folder:
        return None
    file = Path(folder) / name
    try:
        return file.read_text(encoding="utf-8").strip() if file.exists() else None
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        cure = f"The credential can't be read ({why}); look at it and at its rights."
        faults.append(Fault(str(path), name, "", cure))
        return None


def _resolved(settings: Settings, path: Path) -> Settings:
    """Put a relative database, or the folder of what belongs to one, beside the settings file."""
    beside = path.resolve().parent
    if settings.database.on_server:
        files = (beside / settings.database.folder).as_posix()
        database = settings.database.model_copy(update={"files": files})
        return settings.model_copy(update={"database": database})
    file = settings.database.url.removeprefix("sqlite:///")
    place = (beside / file).as_posix()
    database = settings.database.model_copy(update={"url": f"sqlite:///{place}"})
    return settings.model_copy(update={"database": database})
