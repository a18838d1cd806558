"""A house in which whatever can be named has a name that means harm.

Some of it people write (titles, species, batches, deeds, tokens), some of it machines send
(topics and messages). It is told as they would tell it: in the settings, through the API, and as
messages.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.service.growing.told import Telling
from tests.browser.houses import House, built, days, deeds, demo, names
from tests.listeners import Ear, heard
from tests.photo.pictures import from_a_phone

MARKUP: Final = "\"'></title></textarea></script><script>flag=1</script><img src=x onerror=flag=1>"
SQL: Final = "'); drop table readings; --"
TEMPLATE: Final = "{{ 7*7 }} %(name)s %s {0} ${7*7}"
TURNED: Final = "A\N{RIGHT-TO-LEFT OVERRIDE}gnp.\N{RIGHT-TO-LEFT ISOLATE}x"
"""What turns everything behind it round, and nothing that ends it."""
UNBROKEN: Final = "W" * 80
HEBREW: Final = "אוהל 3"
TITLE: Final = f"{MARKUP}{SQL} {TEMPLATE} {HEBREW}{UNBROKEN}"
SHORT_TITLE: Final = f"<img src=x onerror=flag=1> =1+1 {HEBREW}"
"""A title that turns what is behind it is refused; see the settings."""
ALL: Final = f"{MARKUP}{SQL} {TEMPLATE} {TURNED} {HEBREW}"
SHORT: Final = f"<img src=x onerror=flag=1>{TURNED} {HEBREW} =1+1"
FORMULA: Final = "=HYPERLINK(1)"

TOPIC: Final = "<script>flag=1</script>/'\"><img src=x onerror=flag=1>/\N{RIGHT-TO-LEFT OVERRIDE}x"
FREE: Final = f"{TOPIC}/free"
"""Claimed by no sensor; the one before is."""
TOPICS: Final = (
    TOPIC,
    FREE,
    "/" * 200,
    "$SYS/broker/uptime",
    f"bell\a\x1b[2J/{UNBROKEN}{UNBROKEN}",
    "t" * 65_535,
)
SPECIES: Final = f"""
[[species]]
name = "evil"
like = "grey-oyster"
title = {json.dumps(SHORT_TITLE)}
latin = {json.dumps(SHORT_TITLE)}
pick_when = {json.dumps(ALL)}
notes = [{json.dumps(ALL)}]
"""
UNHEARD: Final = f"""
[[sensor]]
name = "unheard"
chamber = "tent"
topic = {json.dumps(TOPIC)}
[sensor.reads.humidity]
at = {json.dumps("/" + SHORT)}
"""
TELLING: Final = f"""
[[notify]]
name = "phone"
to = {json.dumps("json://localhost/?x=" + MARKUP)}
"""


@contextmanager
def hostile(folder: Path) -> Iterator[House]:
    """Build it, and yield it when all has been told."""
    settings = (
        demo()
        .replace('title = "Tent"', f"title = {json.dumps(TITLE)}")
        .replace('"Living room"', json.dumps(SHORT_TITLE))
        .replace('species = "grey-oyster"', 'species = "evil"')
    )
    with built(folder, settings + UNHEARD + TELLING, SPECIES) as house:
        days(house, timedelta(days=1))
        deeds(house, "tent")
        _tell(house)
        _hear(house)
        house.claiming(Ear([heard(topic, {ALL: 81.2, SHORT: 17.9}) for topic in TOPICS]))
        names(house, "tent")
        house.named["topic"] = quote(FREE, safe="")
        yield house


def _tell(house: House) -> None:
    """Tell of a batch, a photo, deeds, checks and tokens, as a program would."""
    visitor = TestClient(house.app, base_url="http://localhost")

    def post(address: str, **said: object) -> Any:  # noqa: ANN401 - JSON
        answer = visitor.post(f"/api/v1/{address}", json=said)
        assert answer.status_code in {200, 201}, answer.text
        return answer.json()

    words, now = ALL[:200], house.clock.now()
    for number, shelf in enumerate(("top", "upper", None)):
        batch = post(
            "batches",
            species="evil",
            container="bag",
            substrate=words,
            strain=words,
            spawn=words,
            note=ALL,
            at=(now - timedelta(days=30)).isoformat(),
            **({"chamber": "tent", "shelf": shelf} if shelf else {}),
        )["batch"]["id"]
        for kind, before in (("opened", 9), ("pinned", 5), ("noted", 3)):
            at = (now - timedelta(days=before)).isoformat()
            post(f"batches/{batch}/entries", kind=kind, note=f"{FORMULA} {ALL}", at=at)
        if number == 1:
            post(f"batches/{batch}/entries", kind="contaminated", note=ALL)
        elif number == 2:
            post("harvests", batch=batch, weight_g=120, note=ALL)
            post(f"batches/{batch}/entries", kind="spent", note=ALL)
    post("actions", chamber="tent", kind="noted", note=f"{FORMULA} {ALL}")
    post("actions", chamber="tent", kind="noted", note=UNBROKEN * 3)
    post(
        "sensors/tent-middle/calibrations",
        quantity="humidity",
        who=SHORT,
        slope=1.0,
        offset=0.5,
        how=ALL,
    )
    post("tokens", name=MARKUP)
    reminders = visitor.get("/api/v1/reminders").json()["reminders"]
    out = next(each["id"] for each in reminders if each["state"] != "normal")
    post(f"reminders/{out}/out-of-service", why=ALL, who=SHORT)
    _photo(house)


def _photo(house: House) -> None:
    """Show a photo with hostile words."""
    photos = house.desk.photos
    assert photos is not None
    told = Telling(EntryKind.NOTED, house.clock.now() - timedelta(hours=1), ALL)
    photos.add(1, told, photos.develop(from_a_phone()), "page")
    house.settle()


def _hear(house: House) -> None:
    """Hear what can't be read."""
    for payload in (ALL.encode(), UNBROKEN.encode() * 5, b"\xff\xfe\x00", b'{"a":' * 3000):
        house.hear("tent/middle", payload)
    house.hear(TOPIC, ALL.encode())
    house.settle()
