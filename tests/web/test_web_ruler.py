"""Values on their bands: where things lie, and how they are said."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.growing.band import CORE_BAND, HOME_BANDS, Band, Stage
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.judgement import Judgement, judge
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.web import words
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.ruler import Shown, ruler
from tests.make import NOON, at
from tests.web.desk_fakes import FIGURES, ZONE

Q = Quantity
FRUITING = HOME_BANDS[Stage.FRUITING]
HUMIDITY, TEMPERATURE, CO2 = (FRUITING[q.value] for q in (Q.HUMIDITY, Q.TEMPERATURE, Q.CO2))
GAP = words.GAP


PLAIN = Shown(FIGURES, NOON)


def judged(quantity: Quantity, value: float, band: Band) -> Judgement:
    return judge(Reading(NOON, "s", quantity, value), "air", band)


@pytest.mark.parametrize(
    ("quantity", "value", "band", "said"),
    [
        pytest.param(Q.HUMIDITY, 76.0, HUMIDITY, "below the band by 4 %", id="below"),
        pytest.param(Q.HUMIDITY, 88.0, HUMIDITY, "inside the band", id="inside"),
        pytest.param(Q.HUMIDITY, 80.0, HUMIDITY, "inside the band", id="on-the-limit"),
        pytest.param(Q.HUMIDITY, 79.8, HUMIDITY, "below the band by 0.2 %", id="just-below"),
        pytest.param(Q.HUMIDITY, 61.0, HUMIDITY, "harm: below by 19 %", id="harm"),
        pytest.param(Q.CO2, 1250.0, CO2, "above the band by 250 ppm", id="above"),
        pytest.param(Q.TEMPERATURE, 20.0, CORE_BAND, "clear of the harm limit", id="core"),
        pytest.param(Q.TEMPERATURE, 36.4, CORE_BAND, "harm: above by 1.4 °C", id="core-hot"),
    ],
)
def test_where_a_value_stands(quantity: Quantity, value: float, band: Band, said: str) -> None:
    drawn = ruler(judged(quantity, value, band), PLAIN)
    assert drawn.words.replace(GAP, " ") == said


def test_a_value_just_outside_does_not_read_as_the_limit() -> None:
    drawn = ruler(judged(Q.HUMIDITY, 79.8, HUMIDITY), PLAIN)
    assert drawn.value == f"79.8{GAP}%"


@given(
    st.sampled_from([(Q.HUMIDITY, HUMIDITY), (Q.TEMPERATURE, TEMPERATURE), (Q.CO2, CO2)]),
    st.floats(-40.0, 105.0),
)
def test_the_marker_agrees_with_the_judgement(of: tuple[Quantity, Band], value: float) -> None:
    quantity, band = of
    value = value * 60.0 + 2400.0 if quantity is Q.CO2 else value
    drawn = ruler(judged(quantity, value, band), PLAIN)
    assert drawn.band is not None
    top, foot = drawn.band
    assert 0.0 <= top < foot <= drawn.height
    assert 0.0 <= drawn.y <= drawn.height
    # Half a tenth of a unit is lost in rounding.
    if drawn.standing == "within":
        assert top - 0.1 <= drawn.y <= foot + 0.1
    elif drawn.standing == "below":
        assert drawn.y >= foot - 0.1
    else:
        assert drawn.y <= top + 0.1
    # The tag stays beside the scale, and its hairline meets it.
    middle, _ = drawn.tag
    assert 9.0 <= middle <= drawn.height - 9.0
    assert abs(middle - drawn.y) <= 9.0


@pytest.mark.parametrize(
    ("band", "lighter", "hatched"),
    [
        pytest.param(Band(10.0, 20.0, 5.0, 25.0), True, 2, id="all-four"),
        pytest.param(Band(10.0, None), True, 0, id="only-low"),
        pytest.param(Band(None, 20.0), True, 0, id="only-high"),
        pytest.param(Band(10.0, None, None, 30.0), True, 1, id="low-and-harm-above"),
        pytest.param(Band(None, 20.0, 5.0, None), True, 1, id="high-and-harm-below"),
        pytest.param(Band(None, None, 5.0, None), False, 1, id="only-harm-below"),
    ],
)
@pytest.mark.parametrize("quantity", [Q.TEMPERATURE, Q.HUMIDITY, Q.PRESSURE])
def test_bands_of_any_form_can_be_drawn(
    quantity: Quantity, band: Band, lighter: bool, hatched: int
) -> None:
    drawn = ruler(judged(quantity, 15.0, band), PLAIN)
    assert (drawn.band is not None, len(drawn.hatched)) == (lighter, hatched)
    for start, end in (*drawn.hatched, *([drawn.band] if drawn.band else [])):
        assert 0.0 <= start < end <= drawn.height
    for start, end in drawn.hatched:
        # What is harmful is never drawn as good.
        assert drawn.band is None or end <= drawn.band[0] or start >= drawn.band[1]


def test_limits_that_lie_close_together_share_a_label() -> None:
    drawn = ruler(judged(Q.TEMPERATURE, 15.0, Band(10.0, 20.0, 9.8, None)), PLAIN)
    assert [tick.label for tick in drawn.ticks] == ["10", "20", ""]


def test_no_air_above_full_saturation_is_drawn() -> None:
    calm = ruler(judged(Q.HUMIDITY, 90.0, HUMIDITY), PLAIN)
    wet = ruler(judged(Q.HUMIDITY, 101.0, HUMIDITY), PLAIN)
    # One at full saturation has no room above; one that says more is drawn where it says.
    assert calm.ticks[1].y < wet.ticks[1].y
    assert wet.y == 0.0


def test_old_values_say_their_age_instead_of_their_standing() -> None:
    drawn = ruler(
        judged(Q.HUMIDITY, 61.0, HUMIDITY), Shown(FIGURES, NOON, spread="± 2", old="2 h old")
    )
    assert (drawn.words, drawn.old, drawn.spread) == ("2 h old", True, "")


@pytest.mark.parametrize(
    ("band", "said"),
    [
        pytest.param(HUMIDITY, "80 to 95 %, harm below 70 %", id="both"),
        pytest.param(Band(None, 20.0), "up to 20 %", id="high"),
        pytest.param(Band(10.0, None), "from 10 %", id="low"),
        pytest.param(Band(harm_high=35.0), "harm above 35 %", id="harm"),
    ],
)
def test_a_band_in_words(band: Band, said: str) -> None:
    assert words.band_words(judged(Q.HUMIDITY, 15.0, band)).replace(GAP, " ") == said


@pytest.mark.parametrize(
    ("quantity", "value", "said"),
    [
        pytest.param(Q.TEMPERATURE, -3.25, f"{words.MINUS}3.2 °C", id="minus"),
        pytest.param(Q.TEMPERATURE, -0.04, "0.0 °C", id="no-minus-nothing"),
        pytest.param(Q.CO2, 840.4, "840 ppm", id="whole"),
        pytest.param(Q.PRESSURE, 101_325.0, "101.3 kPa", id="pressure"),
        pytest.param(Q.BATTERY, 2.934, "2.93 V", id="battery"),
    ],
)
def test_amounts(quantity: Quantity, value: float, said: str) -> None:
    assert words.amount(quantity, value).replace(GAP, " ") == said


@pytest.mark.parametrize(
    ("length", "said"),
    [
        pytest.param(timedelta(seconds=-5), "0 s", id="clock-set-back"),
        pytest.param(timedelta(seconds=119), "119 s", id="seconds"),
        pytest.param(timedelta(minutes=2), "2 min", id="minutes"),
        pytest.param(timedelta(hours=2), "2 h", id="hours"),
        pytest.param(timedelta(days=2), "2 days", id="days"),
    ],
)
def test_lengths_of_time(length: timedelta, said: str) -> None:
    assert words.span(length).replace(GAP, " ") == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        pytest.param(0, "13:00", id="now"),
        pytest.param(30, "13:30", id="soon"),
        pytest.param(-13 * 60, "00:00", id="midnight"),
        pytest.param(-13 * 60 - 1, "Monday 23:59", id="yesterday"),
        pytest.param(12 * 60, "Wednesday 01:00", id="tomorrow"),
        pytest.param(-8 * 24 * 60, "12 January 13:00", id="last-week"),
        pytest.param(-30 * 24 * 60, "2025-12-21 13:00", id="last-year"),
    ],
)
def test_times_as_people_nearby_say_them(minutes: float, said: str) -> None:
    assert words.moment(at(minutes), NOON, ZONE) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("short", "short", id="short"),
        pytest.param("exactly ten", "exactly t…", id="cut"),
        pytest.param("12345678 90x", "12345678…", id="no-space-at-the-cut"),
    ],
)
def test_names_are_cut_where_there_is_no_room(text: str, said: str) -> None:
    assert words.shortened(text, 10) == said


def test_figures_are_written_as_the_grower_and_the_browser_write_them() -> None:
    liked = Figures(ShownIn(TemperatureUnit.FAHRENHEIT), comma=True, zone=ZONE)
    drawn = ruler(judged(Q.TEMPERATURE, 18.3, TEMPERATURE), Shown(liked, NOON, spread="± 0,4"))
    assert (drawn.value.replace(GAP, " "), drawn.spread) == ("64,9 °F", "± 0,4")
    assert [tick.label for tick in drawn.ticks] == ["55,4", "75,2", "86"]


def test_the_line_stays_on_the_scale_of_the_value() -> None:
    """What was far outside five hours ago widens the scale; the line ends at the value."""
    piece = ((at(-300), 62.0), (at(-150), 88.0), (at(0), 86.0))
    drawn = ruler(judged(Q.HUMIDITY, 86.0, HUMIDITY), Shown(FIGURES, NOON, (piece,)))
    (line,) = drawn.trace.lines
    places = [tuple(map(float, each.split(","))) for each in line.split()]
    assert [x for x, _ in places] == [20.0, 70.0, 120.0]
    assert places[-1][1] == drawn.y
    assert max(y for _, y in places) < drawn.height
