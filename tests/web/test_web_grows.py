"""What grows in a chamber, on the page: the batches, and whose wish each limit is."""

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.species import Species, Stated, View, Wants
from chamberwatch.core.growing.wants import Following, Grown, follow
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.core.watch.reminder import Call, Priority, Reminder, State
from chamberwatch.service.views import ReminderNow
from chamberwatch.web.pages.grows import EMPTY, drawn_as, grows, stage_words
from chamberwatch.web.pages.sheet import sheet
from tests.make import NOON, ROOM, TENT, at
from tests.web.desk_fakes import FIGURES, Played, calm_tent


def band(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high),))


OYSTER = Species(
    "grey-oyster",
    "Grey oyster",
    "",
    {
        Stage.PINNING: Wants(Stage.PINNING, band(10, 16), band(95, 100), band(None, 1000)),
        Stage.COLONISATION: Wants(Stage.COLONISATION, band(18, 27)),
    },
)
GOLDEN = Species(
    "golden-oyster",
    "Golden oyster",
    "",
    {Stage.FRUITING: Wants(Stage.FRUITING, band(21, 29), band(90, 95), band(None, 1000))},
)
PINS = Grown(14, OYSTER, Stage.PINNING, sealed=False)
BAG = Grown(15, OYSTER, Stage.COLONISATION, sealed=True)
CAPS = Grown(9, GOLDEN, Stage.FRUITING, sealed=False)


def holding(*grown: Grown) -> Chamber:
    return replace(TENT, following=follow(grown, {}))


@pytest.mark.parametrize(
    ("chamber", "words", "drawn"),
    [
        pytest.param(ROOM, "room", "room", id="a room"),
        pytest.param(TENT, "fruiting", "fruiting", id="as stated"),
        pytest.param(holding(), "empty", "empty", id="emptied"),
        pytest.param(holding(BAG), "colonisation", "colonisation", id="sealed"),
        pytest.param(holding(BAG, PINS), "pinning and colonisation", "fruiting", id="both"),
        pytest.param(holding(PINS, PINS), "pinning", "fruiting", id="two alike"),
    ],
)
def test_what_a_chamber_is_doing(chamber: Chamber, words: str, drawn: str) -> None:
    assert (stage_words(chamber), drawn_as(chamber)) == (words, drawn)


def test_the_band_names_the_batch_it_follows() -> None:
    shown = grows(holding(PINS, BAG), {}, NOON, FIGURES.zone)
    assert shown is not None
    assert shown.batches == (
        "Batch 14: grey oyster, pinning, open",
        "Batch 15: grey oyster, colonisation, sealed",
    )
    humid = next(line for line in shown.band if line.startswith("Humidity"))
    assert humid.startswith("Humidity 90 to 100 %: pinning, grey oyster, batch 14; ")
    assert shown.empty == ""


@pytest.mark.parametrize(
    ("since", "shelf", "words"),
    [
        pytest.param(-30, None, "Batch 14: grey oyster, pinning since today, open", id="today"),
        pytest.param(
            -1500, "top", "grey oyster, pinning since yesterday, open, shelf top", id="a day"
        ),
        pytest.param(-9000, None, "grey oyster, pinning for 6 days, open", id="days"),
    ],
)
def test_how_long_and_where(since: float, shelf: str | None, words: str) -> None:
    stages = (Passed(Stage.PINNING, 0, at(since)),)
    start = Start("grey-oyster", Container.BAG)
    batch = Batch(14, start, at(-20000), stages, 1, "tent", shelf, at(since), opened_at=at(since))
    shown = grows(holding(PINS), {14: batch}, NOON, FIGURES.zone)
    assert shown is not None
    assert shown.batches[0].endswith(words)


def test_who_is_not_suited_is_named() -> None:
    shown = grows(holding(PINS, CAPS), {}, NOON, FIGURES.zone)
    assert shown is not None
    (line,) = shown.disagreements
    assert line.startswith("No temperature suits all: batch 14")
    assert "batch 9" in line


def test_an_emptied_chamber_says_that_it_is_not_judged() -> None:
    shown = grows(replace(TENT, following=Following({})), {}, NOON, FIGURES.zone)
    assert shown is not None
    assert (shown.batches, shown.band, shown.empty) == ((), (), EMPTY)
    assert grows(TENT, {}, NOON, FIGURES.zone) is None


@pytest.mark.parametrize(
    ("following", "says"),
    [
        pytest.param(follow([PINS, CAPS], {}), "Batch 14: grey oyster, pinning, open", id="two"),
        pytest.param(follow([PINS, CAPS], {}), "No temperature suits all", id="they disagree"),
        pytest.param(Following({}), "Nothing that was recorded stands here now", id="empty"),
    ],
)
def test_it_stands_on_the_page(
    played: Played, client: TestClient, following: Following, says: str
) -> None:
    shown = played.history.now("tent")
    played.put(replace(shown, chamber=replace(shown.chamber, following=following)))
    answer = client.get("/")
    assert answer.status_code == 200
    assert says in answer.text


def task_now(state: State = State.UNACKNOWLEDGED) -> ReminderNow:
    reminder = Reminder(
        9, "tent", Call.HARVEST, "harvest-6-1", state, active=True, priority=Priority.LOW,
        episode=1, since=at(-30),
    )  # fmt: skip
    return ReminderNow(reminder, "Batch 6 (grey oyster): pick it", "Pick before the edge turns.")


def test_tasks_stand_beside_the_air_and_wait_till_tomorrow() -> None:
    calm = calm_tent()
    shown = calm.history.now("tent")
    made = sheet(calm.desk, FIGURES, replace(shown, reminders=(task_now(),)), None, whole=True)
    assert (made.asked, made.summary) == ((), "")
    assert made.calm.startswith("Nothing to do.")
    (due,) = made.due
    assert due.title == "Batch 6 (grey oyster): pick it"
    assert [button.label for button in due.buttons] == ["Seen", "Not before Wednesday 09:00"]


def test_tasks_can_be_seen_on_the_page(played: Played, client: TestClient) -> None:
    shown = played.history.now("tent")
    played.put(replace(shown, reminders=(*shown.reminders, task_now(State.ACKNOWLEDGED))))
    text = client.get("/").text
    assert "What the crop asks for today" in text
    assert "Batch 6 (grey oyster): pick it" in text
    assert "(seen, goes on)" in text
