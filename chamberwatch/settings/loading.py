"""Reading the file, and saying everything that is wrong with it at once."""

import difflib
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, get_args
from zoneinfo import available_timezones

from pydantic import BaseModel

from chamberwatch.core.errors import Fault, SettingsError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.settings.cross import cross_faults
from chamberwatch.settings.models import Settings
from chamberwatch.settings.salvage import Found, validated

PASSWORD: Final = "CHAMBERWATCH_MQTT_PASSWORD"  # noqa: S105 - the name of a variable
NOTIFY: Final = "CHAMBERWATCH_NOTIFY"
CREDENTIALS: Final = "CREDENTIALS_DIRECTORY"

_CURES: Final[dict[str, str]] = {
    "missing": "Add it; it is needed.",
    "extra_forbidden": "There is no such key; take it out.",
    "bool_parsing": "Write true or false.",
    "bool_type": "Write true or false.",
    "string_type": "Write a text in quotation marks.",
    "float_type": "Write a number.",
    "float_parsing": "Write a number.",
    "int_type": "Write a whole number.",
    "int_parsing": "Write a whole number.",
    "int_from_float": "Write a whole number.",
}


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
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        cure = "There is no such file; give the right one with --config."
        return None, [Fault(str(path), "", "", cure)]
    except (OSError, UnicodeDecodeError) as error:
        return None, [Fault(str(path), "", "", f"It can't be read ({error}); look at its rights.")]
    except tomllib.TOMLDecodeError as error:
        return None, [Fault(str(path), "", "", f"{error}. Mend that line; the rest comes after.")]
    faults = list(_secrets_in_file(path, raw))
    content = _with_secrets(raw, environment, path, faults)
    settings, found, whole = validated(content)
    faults += [_fault(path, raw, detail) for detail in found]
    if settings is None:
        return None, faults
    for key, value, cure in cross_faults(settings, all_chambers=whole):
        faults.append(Fault(str(path), key, value, cure))
    return _resolved(settings, path), faults


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
    notify = made.get("notify", [])
    if isinstance(notify, list):
        notify = [
            {"name": "phone" if i == 0 else f"phone-{i + 1}", **entry}
            if isinstance(entry, dict)
            else entry
            for i, entry in enumerate(notify)
        ]
        if environment.get(NOTIFY):
            notify.append({"name": "env", "to": environment[NOTIFY]})
        made["notify"] = notify
    return made


def _credential(environment: Mapping[str, str], path: Path, faults: list[Fault]) -> str | None:
    folder = environment.get(CREDENTIALS)
    if not folder:
        return None
    file = Path(folder) / "mqtt_password"
    try:
        return file.read_text(encoding="utf-8").strip() if file.exists() else None
    except OSError as error:
        cure = f"The credential can't be read ({error.strerror}); look at its rights."
        faults.append(Fault(str(path), "mqtt_password", "", cure))
        return None


def _resolved(settings: Settings, path: Path) -> Settings:
    """Put a relative database beside the settings file."""
    file = settings.database.url.removeprefix("sqlite:///")
    place = (path.resolve().parent / file).as_posix()
    database = settings.database.model_copy(update={"url": f"sqlite:///{place}"})
    return settings.model_copy(update={"database": database})


# ------------------------------------------------------------------ wording of faults


def _fault(path: Path, raw: Mapping[str, Any], detail: Found) -> Fault:
    where, kind, given = detail.where, detail.kind, detail.given
    key = _key_words(raw, where)
    if kind == "extra_forbidden":
        near = _near(str(where[-1]), _keys_beside(where))
        return Fault(str(path), key, _shown(given), _CURES[kind] + near)
    if kind == "enum":
        known = [q.value for q in Quantity] if "reads" in where else [s.value for s in Stage]
        cure = f"Write one of {', '.join(known)}." + _near(str(given), known)
        return Fault(str(path), key, _shown(given), cure)
    if kind == "literal_error":
        return Fault(str(path), key, _shown(given), f"Write one of {detail.expected}.")
    cure = _CURES.get(kind, detail.message)
    if where[-1:] == ("timezone",):
        cure += _near(str(given), sorted(available_timezones()))
    value = "" if kind == "missing" or isinstance(given, dict) else _shown(given)
    return Fault(str(path), key, value, cure if cure.endswith((".", "?")) else f"{cure}.")


def _key_words(raw: Any, where: Sequence[int | str]) -> str:  # noqa: ANN401 - any TOML value
    """Write a place in the file, naming entries of a list by their own name."""
    words, here = "", raw
    for part in where:
        here = _inside(here, part)
        if isinstance(part, int):
            name = here.get("name") if isinstance(here, dict) else None
            words += f'[{part + 1}] "{name}"' if name else f"[{part + 1}]"
        else:
            words += f".{part}" if words else str(part)
    return words


def _inside(here: Any, part: int | str) -> Any:  # noqa: ANN401 - any TOML value
    try:
        return here[part]
    except (KeyError, IndexError, TypeError):
        return None


def _keys_beside(where: Sequence[int | str]) -> list[str]:
    """Return the keys that would have been right in that place."""
    model: type[BaseModel] = Settings
    for part in where[:-1]:
        if isinstance(part, int) or part in {q.value for q in Quantity}:
            continue
        inner = _model_in(model.model_fields[str(part)].annotation)
        model = inner if inner is not None else model
    return [name for name in model.model_fields if name != "password"]


def _model_in(annotation: Any) -> type[BaseModel] | None:  # noqa: ANN401 - a type expression
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_in(argument) for argument in get_args(annotation))
    return next((model for model in found if model is not None), None)


def _near(given: str, known: Sequence[str]) -> str:
    close = difflib.get_close_matches(given, known, n=1, cutoff=0.6)
    return f" Did you mean {close[0]}?" if close else ""


def _shown(value: object) -> str:
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."
