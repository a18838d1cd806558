"""The drawing's layout: nothing lies on anything else, and only what is known is drawn."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch
from chamberwatch.core.watch.chamber import Chamber, Sensor
from chamberwatch.core.watch.course import Points
from chamberwatch.core.watch.doubt import Doubt, Doubted, silence
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.service.views import ChamberNow
from chamberwatch.web.pages.described import describe
from chamberwatch.web.pages.hung import Beside
from chamberwatch.web.pages.scene import Scene, scene
from tests.fakes import HandClock
from tests.make import NOON, ROOM, TENT, at
from tests.web.batch_fakes import standing_batch
from tests.web.desk_fakes import DRY, FIGURES, HOUSE_AIR, IN_ROOM, TOP, chamber_now, sensor_now

CLOCK = HandClock()


def drawn(shown: ChamberNow, around: ChamberNow | None = None) -> Scene:
    return scene(shown, around, beside())


def beside(*batches: Batch, strips: Mapping[tuple[str, Quantity], Points] | None = None) -> Beside:
    titles = {"grey-oyster": "Grey oyster", "long": "A species with a very long name"}
    return Beside(FIGURES, CLOCK.now(), strips or {}, batches, titles)


def tent_of(shelves: int, *sensors: Sensor) -> ChamberNow:
    names = tuple(f"shelf {n}" for n in range(1, shelves + 1))
    tent = Chamber("tent", "Tent", Stage.FRUITING, 500.0, names)
    return chamber_now(tent, [sensor_now(sensor, CLOCK, DRY) for sensor in sensors])


@pytest.mark.parametrize("shelves", [0, 1, 4, 12])
def test_rows_follow_each_other_down_to_the_floor(shelves: int) -> None:
    seen = drawn(tent_of(shelves, Sensor("a", "tent", shelf="shelf 1"), Sensor("b", "tent")))
    assert len([row for row in seen.rows if row.shelf]) == shelves
    ends = [row.y + row.height for row in seen.rows]
    assert [row.y for row in seen.rows[1:]] == ends[:-1]
    assert ends[-1] < seen.floor < seen.height


def test_what_a_sensor_says_stays_within_its_row() -> None:
    both = (Sensor("a", "tent", shelf="shelf 2"), Sensor("b", "tent", shelf="shelf 2"))
    seen = drawn(tent_of(3, *both))
    row = seen.rows[1]
    places = [y for hung in row.hung for y, _ in hung.rulers]
    assert len(places) == 6
    assert places == sorted(places)
    assert all(second - first >= 60.0 for first, second in pairwise(places))
    assert row.y < places[0]
    assert places[-1] + 60.0 <= row.y + row.height


@pytest.mark.parametrize(
    ("shelf", "row"),
    [
        pytest.param("shelf 2", "shelf 2", id="its-shelf"),
        pytest.param(None, "", id="no-shelf"),
        pytest.param("shelf 9", "", id="a-shelf-that-is-not-there"),
    ],
)
def test_a_sensor_hangs_where_it_was_declared(shelf: str | None, row: str) -> None:
    seen = drawn(tent_of(2, Sensor("a", "tent", shelf=shelf)))
    assert [one.name for one in seen.rows if one.hung] == [row]


@pytest.mark.parametrize(
    ("chamber", "body"),
    [
        pytest.param(TENT, "tent", id="shelves"),
        pytest.param(Chamber("tub", "Tub", Stage.FRUITING), "tub", id="no-shelves"),
        pytest.param(ROOM, "room", id="room"),
    ],
)
def test_form_follows_the_chamber(chamber: Chamber, body: str) -> None:
    assert drawn(chamber_now(chamber)).body == body


@pytest.mark.parametrize(
    ("ago", "state", "note"),
    [
        pytest.param(timedelta(seconds=8), "heard", "heard 8\N{NO-BREAK SPACE}s ago", id="heard"),
        pytest.param(timedelta(hours=2), "silent", "silent for 2\N{NO-BREAK SPACE}h", id="silent"),
        pytest.param(None, "never", "not heard yet", id="never"),
    ],
)
def test_how_a_sensor_is(ago: timedelta | None, state: str, note: str) -> None:
    seen = drawn(chamber_now(TENT, [sensor_now(TOP, CLOCK, DRY, ago)]))
    (hung,) = seen.rows[0].hung
    assert (hung.state, hung.note) == (state, note)
    assert all(ruler.old is (state == "silent") for _, ruler in hung.rulers)


WET = Doubt("top", Doubted.WET, NOON, "top may be wet.", frozenset({Quantity.HUMIDITY}))


def test_a_sensor_in_doubt_is_marked_by_a_sign_and_words() -> None:
    heard = replace(sensor_now(TOP, CLOCK, DRY), doubt=WET)
    sure = drawn(chamber_now(TENT, [sensor_now(TOP, CLOCK, DRY)]))
    shown = chamber_now(TENT, [heard])
    (hung,) = drawn(shown).rows[0].hung
    assert [line.text for line in hung.lines] == ["? in doubt: may be wet"]
    # It has a line of its own: what comes below moves down by it.
    (before,) = sure.rows[0].hung
    assert hung.rulers[0][0] - before.rulers[0][0] == pytest.approx(19.0)
    assert "sensor tent-top in doubt: may be wet" in describe(shown, beside())


def test_a_silent_sensor_is_said_to_be_silent_only() -> None:
    heard = replace(sensor_now(TOP, CLOCK, DRY, timedelta(hours=2)), doubt=silence("top", NOON))
    (hung,) = drawn(chamber_now(TENT, [heard])).rows[0].hung
    assert hung.lines == ()


def test_values_without_a_band_are_lines() -> None:
    wall = Sensor("wall", "tent", Place.SURFACE, shelf="bottom")
    heard = sensor_now(wall, CLOCK, {Quantity.TEMPERATURE: 17.0, Quantity.BATTERY: 3.0})
    (hung,) = drawn(chamber_now(TENT, [heard])).rows[1].hung
    assert hung.rulers == ()
    texts = [line.text.replace("\N{NO-BREAK SPACE}", " ") for line in hung.lines]
    assert texts == ["surface temperature 17.0 °C ± 0.5", "battery 3.00 V"]


def test_an_old_line_says_so() -> None:
    wall = Sensor("wall", "tent", Place.SURFACE)
    heard = sensor_now(wall, CLOCK, {Quantity.TEMPERATURE: 17.0}, timedelta(hours=4))
    (hung,) = drawn(chamber_now(TENT, [heard])).rows[0].hung
    assert hung.lines[0].old
    assert hung.lines[0].text.endswith("4\N{NO-BREAK SPACE}h old")


@pytest.mark.parametrize(
    ("room", "air", "note", "old"),
    [
        pytest.param(chamber_now(ROOM), "", "no sensor", False, id="no-sensor"),
        pytest.param(
            chamber_now(ROOM, [sensor_now(IN_ROOM, CLOCK, {}, None)]),
            "",
            "not heard yet",
            False,
            id="unheard",
        ),
        pytest.param(
            chamber_now(ROOM, [sensor_now(IN_ROOM, CLOCK, HOUSE_AIR)]),
            "20.6 °C   41 %   655 ppm",
            "",
            False,
            id="heard",
        ),
        pytest.param(
            chamber_now(ROOM, [sensor_now(IN_ROOM, CLOCK, HOUSE_AIR, timedelta(hours=3))]),
            "20.6 °C   41 %   655 ppm",
            "3 h old",
            True,
            id="silent",
        ),
    ],
)
def test_the_room_around(room: ChamberNow, air: str, note: str, old: bool) -> None:
    around = drawn(chamber_now(TENT), room).around
    assert around is not None
    assert around.air.replace("\N{NO-BREAK SPACE}", " ") == air
    assert (around.note.replace("\N{NO-BREAK SPACE}", " "), around.old) == (note, old)


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        pytest.param(
            chamber_now(TENT), "Tent with 2 shelves. No sensor was heard yet.", id="nothing"
        ),
        pytest.param(
            chamber_now(TENT, [sensor_now(TOP, CLOCK, {}, None)]),
            "Tent with 2 shelves. Sensor tent-top not heard yet.",
            id="never",
        ),
        pytest.param(
            chamber_now(
                TENT,
                [sensor_now(TOP, CLOCK, {Quantity.HUMIDITY: 88.0}, timedelta(hours=2))],
            ),
            "Tent with 2 shelves. Humidity at top 88 %, 2 h old; sensor tent-top silent for 2 h.",
            id="silent",
        ),
    ],
)
def test_the_drawing_in_words(shown: ChamberNow, said: str) -> None:
    assert drawn(shown).description == said


def test_batches_stand_on_their_shelves_and_what_has_none_on_the_floor() -> None:
    """A shelf grows with what stands on it; what is on no shelf that is named stands below."""
    on_top = standing_batch(5, "grey-oyster", Stage.RESTING, "shelf 1", 10)
    loose = standing_batch(7, "long", Stage.PINNING, None, 2)
    gone = standing_batch(8, "grey-oyster", Stage.PINNING, "shelf 9", 2)
    bare = drawn(tent_of(2))
    seen = scene(tent_of(2), None, beside(on_top, loose, gone))
    assert [[one.number for one in row.standing.stood] for row in seen.rows] == [[5], [], [7, 8]]
    assert [row.name for row in seen.rows] == ["shelf 1", "shelf 2", "no shelf named"]
    assert seen.rows[0].height >= bare.rows[0].height + 62.0
    # Labels lie between the board and the next shelf, and beneath the floor.
    assert seen.rows[0].board + 30.0 < seen.rows[1].y
    assert seen.floor == seen.rows[-1].board
    assert seen.height >= seen.floor + 30.0
    assert "On shelf shelf 1 batch 5, grey oyster, cut bag, resting for 10 days; " in (
        seen.description
    )
    assert "on no shelf that is named batch 7, a species with a very long name" in seen.description


def test_a_tub_has_its_batches_on_its_floor() -> None:
    tub = Chamber("tub", "Tub", Stage.FRUITING)
    seen = scene(chamber_now(tub), None, beside(standing_batch(3, "long", Stage.CONK, None, 4)))
    (row,) = seen.rows
    assert (row.board, [one.number for one in row.standing.stood]) == (seen.floor, [3])
    assert "In it batch 3" in seen.description


def test_the_last_hours_end_at_the_newest_value_and_are_cut_where_it_was_silent() -> None:
    kept = tuple((at(ago), 80.0) for ago in (-60, -55, -50, -20, -15, -10, -5, 3))
    lines = {("tent-top", Quantity.HUMIDITY): kept}
    shown = chamber_now(TENT, [sensor_now(TOP, CLOCK, {Quantity.HUMIDITY: 88.0})])
    seen = scene(shown, None, beside(strips=lines))
    (hung,) = seen.rows[0].hung
    ((_, drawn_ruler),) = hung.rulers
    counts = [len(line.split()) for line in drawn_ruler.trace.lines]
    # A point from after the newest value, of a minute not over yet, is left out.
    assert counts == [3, 5]
    assert hung.hours is not None
    assert hung.hours[1] == "07:00"
    assert "inside the band, rising for 4 min" in seen.description


def test_first_readings_are_drawn_no_longer_than_they_are() -> None:
    shown = chamber_now(TENT, [sensor_now(TOP, CLOCK, {Quantity.HUMIDITY: 88.0})])
    (hung,) = drawn(shown).rows[0].hung
    ((_, only),) = hung.rulers
    assert (only.trace.lines, only.trace.dots) == ((), ((120.0, only.y),))
    assert "for" not in describe(shown, beside())
