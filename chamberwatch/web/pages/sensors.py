"""Sensors as they are heard, and topics that nobody claims."""

import hashlib
from dataclasses import dataclass
from datetime import timedelta
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from chamberwatch.core.watch.guess import sends
from chamberwatch.service.claiming import Unclaimed, WhoseNow
from chamberwatch.service.listening import Heard
from chamberwatch.service.views import SensorNow
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, claiming_of, desk_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.hung import doubt_words, heard_words
from chamberwatch.web.rendering import page
from chamberwatch.web.trade_words import where

router = APIRouter(include_in_schema=False)

SENSORS: Final = "/set-up/sensors"
CLAIM: Final = f"{SENSORS}/claim"
EXCERPT: Final = 300
SHOWN: Final = 100
"""Topics on the page; what may be of the air comes first."""
JUST_NOW: Final = timedelta(seconds=2)
ONE_S: Final = 1.5
SAID: Final = {
    "claimed": marked("The sensor stands in the settings and is listened to from now on.")
}


@dataclass(frozen=True, slots=True)
class Known:
    """A sensor of the settings as it is shown."""

    id: str
    name: str
    where: str
    sends: str
    age: str
    doubt: str
    topic: str


@dataclass(frozen=True, slots=True)
class Asking:
    """A topic that nobody claims, as it is shown."""

    id: str
    topic: str
    sends: str
    often: str
    claim: str
    payload: str


@dataclass(frozen=True, slots=True)
class Table:
    """What the changing part of the page shows."""

    known: tuple[Known, ...]
    asking: tuple[Asking, ...]
    unread: tuple[Asking, ...]
    trouble: str
    waiting: bool
    left_out: int
    not_shown: int


@router.get(SENSORS)
def sensors(request: Request, said: str = "") -> Response:
    """Show sensors and topics; each look goes on listening for a minute."""
    return page(
        "sensors.html", title=_("Sensors"), said=_(SAID.get(said, "")), table=_table(request)
    )


@router.get(f"{SENSORS}/part")
def part(request: Request) -> Response:
    """Show the changing part alone."""
    return page("_sensors.html", table=_table(request))


def _table(request: Request) -> Table:
    desk, figures, whose = desk_of(request), figures_of(request), claiming_of(request).now(SHOWN)
    shown = whose.unclaimed[:SHOWN]
    asking = [_asking(each, whose, figures) for each in shown]
    asks = [each.guess.asks for each in shown]
    return Table(
        known=tuple(_all_known(desk, figures, whose)),
        asking=tuple(each for each, yes in zip(asking, asks, strict=True) if yes),
        unread=tuple(each for each, yes in zip(asking, asks, strict=True) if not yes),
        not_shown=max(0, len(whose.unclaimed) - SHOWN),
        trouble=whose.heard.trouble or "",
        waiting=whose.heard.since is None and whose.heard.trouble is None,
        left_out=whose.heard.left_out,
    )


def _all_known(desk: Desk, figures: Figures, whose: WhoseNow) -> list[Known]:
    return [
        _known(heard, chamber.title, whose.topics.get(heard.sensor.name, ""), figures)
        for chamber in desk.history.chambers()
        for heard in desk.history.now(chamber.name).sensors
    ]


def _known(heard: SensorNow, chamber: str, topic: str, figures: Figures) -> Known:
    said = [
        f"{words.named(quantity)}{words.GAP}{figures.amount(quantity, reading.value)}"
        for quantity, reading in heard.readings.items()
    ]
    return Known(
        id=_id(heard.sensor.name),
        name=heard.sensor.name,
        where=f"{chamber}, {where(heard.sensor)}",
        sends=", ".join(said),
        age=heard_words(heard),
        doubt=doubt_words(heard),
        topic=topic,
    )


def _asking(each: Unclaimed, whose: WhoseNow, figures: Figures) -> Asking:
    heard = each.heard
    return Asking(
        id=_id(heard.topic),
        topic=heard.topic,
        sends=figures.said(sends(each.guess)),
        often=often_words(heard, whose),
        claim="" if each.guess.why else f"{CLAIM}?{urlencode({'topic': heard.topic})}",
        payload=shown_payload(heard),
    )


def often_words(heard: Heard, whose: WhoseNow) -> str:
    """Say how often messages come, and when the last one did."""
    if heard.old:
        return _("Kept by the broker from earlier; how old it is, nobody knows.")
    ago = whose.heard.now - heard.last
    last = _("just now") if ago < JUST_NOW else _("%(age)s ago", age=words.span(ago))
    if heard.every_s is None:
        return _("One message, %(last)s.", last=last)
    return _(
        "%(every)s; %(count)s so far, the last one %(last)s.",
        every=_every(heard.every_s),
        count=heard.count,
        last=last,
    )


def _every(seconds: float) -> str:
    if seconds < ONE_S:
        return _("Every second or more often")
    if seconds < 2 * words.MINUTE:
        return _("About every %(seconds)s\N{NO-BREAK SPACE}s", seconds=f"{seconds:.0f}")
    return _(
        "About every %(seconds)s\N{NO-BREAK SPACE}min", seconds=f"{seconds / words.MINUTE:.0f}"
    )


def shown_payload(heard: Heard) -> str:
    """Return a message as far as a page shows it, whatever bytes it had."""
    text = heard.payload.decode("utf-8", "backslashreplace")
    shown = "".join(c if c.isprintable() or c in "\n\t" else "·" for c in text[:EXCERPT])
    return f"{shown}…" if len(text) > EXCERPT or not heard.whole else shown


def _id(text: str) -> str:
    return f"p{hashlib.sha256(text.encode()).hexdigest()[:12]}"
