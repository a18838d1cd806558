"""The drawing of the last six hours: what is in it, and where."""

import re
import xml.etree.ElementTree as ET
from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.core.growing.band import Band
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.drawing import BAND, INK, OUT, Panel, Sheet, drawn
from tests.make import NOON, at

HUMID = Band(80.0, 95.0, 70.0)
GAP = timedelta(minutes=6)
CELSIUS = ShownIn()
SVG = "{http://www.w3.org/2000/svg}"


def panel(
    *values: tuple[float, float],
    band: Band | None = HUMID,
    quantity: Quantity = Quantity.HUMIDITY,
    deeds: tuple[tuple[float, str], ...] = (),
) -> Panel:
    """Return a panel of (minutes after noon, value)."""
    points = tuple(Reading(at(m), "middle", quantity, value) for m, value in values)
    return Panel(points, band, GAP, tuple((at(m), name) for m, name in deeds))


def steady(value: float, start: float = -358, end: float = 0) -> list[tuple[float, float]]:
    return [(float(m), value) for m in range(int(start), int(end) + 1, 2)]


def drawing(
    *panels: Panel, title: str = "Tent", zone: str = "UTC", shown_in: ShownIn = CELSIUS
) -> ET.Element:
    sheet = Sheet(title, panels, NOON, ZoneInfo(zone), shown_in)
    return ET.fromstring(drawn(sheet))  # noqa: S314 - ours


def texts(svg: ET.Element) -> list[str]:
    return [element.text or "" for element in svg.iter(f"{SVG}text")]


def colours_of(svg: ET.Element, tag: str) -> set[str]:
    found = {element.get("fill") for element in svg.iter(f"{SVG}{tag}")}
    return {colour for colour in found if colour}


def test_a_calm_tent_has_no_colour() -> None:
    svg = drawing(panel(*steady(88.0)))
    assert texts(svg)[:2] == ["Tent: humidity", "88 % at 12:00, inside the band of 80 to 95 %"]
    assert (svg.get("width"), svg.get("height")) == ("720", "420")
    assert {"80", "95", "88", "%"} <= set(texts(svg))
    assert OUT not in colours_of(svg, "text") | colours_of(svg, "circle")
    # The part of the line outside has no length to show.
    assert BAND in colours_of(svg, "rect")
    assert not [text for text in texts(svg) if "harmful" in text]


def test_a_dry_tent_says_so_in_words_and_colour() -> None:
    svg = drawing(panel(*steady(88.0, end=-60), *steady(75.0, start=-58)))
    assert texts(svg)[1] == "75 % at 12:00, below the band of 80 to 95 %"
    assert "harmful below 70 %" in texts(svg)
    assert colours_of(svg, "circle") == {OUT}


def test_two_panels_for_what_is_not_humidity() -> None:
    stale = panel(*steady(1400.0), band=Band(high=1000.0, harm_high=2000.0), quantity=Quantity.CO2)
    svg = drawing(stale, panel(*steady(88.0)))
    assert {"Tent: CO₂", "Tent: humidity", "harmful above 2000 ppm", "1000"} <= set(texts(svg))
    assert svg.get("height") == "692"
    names = [element.get("id") for element in svg.iter(f"{SVG}clipPath")]
    assert len(names) == len(set(names)) == 6


FAHRENHEIT = ShownIn(TemperatureUnit.FAHRENHEIT)


def test_a_grower_who_reads_fahrenheit_finds_it_throughout() -> None:
    warm = panel(*steady(27.0), band=Band(18.0, 24.0, 5.0, 30.0), quantity=Quantity.TEMPERATURE)
    said = set(texts(drawing(warm, shown_in=FAHRENHEIT)))
    assert "80.6 °F at 12:00, above the band of 64 to 75 °F" in said
    assert {"harmful above 86 °F", "64.4", "75.2", "80.6", "°F"} <= said
    dry = drawing(panel(*steady(75.0)), shown_in=FAHRENHEIT)
    assert texts(dry) == texts(drawing(panel(*steady(75.0))))


def test_a_scale_without_limits_has_round_numbers_of_the_liked_unit() -> None:
    celsius = panel(*steady(18.0, end=-180), *steady(24.0, start=-178), band=None,
                    quantity=Quantity.TEMPERATURE)  # fmt: skip
    beside = {"65", "70", "75"}
    svg = drawing(celsius, shown_in=FAHRENHEIT)
    assert beside <= set(texts(svg))
    assert beside.isdisjoint(texts(drawing(celsius)))
    # 70 °F are 21.1 °C: just above the middle of 18 and 24 °C.
    heights = {t.text: float(t.get("y") or 0) for t in svg.iter(f"{SVG}text")}
    assert heights["75"] < heights["70"] < heights["65"]
    assert heights["70"] - heights["75"] == pytest.approx(heights["65"] - heights["70"], abs=0.2)


def places(svg: ET.Element) -> list[list[tuple[float, float]]]:
    """Return the stretches of the first line."""
    path = next(svg.iter(f"{SVG}path")).get("d") or ""
    runs = path.split("M")[1:]
    pairs = [re.findall(r"([\d.]+) ([\d.]+)", run) for run in runs]
    return [[(float(x), float(y)) for x, y in run] for run in pairs]


def test_a_gap_stays_a_gap() -> None:
    svg = drawing(panel(*steady(88.0, end=-200), *steady(88.0, start=-90, end=-40), (0, 88.0)))
    assert [len(run) for run in places(svg)] == [80, 26, 2]
    assert texts(svg).count("no readings") == 1


def test_time_runs_from_left_to_right_and_more_is_higher() -> None:
    ((first, *_, last),) = places(drawing(panel(*((m, 80 + m / 60) for m in range(-360, 1, 5)))))
    assert (first[0], last[0]) == (84.0, 600.0)
    assert last[1] < first[1]


def test_what_was_last_heard_long_ago_stands_where_it_was_heard() -> None:
    svg = drawing(panel((-130, 55.0)))
    assert texts(svg)[1] == "55 % last heard at 09:50, below the band of 80 to 95 %"
    (dot,) = svg.iter(f"{SVG}circle")
    value = next(e for e in svg.iter(f"{SVG}text") if e.text == "55")
    assert float(value.get("x") or 0) - float(dot.get("cx") or 0) == pytest.approx(16.0)
    assert "no readings" in texts(svg)


@pytest.mark.parametrize(
    ("zone", "hours"),
    [
        pytest.param("UTC", ["06:00", "08:00", "10:00", "12:00"], id="utc"),
        pytest.param("Europe/Berlin", ["08:00", "10:00", "12:00"], id="an hour on"),
        pytest.param("Asia/Kolkata", ["12:00", "14:00", "16:00"], id="five and a half on"),
    ],
)
def test_the_hours_are_those_of_the_site(zone: str, hours: list[str]) -> None:
    svg = drawing(panel(*steady(88.0)), zone=zone)
    assert [text for text in texts(svg) if re.fullmatch(r"\d\d:00", text)] == hours


def test_what_was_done_is_marked_where_there_is_room() -> None:
    deeds = ((-200.0, "misted"), (-190.0, "vented"), (-60.0, "misted"))
    svg = drawing(panel(*steady(88.0), deeds=deeds))
    assert [t for t in texts(svg) if t in ("misted", "vented")] == ["misted", "misted"]
    dotted = [e for e in svg.iter(f"{SVG}line") if e.get("stroke-dasharray") == "2 5"]
    assert len(dotted) == 3


def test_a_room_without_a_band_has_round_numbers_beside_it() -> None:
    svg = drawing(panel(*steady(41.0), band=None), title="Room <by> the & door")
    assert texts(svg)[:2] == ["Room <by> the & door: humidity", "41 % at 12:00"]
    assert {"35", "40", "45"} <= set(texts(svg))
    path = next(svg.iter(f"{SVG}path"))
    assert path.get("stroke") == INK


@pytest.mark.parametrize(
    ("values", "band", "quantity"),
    [
        pytest.param([0.0, 105.0], HUMID, Quantity.HUMIDITY, id="from nothing to too much"),
        pytest.param([100_000.0, 0.0], Band(high=1000.0), Quantity.CO2, id="much CO2"),
        pytest.param([-40.0, 85.0], Band(13.0, 24.0, None, 30.0), Quantity.TEMPERATURE, id="heat"),
        pytest.param([36.0, 36.0], Band(harm_high=35.0), Quantity.TEMPERATURE, id="harm alone"),
        pytest.param([4.0, 4.0], Band(harm_low=5.0), Quantity.TEMPERATURE, id="cold harm alone"),
        pytest.param([20.0, 20.0], Band(), Quantity.TEMPERATURE, id="no limit at all"),
        pytest.param([3.1, 3.1], None, Quantity.BATTERY, id="what nobody judges"),
    ],
)
def test_nothing_leaves_the_picture(
    values: list[float], band: Band | None, quantity: Quantity
) -> None:
    points = [(float(m), value) for m, value in zip((-10, 0), values, strict=True)]
    svg = drawing(panel(*points, band=band, quantity=quantity))
    for element in svg.iter():
        for name in ("x", "x1", "x2", "cx"):
            assert 0.0 <= float(element.get(name, 0)) <= 720.0
        for name in ("y", "y1", "y2", "cy"):
            assert 0.0 <= float(element.get(name, 0)) <= 420.0
        for name in ("width", "height"):
            assert float(element.get(name, 0)) >= 0.0


def test_utc_is_a_zone_too() -> None:
    assert "12:00" in drawn(Sheet("Tent", (panel((0, 88.0)),), NOON, UTC, ShownIn()))
