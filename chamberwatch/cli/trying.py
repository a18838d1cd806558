"""`try-message`: a test message to each address, now, beside a daemon that may be running."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.core.errors import StorageError, UnknownNameError

if TYPE_CHECKING:
    from chamberwatch.clock import WallClock
    from chamberwatch.notify.push import Push
    from chamberwatch.settings import NotifySettings, Settings

NOTHING_HEARD: Final = "It carries no picture: nothing was heard in the last six hours."


def try_message(
    to: Annotated[
        str, typer.Option("--to", help="Name of the address; without it, all of them.")
    ] = "",
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Send a test message to each address now, and say whether it went or why not.

    Ends with 0 if all went out and 1 if not. The daemon may run or not; it is not disturbed.
    """
    from chamberwatch.clock import WallClock
    from chamberwatch.settings import load

    settings, clock = load(config, os.environ), WallClock()
    wanted = _wanted(settings, to, config)
    picture, why_none = _picture(settings, clock)
    went = [_send(settings, each, picture, clock) for each in wanted]
    if why_none and any(each.pictures for each in wanted):
        print(why_none)
    raise typer.Exit(0 if all(went) else 1)


def _wanted(settings: "Settings", to: str, config: Path) -> tuple["NotifySettings", ...]:
    if not settings.notify:
        raise UnknownNameError(
            f"There is no address to send to yet. Add a [[notify]] with name and to in {config}."
        )
    wanted = tuple(each for each in settings.notify if to in ("", each.name))
    if not wanted:
        known = ", ".join(each.name for each in settings.notify)
        raise UnknownNameError(f"There is no address “{to}”. Known: {known}.")
    return wanted


def _send(
    settings: "Settings", notify: "NotifySettings", picture: bytes | None, clock: "WallClock"
) -> bool:
    from chamberwatch.core.post_words import trial
    from chamberwatch.notify.push import Push

    push = Push(notify.name, notify.to.get_secret_value(), None, pictures=notify.pictures)
    shown = picture if push.pictures else None
    words = trial(
        clock.now(),
        ZoneInfo(settings.site.timezone),
        links=settings.web.address is not None,
        picture=shown is not None,
    )
    outcome = push.send(words.title, words.body, shown)
    if outcome.ok:
        print(f"{notify.name}: it went out{_with(push, shown)}. Look whether it came.")
    else:
        print(f"{notify.name}: it did not go out: {outcome.reason}.")
    return outcome.ok


def _with(push: "Push", picture: bytes | None) -> str:
    if picture is not None:
        return ", with a picture"
    return "" if push.takes_pictures else "; this service takes no pictures"


def _picture(settings: "Settings", clock: "WallClock") -> tuple[bytes | None, str]:
    """Return the picture that goes with it, and what to say where there is none."""
    from chamberwatch.notify.picture import Painter
    from chamberwatch.service.picturing import Picturing
    from chamberwatch.storage.looking import look_at

    painter = Painter()
    if painter.missing:
        return None, painter.missing
    try:
        with look_at(settings.database.address) as books:
            house, zone = settings.house(), ZoneInfo(settings.site.timezone)
            shown_in = settings.site.shown_in()
            picturing = Picturing(books, clock, house, zone, painter.paint, shown_in)
            subject = picturing.anywhere()
            found = None if subject is None else picturing.paint_of(subject)
    except StorageError as error:
        return None, f"It carries no picture. {error}"
    return found, "" if found else NOTHING_HEARD
