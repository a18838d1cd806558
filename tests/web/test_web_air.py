"""The page Air without a browser: what stands on the chart, and how it is said."""

import re
from dataclasses import replace
from html import unescape

import pytest
from fastapi.testclient import TestClient

from chamberwatch.core.air.chart import Window
from chamberwatch.core.air.condensation import Margin
from chamberwatch.core.air.figure import Origin
from chamberwatch.core.growing.band import Band
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.service.views import SeriesPoint
from chamberwatch.web.app import create_app
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.air import air_sheet
from chamberwatch.web.pages.air_axes import PLOT, Scale, celsius_of, even
from chamberwatch.web.pages.air_points import Trust, misting, spot_now, venting
from chamberwatch.web.pages.air_verdict import Bands, verdict
from chamberwatch.web.pages.labels import Box, Placer
from chamberwatch.web.pages.trail import LAST, STEP, trail
from tests.make import NOON
from tests.web import chart_fakes
from tests.web.air_fakes import counsel, situation
from tests.web.chart_fakes import changed, dry, near_saturation, no_sensor, silent, tent_at
from tests.web.desk_fakes import ZONE, Played, sensor_now

GAP = "\N{NO-BREAK SPACE}"
FIGURES = Figures(ShownIn(), comma=False, zone=ZONE)
FAHRENHEIT = Figures(ShownIn(TemperatureUnit.FAHRENHEIT), comma=False, zone=ZONE)


def visit(played: Played, address: str = "/air", status: int = 200) -> str:
    with TestClient(create_app(played.desk), base_url="http://localhost") as visitor:
        answer = visitor.get(address)
    assert answer.status_code == status, answer.text
    return unescape(answer.text).replace(GAP, " ")


def words_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


# ------------------------------------------------------------ what is said


def test_now_the_room_and_where_deeds_lead_are_in_words() -> None:
    page = words_of(visit(tent_at(18.2, 76.0, 1400.0)))
    assert "18.2 °C, 76 % 4 % too dry" in page
    assert "after a misting 18.2 °C, 89 % in the band" in page
    assert "two squeezes, 2 g" in page
    assert "after a venting" in page
    assert "Living room 20.6 °C, 41 %" in page
    assert "Drawn for an air pressure of 101.3 kPa, from the altitude of the site" in page


def test_every_figure_of_a_deed_is_that_of_the_counsel() -> None:
    told = counsel(situation(76.0, 1400.0))
    assert told.mist is not None
    assert told.vent is not None
    misted, vented = misting(told, FIGURES), venting(told, FIGURES)
    assert misted is not None
    assert vented is not None
    assert misted.spot.air.humidity_pct == pytest.approx(told.mist.reach_pct)
    assert vented.spot.air.humidity_pct == pytest.approx(told.vent.humidity_pct)
    assert vented.spot.air.temperature_c == pytest.approx(told.vent.temperature_c)
    assert f"{told.vent.minutes} min" in vented.spot.short.replace(GAP, " ")
    assert f"{round(told.vent.reach_ppm, -1):.0f} ppm" in vented.spot.short.replace(GAP, " ")


def test_a_large_sprayer_is_told_by_weight() -> None:
    told = counsel(situation(76.0))
    assert told.mist is not None
    many = replace(told, mist=replace(told.mist, squeezes=30, into_air_g=45.0))
    way = misting(many, FIGURES)
    assert way is not None
    assert way.spot.short.replace(GAP, " ").startswith("45 g of fine spray: ")


@pytest.mark.parametrize("co2_ppm", [None, 600.0])
def test_what_is_not_asked_for_is_not_drawn(co2_ppm: float | None) -> None:
    told = counsel(situation(88.0, co2_ppm))
    assert misting(told, FIGURES) is None
    assert venting(told, FIGURES) is None


def test_where_nothing_can_be_reckoned_it_says_why() -> None:
    page = words_of(visit(changed(tent_at(), counsel=None)))
    assert "A misting or a venting: State volume_l of the chamber “tent”" in page
    assert "after a misting" not in page


def test_a_chamber_of_no_size_leads_to_where_it_is_said() -> None:
    played = changed(tent_at(), counsel=None)
    tent = played.history.rooms["tent"]
    played.put(replace(tent, chamber=replace(tent.chamber, volume_l=None)))
    page = visit(played)
    assert "A misting or a venting: It can't be told yet" in words_of(page)
    assert '<a href="/set-up/chambers/tent">Say how large it is</a>' in page


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        pytest.param({"mist": None, "mist_words": ""}, "there is nothing to mist for", id="mist"),
        pytest.param({"vent": None, "vent_words": ""}, "nothing is said of venting", id="vent"),
    ],
)
def test_half_a_counsel_says_what_it_lacks(changes: dict[str, object], said: str) -> None:
    played = tent_at()
    told = played.history.rooms["tent"].counsel
    assert told is not None
    page = words_of(visit(changed(played, counsel=replace(told, **changes))))  # type: ignore[arg-type]
    assert said in page


@pytest.mark.parametrize(
    ("margin", "said"),
    [
        pytest.param(
            Margin(17.6, 1.4, 0.4, Origin.ASSUMED, wet=False),
            "at 17.6 °C, 1.4 K above the dew point of 16.2 °C, give or take 0.4 K: it stays dry",
            id="dry",
        ),
        pytest.param(
            Margin(15.0, -1.2, 0.4, Origin.MEASURED, wet=True),
            "1.2 K below the dew point of 16.2 °C, give or take 0.4 K: it is wet",
            id="wet",
        ),
        pytest.param(
            Margin(16.4, 0.2, 0.4, Origin.ASSUMED, wet=False),
            "too close to tell. Look whether there are drops",
            id="unsure",
        ),
    ],
)
def test_the_walls_are_told(margin: Margin, said: str) -> None:
    page = visit(changed(tent_at(), margin=margin))
    assert said in words_of(page)
    assert 'class="surface"' in page


def test_a_wall_far_off_the_chart_is_only_told() -> None:
    page = visit(changed(tent_at(), margin=Margin(-60.0, -76.0, 0.4, Origin.MEASURED, wet=True)))
    assert "it is wet" in words_of(page)
    assert 'class="surface"' not in page


def test_the_pressure_of_a_sensor_is_called_measured() -> None:
    played = tent_at(pressure_pa=84_556.0)
    (heard,) = played.history.rooms["tent"].sensors
    values = {q: r.value for q, r in heard.readings.items()} | {Quantity.PRESSURE: 84_556.0}
    changed(played, sensors=(sensor_now(heard.sensor, played.clock, values),))
    assert "84.6 kPa, measured" in words_of(visit(played))


# ------------------------------------------------------------ never fresh-looking


def test_what_is_old_is_struck_out_and_leads_nowhere() -> None:
    played = silent()
    fresh = tent_at().history.rooms["tent"]
    changed(played, counsel=fresh.counsel, margin=fresh.margin)
    page = visit(played)
    assert "<s>18.2 °C, 88 %</s> <strong>52 min old</strong>" in page
    assert "Not while the values are old" in page
    for kind in ('class="misted"', 'class="vented"', 'class="patch" d="M3', 'class="surface"'):
        assert kind not in page
    assert '<g class="mark-now old">' in page


def test_a_doubt_is_said_and_drawn() -> None:
    page = visit(chart_fakes.doubted())
    assert '<strong class="doubt">? in doubt: may be wet</strong>' in page
    assert '<g class="mark-now doubted">' in page


def test_a_doubted_sensor_that_is_silent_too_is_old_first() -> None:
    played = chart_fakes.doubted()
    (heard,) = played.history.rooms["tent"].sensors
    changed(played, sensors=(replace(heard, silent=True),), stale=True)
    spot = spot_now(played.history.rooms["tent"], NOON)
    assert spot is not None
    assert spot.trust is Trust.OLD
    assert "old, in doubt" in spot.note


@pytest.mark.parametrize(
    ("scene", "said"),
    [
        pytest.param(no_sensor, "No sensor hangs here yet", id="no-sensor"),
        pytest.param(Played, "No chamber yet", id="no-chamber"),
        pytest.param(chart_fakes.only_a_room, "Nobody mists or vents a room", id="room"),
        pytest.param(chart_fakes.sealed, "growing bags", id="sealed"),
    ],
)
def test_empty_states(scene: object, said: str) -> None:
    assert callable(scene)
    assert said in words_of(visit(scene()))


def test_a_sensor_that_was_never_heard_is_waited_for() -> None:
    played = no_sensor()
    sensor = tent_at().history.rooms["tent"].sensors[0].sensor
    changed(played, sensors=(sensor_now(sensor, played.clock, {}, None),))
    page = visit(played)
    assert "Nothing heard yet" in words_of(page)
    assert '<a href="/set-up/sensors">See what is heard</a>' in page


def test_half_a_pair_marks_nothing() -> None:
    played = no_sensor()
    sensor = tent_at().history.rooms["tent"].sensors[0].sensor
    only = sensor_now(sensor, played.clock, {Quantity.HUMIDITY: 88.0})
    changed(played, sensors=(only,), humidity_pct=88.0)
    assert "gives temperature and humidity together" in words_of(visit(played))


@pytest.mark.parametrize("stale", [False, True])
def test_air_of_no_one_sensor_is_believed_as_the_chamber_is(stale: bool) -> None:
    spot = spot_now(changed(tent_at(), sensors=(), stale=stale).history.rooms["tent"], NOON)
    assert spot is not None
    assert spot.trust is (Trust.OLD if stale else Trust.FRESH)


def test_a_room_without_a_sensor_is_called_assumed() -> None:
    played = tent_at(room=None)
    told = played.history.rooms["tent"].counsel
    assert told is not None
    assumed = replace(told, situation=replace(told.situation, room_measured=False))
    page = visit(changed(played, counsel=assumed))
    assert "assumed: as warm as inside" in page
    assert '<g class="mark-room assumed">' in page


def test_an_unknown_chamber_is_refused() -> None:
    assert "attic" in visit(tent_at(), "/air?chamber=attic", 404)


def test_the_first_chamber_that_grows_is_shown() -> None:
    played = tent_at()
    rooms = played.history.rooms
    played.history.rooms = {"room": rooms["room"], "tent": rooms["tent"]}
    assert 'data-chamber="tent"' in visit(played)
    assert 'data-chamber="room"' in visit(played, "/air?chamber=room")
    assert 'data-part="/part/air?chamber=room"' in visit(played, "/air?chamber=room")


# ------------------------------------------------------------ the verdict


BANDS = Bands(Band(13.0, 24.0, None, 30.0), Band(80.0, 95.0, 70.0, None))


@pytest.mark.parametrize(
    ("t", "rh", "bands", "said"),
    [
        pytest.param(18.0, 88.0, BANDS, "in the band", id="within"),
        pytest.param(18.0, 76.0, BANDS, "4 % too dry", id="dry"),
        pytest.param(18.0, 79.7, BANDS, "0.3 % too dry", id="hardly-dry"),
        pytest.param(18.0, 65.0, BANDS, "15 % too dry, harmful", id="harm"),
        pytest.param(26.0, 99.0, BANDS, "2.0 °C too warm, 4 % too humid", id="both"),
        pytest.param(31.0, 88.0, BANDS, "7.0 °C too warm, harmful", id="hot"),
        pytest.param(12.0, 88.0, BANDS, "1.0 °C too cold", id="cold"),
        pytest.param(12.0, 10.0, Bands(None, None), "no band here", id="none"),
        pytest.param(12.0, 70.0, Bands(None, Band(high=60.0)), "10 % too humid", id="room"),
    ],
)
def test_the_verdict(t: float, rh: float, bands: Bands, said: str) -> None:
    told = verdict(t, rh, bands, FIGURES)
    assert told.words.replace(GAP, " ") == said
    assert told.out is (said not in ("in the band", "no band here"))
    assert told.harm is ("harmful" in said)


def test_the_verdict_in_fahrenheit() -> None:
    assert verdict(12.0, 88.0, BANDS, FAHRENHEIT).words.replace(GAP, " ") == "1.8 °F too cold"


# ------------------------------------------------------------ the trail


def test_the_trail_is_the_last_day_in_quarters() -> None:
    played = tent_at()
    history = played.history
    found = trail(history, "tent", NOON)
    assert len(found) == LAST // STEP
    assert found[-1].at == NOON - STEP / 2
    assert {(q, step) for _, q, _, step, _ in history.asked} == {
        ("temperature_c", STEP),
        ("humidity_pct", STEP),
    }


def test_a_quarter_without_both_is_left_out_and_a_gap_is_a_gap() -> None:
    played = tent_at()
    days = chart_fakes.days_of(played)
    days["tent", "humidity_pct"] = tuple(
        p for n, p in enumerate(days["tent", "humidity_pct"]) if not 40 <= n < 60
    )
    assert len(trail(played.history, "tent", NOON)) == 76
    chart = air_sheet(played.desk, "tent", FIGURES).chart
    assert len(chart.trail) == 74  # 75 neighbours, less the gap
    assert [age for age, _ in chart.trail] == sorted(age for age, _ in chart.trail)


def test_a_trail_beyond_all_air_is_not_drawn() -> None:
    played = tent_at()
    days = chart_fakes.days_of(played)
    hot = SeriesPoint(NOON - 2 * STEP, None, 1, 80.0, 80.0, 80.0)
    days["tent", "temperature_c"] = (*days["tent", "temperature_c"][:-2], hot)
    chart = air_sheet(played.desk, "tent", FIGURES).chart
    assert chart.window.high_c < 40.0
    assert len(chart.trail) == 93


# ------------------------------------------------------------ axes and room for words


@pytest.mark.parametrize(
    ("low", "high", "at_least", "values"),
    [
        pytest.param(11.0, 26.0, 1.3, [12, 14, 16, 18, 20, 22, 24, 26], id="twos"),
        pytest.param(-14.0, 20.0, 4.0, [-10, -5, 0, 5, 10, 15, 20], id="fives"),
        pytest.param(0.0, 90.0, 30.0, [0, 20, 40, 60, 80], id="no-larger-step"),
    ],
)
def test_figures_of_an_axis_are_round(
    low: float, high: float, at_least: float, values: list[int]
) -> None:
    assert list(even(low, high, at_least)) == pytest.approx(values)


@pytest.mark.parametrize("figures", [FIGURES, FAHRENHEIT], ids=["°C", "°F"])
@pytest.mark.parametrize("scene", [tent_at, chart_fakes.winter, near_saturation, dry])
def test_every_tick_stands_where_its_figure_says(scene: object, figures: Figures) -> None:
    assert callable(scene)
    chart = air_sheet(scene().desk, "tent", figures).chart
    scale = Scale(chart.window)
    assert len(chart.paper.across) >= 5
    for tick in chart.paper.across:
        assert tick.label is not None
        value = float(tick.label.text.replace("\N{MINUS SIGN}", "-"))
        assert tick.x == pytest.approx(scale.x(celsius_of(value, figures.shown_in)), abs=0.1)
    ups = [tick.y for tick in chart.paper.up]
    assert ups == sorted(ups, reverse=True)
    assert all(PLOT.top <= tick.y <= PLOT.bottom for tick in chart.paper.dew)


def test_an_empty_line_is_no_path() -> None:
    assert Scale(Window(0.0, 20.0, 10.0, 101_325.0)).path(()) == ""


def test_words_find_room_beside_each_other() -> None:
    placer = Placer(Box(0.0, 0.0, 200.0, 100.0), 11.0)
    first = placer.beside(50.0, 50.0, ["now"])
    second = placer.beside(50.0, 50.0, ["now"])
    assert first is not None
    assert second is not None
    assert (first.x, first.anchor) == (59.0, "start")
    assert second.anchor == "end"
    assert first.leader == ""


def test_a_word_further_away_is_joined_to_its_point() -> None:
    placer = Placer(Box(0.0, 0.0, 300.0, 100.0), 11.0)
    placer.reserve(Box(30.0, 30.0, 80.0, 70.0))
    far = placer.beside(50.0, 50.0, ["now"], far=60.0)
    assert far is not None
    assert far.leader.startswith("M50.0 50.0L")


def test_a_long_text_gives_way_to_a_short_one_and_then_to_none() -> None:
    placer = Placer(Box(0.0, 0.0, 60.0, 20.0), 11.0)
    label = placer.beside(20.0, 10.0, ["a text as long as the drawing is wide", "now"])
    assert label is not None
    assert label.text == "now"
    assert placer.beside(20.0, 10.0, ["now"]) is None
    assert placer.fixed(label.x, label.y, label.anchor, "14") is None


def test_a_day_without_any_reading_leaves_no_trail() -> None:
    assert 'class="hour"' not in visit(no_sensor())
