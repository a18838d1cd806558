"""`hold`: will it hold till morning, till I'm back? Asked of the daemon that runs."""

import http.client
import json
import os
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Annotated, Any, Final
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside
from chamberwatch.core.errors import RefusedError, SettingsError, UnknownNameError

ANSWERS_WITHIN_S: Final = 10.0
MORNING: Final = time(7, 30)
WONT_HOLD: Final = 3
"""Exit code of an honest no, so that a script can ask."""

OK: Final = 200
UNKNOWN: Final = 401
"""It asks who we are."""


def hold(
    chamber: Annotated[
        str, typer.Argument(help="Name of the chamber; the only one by itself.")
    ] = "",
    till: Annotated[
        str,
        typer.Option(help="18:00, morning, or a length such as 5h; without it, the next visit."),
    ] = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Tell whether the air will hold till then, and what would make it; asks the running daemon.

    Ends with 0 for yes and 3 for no.
    """
    from chamberwatch.clock import WallClock
    from chamberwatch.settings import Settings, load

    settings: Settings = load(config, os.environ)
    name = chamber or _only(settings)
    asked = {}
    if till:
        zone = ZoneInfo(settings.site.timezone)
        visits = next((c.visits for c in settings.chamber if c.name == name), ())
        morning = min(visits, default=MORNING)
        asked["until"] = until(till, WallClock().now(), zone, morning).isoformat()
    path = f"/api/v1/chambers/{quote(name, safe='')}/hold?{urlencode(asked)}"
    answer = _answer(config, settings.web.from_here, settings.web.port, path)
    print(answer["words"])
    raise typer.Exit(0 if answer["holds"] else WONT_HOLD)


def until(text: str, now: datetime, zone: ZoneInfo, morning: time) -> datetime:
    """Return the time that a person means: the next 18:00, the next morning, or so long from now.

    Raises:
        RefusedError: it can't be read.
    """
    from chamberwatch.settings import duration

    try:
        at = morning if text.strip().lower() == "morning" else time.fromisoformat(text.strip())
    except ValueError:
        try:
            return now + duration(text)
        except SettingsError:
            raise RefusedError(
                f"“{text}” is no time: write 18:00, morning, or a length such as 5h."
            ) from None
    local = now.astimezone(zone)
    meant = datetime.combine(local.date(), at, zone)
    if meant <= local:
        meant = datetime.combine(local.date() + timedelta(days=1), at, zone)
    return meant.astimezone(UTC)


def _only(settings: Any) -> str:  # noqa: ANN401 - the settings' type would be loaded for --help
    growing = [c.name for c in settings.chamber if c.stage is not None]
    if len(growing) == 1:
        return str(growing[0])
    known = ", ".join(growing) or "none yet"
    raise UnknownNameError(f"Name the chamber. Known: {known}.")


def _answer(config: Path, host: str, port: int, path: str) -> dict[str, Any]:
    """Ask the daemon, as one who may come in.

    Raises:
        RefusedError: it isn't there, or has no answer.
        StorageError: it asks who we are, and the database that would tell can't be read.
    """
    status, said = _ask(host, port, path, {})
    if status == UNKNOWN:
        status, said = _ask(host, port, path, {"Authorization": f"Bearer {_pass(config)}"})
    if status != OK:
        raise RefusedError(str(said.get("detail", f"The daemon answered {status}.")))
    return said


def _pass(config: Path) -> str:
    """Return what shows that we may read the database, and so need no token."""
    from chamberwatch.web.own_pass import OwnPasses

    with beside(config) as on:
        return OwnPasses(on.books).make(on.clock.now())


def _ask(host: str, port: int, path: str, more: dict[str, str]) -> tuple[int, dict[str, Any]]:
    """Return what the daemon answers: status and content.

    Raises:
        RefusedError: it isn't there.
    """
    connection = http.client.HTTPConnection(host, port, timeout=ANSWERS_WITHIN_S)
    try:
        connection.request("GET", path, headers={"Accept": "application/json", **more})
        reply = connection.getresponse()
        said: dict[str, Any] = json.loads(reply.read())
    except (OSError, ValueError, http.client.HTTPException) as error:
        raise RefusedError(
            f"The daemon does not answer at {host}:{port} ({error}). Start it with "
            "`chamberwatch run`, or name its settings file with --config."
        ) from error
    finally:
        connection.close()
    return reply.status, said
