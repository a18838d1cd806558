"""The log: its lines, its filter, its pages, its CSV; and lines put right."""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.watch.action import Action, Deed
from chamberwatch.core.watch.found import Kind
from chamberwatch.core.watch.reminder import UNTOLD, Call, Cause, Event, advance
from chamberwatch.service.chronicle import NEWEST, Asked, Page
from chamberwatch.service.growing.told import Telling
from chamberwatch.service.log_lines import Instead, Line, LogKind, Place
from chamberwatch.web.app import create_app
from tests.make import at
from tests.web.desk_fakes import Played
from tests.web.log_fakes import A_DAY_MIN, Logged, logged

GAP = "\N{NO-BREAK SPACE}"
ENTRY = "growing/entries/{}?back=log"


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Logged]:
    with logged(tmp_path) as given:
        yield given


@pytest.fixture
def client(made: Logged) -> Iterator[TestClient]:
    app = create_app(made.played.desk)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as visitor:
        yield visitor


def plain(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace(GAP, " ").split())


def rows(page: str) -> list[str]:
    found = re.findall(r'<li id="[a-z]+-\d+".*?</li>', page, re.DOTALL)
    return [plain(re.sub(r"<a .*?</a>", "", row, flags=re.DOTALL)) for row in found]


def shown(client: TestClient, query: str = "") -> list[str]:
    answer = client.get(f"/log{query}")
    assert answer.status_code == 200
    return rows(answer.text)


# ------------------------------------------------------------------ lines


def test_everything_stands_in_it_by_day_newest_first(client: TestClient) -> None:
    page = client.get("/log").text
    days = re.findall(r"<h2[^>]*>(.*?)</h2>", page)
    assert [plain(day) for day in days] == [
        "Today, Tuesday 20 January",
        "Yesterday, Monday 19 January",
        "Sunday 18 January",
        "Saturday 17 January",
        "Wednesday 31 December 2025",
    ]
    assert rows(page) == [
        (
            "11:25 done: Tent: misted, 3 g into the air and 20 g onto the walls, as advised The "
            "readings show: humidity 76 to 91 %, held 42 min"
        ),
        "11:22 reminders: Tent: “mist”: over",
        (
            "11:21 messages: to phone, could not be delivered (the service refused it (HTTP "
            "401)): Tent: mist now"
        ),
        "11:21 reminders: Tent: “mist”: seen",
        "11:20 messages: to phone, sent: Tent: mist now",
        "11:20 reminders: Tent: “mist”: asked (humidity 76 %, band 80 to 95 %)",
        (
            "09:40 seen in the readings: Tent: venting, seen in the readings: CO₂ 1480 to "
            "610 ppm, humidity 92 to 71 %"
        ),
        "08:00 batches: batch 1 (grey oyster): harvested 620 g (Tent)",
        "12:00 done: Tent: noted: caps like coins",
        "13:00 done: Tent: refilled",
        "08:12 batches: batch 1 (grey oyster): pinned: all round the cut (Tent)",
        (
            "18:20 checks of sensors: Tent: humidity of sensor top corrected by "
            "\N{MINUS SIGN} 1.8 %: salt check with NaCl: 77.1 % sent, 75.3 % true"
        ),
        "13:00 batches: batch 1 (grey oyster): opened (Tent)",
        (
            "13:00 batches: batch 1 (grey oyster): started: 2 sealed bags of grey oyster on wheat "
            "straw, Tent, top"
        ),
    ]


@pytest.mark.parametrize(
    ("query", "first", "count"),
    [
        pytest.param("?kind=deed", "11:25 done:", 3, id="deeds"),
        pytest.param("?kind=found", "09:40 seen in", 1, id="found"),
        pytest.param("?kind=reminder&kind=message", "11:22 reminders", 5, id="two kinds"),
        pytest.param("?kind=check", "18:20 checks", 1, id="checks"),
        pytest.param("?kind=growing&batch=1", "08:00 batches", 4, id="growing of a batch"),
        pytest.param("?batch=1", "08:00 batches", 4, id="batch"),
        pytest.param("?kind=deed&batch=1", "", 0, id="nothing is a deed and of a batch"),
        pytest.param("?chamber=tent", "11:25 done:", 14, id="chamber"),
        pytest.param("?chamber=room", "", 0, id="a quiet room"),
        pytest.param("?day=2026-01-19", "12:00 done:", 6, id="from a day back"),
        pytest.param("?day=2025-01-01", "", 0, id="before anything"),
        pytest.param("?kind=&chamber=&batch=&day=", None, 0, id="kinds are words"),
    ],
)
def test_the_address_holds_the_filter(
    client: TestClient, query: str, first: str | None, count: int
) -> None:
    answer = client.get(f"/log{query}")
    if first is None:
        assert answer.status_code == 422
        return
    found = rows(answer.text)
    assert len(found) == count
    assert (found[0] if found else "").startswith(first)
    assert ("Nothing of that kind is in the log" in answer.text) is (count == 0)


def test_all_kinds_ticked_is_none_ticked(client: TestClient) -> None:
    every = "&".join(f"kind={kind}" for kind in LogKind)
    assert shown(client, f"?{every}") == shown(client)


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        pytest.param("?chamber=attic", 404, "no chamber", id="chamber"),
        pytest.param("?batch=9", 422, "no batch 9", id="batch"),
        pytest.param("?batch=two", 422, "no number of a batch", id="batch in words"),
        pytest.param("?day=yesterday", 422, "is no day", id="day in words"),
        pytest.param("?day=1066-10-14", 422, "is no day", id="long ago"),
        pytest.param("?older=7", 422, "no such place in the log", id="place"),
        pytest.param(f"?older=0.0.-{'9' * 30}", 422, "no such place", id="below all ids"),
        pytest.param(f"?older=0.0.{2**63}", 422, "no such place", id="above all ids"),
        pytest.param(f"?older=0.-{'9' * 30}.1", 422, "no such place", id="below all ranks"),
        pytest.param(f"?newer=0.0.-{'9' * 30}", 422, "no such place", id="below all newer"),
        pytest.param(f"?older={10**30}.1.1", 422, "no such place", id="beyond all time"),
    ],
)
def test_what_cant_be_asked_is_refused(
    client: TestClient, query: str, status: int, words: str
) -> None:
    for address in ("/log", "/log.csv"):
        if ("older" in query or "newer" in query) and address == "/log.csv":
            continue
        answer = client.get(f"{address}{query}")
        assert answer.status_code == status
        assert words in plain(answer.text)


def test_an_empty_log_says_what_will_stand_here(tmp_path: Path) -> None:
    with logged(tmp_path, empty=True) as given:
        app = create_app(given.played.desk)
        with TestClient(app, base_url="http://localhost") as visitor:
            assert "Nothing has happened yet" in visitor.get("/log").text
            assert len(visitor.get("/log.csv").text.splitlines()) == 1


def test_a_desk_without_a_log_says_so(played: Played) -> None:
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        for address in ("/log", "/log.csv", "/log/deed/1"):
            assert visitor.get(address).status_code == 422
        assert visitor.post("/api/v1/actions/1/withdraw").status_code == 422


# ------------------------------------------------------------------ a page at a time


def leads(page: str, rel: str) -> str | None:
    found = re.search(rf'rel="{rel}" href="([^"]+)"', page)
    return unescape(found[1]) if found else None


def test_every_line_stands_on_one_page_and_back_again(made: Logged, client: TestClient) -> None:
    for n in range(150):
        # Many at one moment: the page may end between any two of them.
        made.did(Deed.MISTED, -10 * (n // 40), note=str(n))
        made.found(Kind.MISTING, -10 * (n // 40))
    pages, address = [], "/log?chamber=tent"
    while address:
        pages.append(client.get(address).text)
        address = leads(pages[-1], "next") or ""
    lines = [row for page in pages for row in re.findall(r'<li id="([a-z]+-\d+)"', page)]
    assert len(lines) == len(set(lines)) == 314
    assert [len(re.findall("<li id=", page)) for page in pages] == [60, 60, 60, 60, 60, 14]
    assert "This is where the log begins." in pages[-1]
    assert leads(pages[0], "prev") is None
    back = [pages[-1]]
    while address := leads(back[-1], "prev") or "":
        back.append(client.get(address).text)
    again = [row for page in back[::-1] for row in re.findall(r'<li id="([a-z]+-\d+)"', page)]
    assert again == lines


@pytest.mark.parametrize("newer", [pytest.param(True, id="newer"), pytest.param(False, id="old")])
def test_beyond_the_last_line_there_is_the_way_back(made: Logged, newer: bool) -> None:
    edge = NEWEST if newer else Place(at(-90 * A_DAY_MIN))
    page = made.chronicle.page(Asked(), edge, newer=newer)
    assert page.lines == ()
    assert (page.older, page.newer) == ((edge, None) if newer else (None, edge))
    nothing = made.chronicle.page(Asked(chamber="room"), edge, newer=newer)
    assert (nothing.older, nothing.newer) == (None, None)


def test_all_of_it_is_read_a_piece_at_a_time(made: Logged) -> None:
    with made.books.write() as book:
        for n in range(2100):
            book.actions.add(Action(0, "tent", Deed.VENTED, at(-n // 3), "", at(0), "page"))
    lines = list(made.chronicle.all(Asked(), NEWEST, 10_000))
    assert len(lines) == len({line.place for line in lines}) == 2114
    assert [line.place for line in lines] == sorted((each.place for each in lines), reverse=True)
    assert list(made.chronicle.all(Asked(), NEWEST, 550)) == lines[:550]


def test_a_day_is_one_of_the_sites_over_a_change_of_the_clock(made: Logged) -> None:
    client = TestClient(create_app(made.played.desk), base_url="http://localhost")
    # 2025-10-26 has 25 hours in Berlin: 22:59 UTC is its last minute.
    minutes = -(at(0) - at(0).replace(year=2025, month=10, day=26, hour=22, minute=59)) / (
        timedelta(minutes=1)
    )
    made.did(Deed.MISTED, minutes, note="the last of it")
    made.did(Deed.MISTED, minutes + 1, note="the next day")
    with client:
        assert any("the last of it" in row for row in shown(client, "?day=2025-10-26"))
        assert not any("the next day" in row for row in shown(client, "?day=2025-10-26"))


# ------------------------------------------------------------------ CSV


def table(client: TestClient, query: str = "") -> list[dict[str, str]]:
    answer = client.get(f"/log.csv{query}")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="chamberwatch-log.csv"'
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_csv_holds_what_the_page_shows(made: Logged, client: TestClient) -> None:
    made.amending.withdraw(2, "the other tent", "page")
    made.growing.record.correct(4, Telling(EntryKind.HARVESTED, weight_g=602.0), "page")
    found = table(client)
    assert len(found) == len(shown(client))
    assert found[0] == {
        "at": "2026-01-20T11:25:00+01:00", "kind": "deed", "id": "2", "chamber": "tent",
        "batch": "", "words": f"misted, 3{GAP}g into the air and 20{GAP}g onto the walls, as "
        "advised", "readings_show": "", "stands": "withdrawn", "instead": "the other tent",
        "instead_at": "", "told": "2026-01-20T12:00:00Z",
    }  # fmt: skip
    harvests = [row for row in found if "harvested" in row["words"]]
    assert [(row["stands"], row["instead"]) for row in harvests] == [
        ("holds", ""), ("corrected", "harvested 602 g"),
    ]  # fmt: skip
    assert harvests[1]["instead_at"] == "2026-01-20T08:00:00+01:00"
    assert [row["id"] for row in table(client, "?kind=deed&day=2026-01-19")] == ["3", "1"]


@dataclass
class OneLine:
    """A log of one line."""

    line: Line

    def page(self, *_: object, **__: object) -> Page:
        return Page((self.line,), None, None)

    def all(self, *_: object) -> Iterator[Line]:
        return iter((self.line,))

    def batches(self) -> Sequence[int]:
        return ()


@pytest.mark.parametrize(
    "begins", ["=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"]
)
def test_no_cell_of_the_csv_is_a_formula(made: Logged, begins: str) -> None:
    text = f"{begins}1+1"
    told = Instead(at(0), text, False, at(0))
    line = Line(LogKind.DEED, 1, at(0), text, text, came=text, instead=told)
    desk = replace(made.played.desk, chronicle=OneLine(line))
    with TestClient(create_app(desk), base_url="http://localhost") as client:
        answer = client.get("/log.csv")
    (row,) = csv.DictReader(io.StringIO(answer.text, newline=""))
    for cell in ("chamber", "words", "readings_show", "instead"):
        assert row[cell] == f"'{text}"


def test_long_csv_comes_in_pieces(made: Logged, client: TestClient) -> None:
    for n in range(500):
        made.did(Deed.NOTED, -n, note="x" * 200)
    assert len(table(client)) == 514


# ------------------------------------------------------------------ put right


def form_of(client: TestClient, address: str) -> dict[str, str]:
    """Return what the form to correct holds before anything is typed."""
    page = client.get(address).text
    form = page[page.index("<form") : page.index("</form>")]
    fields = dict(re.findall(r'name="([a-z_]+)"[^>]*? value="([^"]*)"', form))
    fields |= dict(re.findall(r'<textarea id="(note)"[^>]*>([^<]*)<', form))
    for name, options in re.findall(r'<select id="([a-z]+)".*?>(.*?)</select>', form, re.DOTALL):
        picked = re.search(r'value="([^"]*)" selected', options)
        fields[name] = picked[1] if picked else ""
    return {name: unescape(text) for name, text in fields.items()}


def test_a_deed_is_put_right_on_the_page(made: Logged, client: TestClient) -> None:
    form = form_of(client, "/log/deed/2")
    assert form | {"once": ""} == {
        "once": "", "day": "2026-01-20", "clock": "11:25", "into_air_g": "3",
        "standing_g": "20", "note": "",
    }  # fmt: skip
    answer = client.post("/log/deed/2", data=form | {"clock": "11:40", "into_air_g": "4,5"})
    assert answer.headers["location"] == "/log?day=2026-01-20&said=corrected"
    page = client.get(answer.headers["location"]).text
    assert "Put right. The old line stays" in page
    found = [row for row in rows(page) if "misted" in row]
    assert found[0] == (
        "11:40 done: Tent: misted, 4.5 g into the air and 20 g onto the walls The readings show: "
        "humidity 76 to 91 %, held 42 min in place of what was recorded before"
    )
    assert found[1].startswith("11:25 done: Tent: misted, 3 g into the air")
    assert found[1].endswith(
        "put right 2026-01-20 13:00: misted, 4.5 g into the air and 20 g onto the walls, "
        "2026-01-20 11:40"
    )
    assert "/log/deed/2" not in page
    assert re.search(r"<del>misted", page)


def test_what_is_not_touched_stays_to_the_last_digit(made: Logged, client: TestClient) -> None:
    kept = made.did(Deed.MISTED, -30, amount=3.14159, at=at(-30) + timedelta(seconds=17))
    form = form_of(client, f"/log/deed/{kept.id}")
    client.post(f"/log/deed/{kept.id}", data=form | {"note": "the top shelf"})
    with made.books.read() as book:
        later = book.actions.instead_of(kept.id)
    assert later is not None
    assert (later.at, later.amount, later.note) == (kept.at, 3.14159, "the top shelf")


def test_a_deed_that_did_not_happen(made: Logged, client: TestClient) -> None:
    form = {"once": "a-mark-of-a-form", "gone": "yes", "why": "the other tent"}
    assert client.post("/log/deed/2", data=form).headers["location"].endswith("said=withdrawn")
    assert client.post("/log/deed/2", data=form).headers["location"].endswith("said=twice")
    (row,) = [row for row in shown(client) if "misted" in row]
    assert row.endswith("did not happen: the other tent (recorded 2026-01-20 13:00)")
    refused = client.post("/log/deed/2", data=form | {"once": "another-mark"})
    assert refused.status_code == 422
    assert "Nothing was changed. Deed 2 was withdrawn already." in plain(refused.text)


@pytest.mark.parametrize(
    ("address", "typed", "words"),
    [
        pytest.param("log/deed/2", {"clock": "late"}, "Write the day as", id="clock"),
        pytest.param(
            "log/deed/2", {"into_air_g": "two"}, "Grams into the air: write a", id="words"
        ),
        pytest.param("log/deed/2", {"into_air_g": "9e9"}, "write a number such as", id="huge"),
        pytest.param("log/deed/2", {"day": "2027-01-20"}, "lies in the future", id="future"),
        pytest.param("log/deed/2", {"into_air_g": "inf"}, "Grams into the air: write a", id="inf"),
        pytest.param(ENTRY.format(4), {"weights": "a lot"}, "is no weight", id="weight"),
        pytest.param(ENTRY.format(4), {"flush": "1.5"}, "as a whole number", id="flush"),
        pytest.param(ENTRY.format(4), {"weights": ""}, "the weight", id="no weight"),
        pytest.param(
            ENTRY.format(2), {"day": "2025-12-01"}, "was started on", id="before the start"
        ),
    ],
)
def test_what_cant_be_right_is_told_and_what_was_typed_stays(
    made: Logged, client: TestClient, address: str, typed: dict[str, str], words: str
) -> None:
    before = list(made.chronicle.all(Asked(), NEWEST, 99))
    form = form_of(client, f"/{address}") | typed
    answer = client.post(f"/{address}", data=form)
    assert answer.status_code == 422
    assert words in plain(answer.text)
    ((name, text),) = typed.items()
    assert f'value="{text}"' in answer.text[answer.text.index(f' name="{name}"') :]
    assert list(made.chronicle.all(Asked(), NEWEST, 99)) == before


def test_a_venting_of_no_length_is_one_of_unknown_length(made: Logged, client: TestClient) -> None:
    kept = made.did(Deed.VENTED, -30, amount=5.0)
    form = form_of(client, f"/log/deed/{kept.id}")
    answer = client.post(f"/log/deed/{kept.id}", data=form | {"vent_minutes": "0"})
    assert "Leave the minutes empty" in answer.text
    client.post(f"/log/deed/{kept.id}", data=form | {"vent_minutes": ""})
    with made.books.read() as book:
        later = book.actions.instead_of(kept.id)
    assert later is not None
    assert later.amount is None


def told_of(made: Logged, telling: Telling) -> int:
    made.growing.record.tell(1, telling, "page")
    return made.growing.record.entries(1)[-1].id


@pytest.mark.parametrize(
    ("telling", "typed", "now"),
    [
        pytest.param(
            Telling(EntryKind.HARVESTED, weight_g=100.0, flush=1),
            {"weights": "120 g", "flush": ""},
            {"weight_g": 120.0, "flush": None},
            id="harvest",
        ),
        pytest.param(
            Telling(EntryKind.MOVED, chamber="tent", shelf="bottom"),
            {"place": "shelf/"},
            {"chamber": "shelf", "shelf": None},
            id="move",
        ),
        pytest.param(
            Telling(EntryKind.MOVED, chamber="tent", shelf="bottom"),
            {"place": "/bottom"},
            None,
            id="a shelf outdoors",
        ),
        pytest.param(
            Telling(EntryKind.STAGED, stage=None),
            {"stage": "fruiting", "flush": "2"},
            {"stage": "fruiting", "flush": 2},
            id="stage",
        ),
        pytest.param(
            Telling(EntryKind.LOOKED, sign="long-stems"),
            {"sign": "aborted-pins", "note": "the back ones"},
            {"sign": "aborted-pins", "note": "the back ones"},
            id="sign",
        ),
        pytest.param(
            Telling(EntryKind.NOTED, note="smells of anise"),
            {"clock": "10:15"},
            {"at": at(-165)},
            id="note",
        ),
    ],
)
def test_what_was_told_of_a_batch_is_put_right(
    made: Logged,
    client: TestClient,
    telling: Telling,
    typed: dict[str, str],
    now: dict[str, object] | None,
) -> None:
    if telling.kind is EntryKind.STAGED:
        telling = replace(telling, stage=Stage.RESTING)
    number = told_of(made, telling)
    address = f"/{ENTRY.format(number)}"
    answer = client.post(address, data=form_of(client, address) | typed)
    if now is None:
        assert answer.status_code == 422
        return
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/log?day=2026-01-20&said=corrected")
    entry = made.growing.record.entries(1)[-1]
    assert entry.corrects == number
    assert {name: getattr(entry, name) for name in now} == now


def test_a_start_is_put_right(made: Logged, client: TestClient) -> None:
    address = f"/{ENTRY.format(1)}"
    form = form_of(client, address)
    assert (form["count"], form["substrate"], form["wet"]) == ("2", "wheat straw", "4000 g")
    assert "It did not happen" not in client.get(address).text
    typed = {"substrate": "oak", "moisture": "62", "dry": "1.5 kg", "count": "3"}
    assert client.post(address, data=form | typed).status_code == 303
    start = made.growing.record.batch(1).start
    assert (start.substrate, start.moisture_pct, start.count) == ("oak", 62.0, 3)
    assert (start.wet_g, start.dry_g) == (4000.0, 1500.0)


def test_an_entry_that_did_not_happen(made: Logged, client: TestClient) -> None:
    (link,) = re.findall(r'href="(/growing/entries/4[^"]*)"', client.get("/log").text)
    assert link == f"/{ENTRY.format(4)}"
    form = {"once": "a-mark-of-a-form", "withdraw": "1", "why": "weighed the other one"}
    answer = client.post(link, data=form)
    assert answer.headers["location"].endswith("said=withdrawn")
    (row,) = [row for row in shown(client) if "harvested" in row]
    assert "did not happen: weighed the other one (recorded 2026-01-20 13:00)" in row
    assert made.growing.record.batch(1).harvests == ()
    assert client.get("/growing/entries/77").status_code == 404
    assert client.get("/log/deed/77").status_code == 404


def test_an_unknown_stage_is_refused(made: Logged, client: TestClient) -> None:
    number = told_of(made, Telling(EntryKind.STAGED, stage=Stage.RESTING))
    address = f"/{ENTRY.format(number)}"
    form = form_of(client, address) | {"stage": "asleep"}
    assert "Choose the stage." in client.post(address, data=form).text


def test_who_came_from_the_log_is_led_back_to_its_day(made: Logged, client: TestClient) -> None:
    assert '<a class="more" href="/log?day=2026-01-' in client.get(f"/{ENTRY.format(4)}").text
    assert "/log?day" not in client.get("/growing/entries/4").text
    assert "/log?day" not in client.get("/growing/entries/4?back=//else").text


# ------------------------------------------------------------------ API


def test_the_api_puts_deeds_right(made: Logged, client: TestClient) -> None:
    answer = client.post("/api/v1/actions/2/correct", json={"into_air_g": 5, "note": " walls "})
    assert answer.status_code == 201
    body = answer.json()
    assert (body["id"], body["corrects"], body["into_air_g"]) == (4, 2, 5.0)
    assert (body["standing_g"], body["note"], body["withdrawn"]) == (None, "walls", False)
    gone = client.post("/api/v1/actions/4/withdraw", json={"note": "no"}).json()
    assert (gone["corrects"], gone["withdrawn"], gone["note"]) == (4, True, "no")
    again = client.post("/api/v1/actions/4/withdraw")
    assert again.status_code == 422
    assert client.post("/api/v1/actions/1/withdraw").status_code == 201
    assert client.post("/api/v1/actions/3/correct", json={}).status_code == 422
    assert client.post("/api/v1/actions/3/correct", json={"note": ""}).json()["note"] == ""


def test_what_cant_be_read_of_a_batch_is_shown_all_the_same(made: Logged) -> None:
    with made.books.write() as book:
        entry = book.growing.get(4)
        assert entry is not None
        book.growing.add(replace(entry, id=0, corrects=99))
    lines = [line for line in made.chronicle.all(Asked(), NEWEST, 99) if line.batch == 1]
    assert len(lines) == 5
    assert {line.chamber for line in lines} == {""}


def test_what_ended_before_anybody_was_told_is_one_line(made: Logged, client: TestClient) -> None:
    untold = Cause(UNTOLD)
    with made.books.write() as book:
        vent = book.reminders.of("tent", Call.VENT, "")
        vent, raised = advance(vent, Event.RAISED, at(-50), Cause(""))
        vent, over = advance(vent, Event.RETURNED, at(-45), Cause(""))
        vent, closed = advance(vent, Event.SEEN, at(-45), untold)
        book.reminders.save(vent, [raised, over, closed])
    page = shown(client, "?kind=reminder")
    assert page[:2] == [
        "12:15 reminders: Tent: “vent”: over; nobody had been told",
        "12:10 reminders: Tent: “vent”: asked",
    ]
    assert len(page) == 5


@pytest.mark.parametrize(
    ("closed_min", "cause"),
    [
        pytest.param(-44, UNTOLD, id="a minute later"),
        pytest.param(-45, "seen (page)", id="a person saw it"),
    ],
)
def test_an_end_that_somebody_saw_stays_two_lines(
    made: Logged, client: TestClient, closed_min: float, cause: str
) -> None:
    with made.books.write() as book:
        vent = book.reminders.of("tent", Call.VENT, "")
        vent, raised = advance(vent, Event.RAISED, at(-50), Cause(""))
        vent, over = advance(vent, Event.RETURNED, at(-45), Cause(""))
        vent, closed = advance(vent, Event.SEEN, at(closed_min), Cause(cause))
        book.reminders.save(vent, [raised, over, closed])
    page = shown(client, "?kind=reminder")
    assert page[1] == "12:15 reminders: Tent: “vent”: over"
    assert len(page) == 6


def test_lines_of_what_the_settings_have_lost(made: Logged) -> None:
    with made.books.write() as book:
        (check,) = book.calibrations.all()
        book.calibrations.add(replace(check, id=0, sensor="gone"))
    checks = made.chronicle.page(Asked(frozenset({LogKind.CHECK})), NEWEST).lines
    assert {line.chamber for line in checks} == {"tent", ""}
    without = Line(LogKind.CHECK, 1, at(0), "", "words")
    assert without.place.rank == len(LogKind) - 1
