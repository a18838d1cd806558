"""The band of a chamber from what stands in it.

Figures: Stamets, Growing Gourmet and Medicinal Mushrooms, 3rd ed. (2000), ch. 21, for grey
oyster, shiitake, enoki, king oyster, golden oyster and reishi; the home limit is common practice.
"""

import pytest

from chamberwatch.core.growing.band import COMMON_PRACTICE, Stage
from chamberwatch.core.growing.species import Mark, Species, Stated, View, Wants
from chamberwatch.core.growing.wants import (
    HIGH_HUMIDITY_AFTER,
    HOME_CO2_PPM,
    HOME_LOW_PCT,
    Following,
    Grown,
    follow,
    voice,
)

SOURCES = {"S00": "Stamets 2000, ch. 21"}
Pair = tuple[float | None, float | None]


def said(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high, "S00", Mark.COPY),))


def usual(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high),))


def wants(stage: Stage, warm: Pair, humid: Pair, stale: Pair, **harm: Stated) -> Wants:
    return Wants(
        stage,
        said(*warm),
        said(*humid),
        said(*stale),
        temperature_harm_c=harm.get("t"),
        humidity_harm_pct=harm.get("rh"),
        co2_harm_ppm=harm.get("co2"),
    )


def species(title: str, *stages: Wants) -> Species:
    return Species(title.lower().replace(" ", "-"), title, "", {w.stage: w for w in stages})


OYSTER = species(
    "Grey oyster",
    wants(Stage.COLONISATION, (18, 27), (85, 95), (5000, 20000), t=usual(None, 30)),
    wants(Stage.PINNING, (10, 15.6), (95, 100), (None, 1000)),
    wants(Stage.FRUITING, (10, 21), (85, 90), (None, 1000), co2=usual(None, 2000)),
)
SHIITAKE = species(
    "Shiitake",
    wants(Stage.FRUITING, (10, 21), (60, 80), (None, 1000), rh=usual(50, None)),
)
KING = species("King oyster", wants(Stage.FRUITING, (15, 21), (85, 90), (None, 2000)))
ENOKI = species(
    "Enoki", wants(Stage.FRUITING, (10, 16), (90, 95), (2000, 4000), co2=usual(None, 10000))
)
GOLDEN = species("Golden oyster", wants(Stage.FRUITING, (21, 29), (90, 95), (None, 1000)))
REISHI = species(
    "Reishi",
    wants(Stage.ANTLER, (18, 24), (95, 100), (20000, 40000)),
    wants(Stage.CONK, (21, 27), (90, 95), (None, 2000)),
)
UNKNOWN = Species("lost", "lost", "", {})

FRUITING, PINNING, RESTING = Stage.FRUITING, Stage.PINNING, Stage.RESTING


def open_(number: int, kind: Species = OYSTER, stage: Stage = FRUITING) -> Grown:
    return Grown(number, kind, stage, sealed=False)


def bag(number: int, kind: Species = OYSTER) -> Grown:
    return Grown(number, kind, Stage.COLONISATION, sealed=True)


def limits(found: Following, quantity: str) -> tuple[float | None, ...] | None:
    band = found.band(quantity)
    return (band.low, band.high, band.harm_low, band.harm_high) if band else None


def one_sided(low: float | None, high: float | None) -> Species:
    figures = said(low, high)
    return Species("one", "One", "", {FRUITING: Wants(FRUITING, figures, figures, figures)})


@pytest.mark.parametrize(
    ("grown", "temperature", "humidity", "co2"),
    [
        pytest.param([], None, None, None, id="empty"),
        pytest.param([bag(1)], (18, 27, None, 30), None, None, id="sealed: temperature alone"),
        pytest.param(
            [open_(14)],
            (10, 21, None, 30),
            (85, 95, 70, None),
            (None, 1000, None, 2000),
            id="one open batch",
        ),
        pytest.param(
            [open_(14, OYSTER, PINNING)],
            (10, 21, None, 30),
            (HOME_LOW_PCT, 100, 70, None),
            (None, 1000, None, 2000),
            id="pinning: the home limit",
        ),
        pytest.param(
            [open_(14, OYSTER, RESTING)],
            (10, 21, None, 30),
            (85, 95, 70, None),
            None,
            id="resting: like fruiting, but no CO2",
        ),
        pytest.param(
            [open_(3, REISHI, RESTING)],
            (21, 27, None, 30),
            (90, 100, 70, None),
            None,
            id="resting reishi: like its caps",
        ),
        pytest.param(
            [open_(14), open_(9, OYSTER, PINNING)],
            (10, 21, None, 30),
            (90, 100, 70, None),
            (None, 1000, None, 2000),
            id="the neediest low, the most tolerant high",
        ),
        pytest.param(
            [open_(1, KING), open_(2, ENOKI)],
            (14.5, 16.5, None, 30),
            (90, 100, 70, None),
            (None, 2000, None, 2000),
            id="an overlap that is too narrow is widened",
        ),
        pytest.param(
            [open_(1, ENOKI), open_(2, GOLDEN)],
            (17.5, 19.5, None, 30),
            (90, 100, 70, None),
            (None, 1000, None, 2000),
            id="no overlap: the middle",
        ),
        pytest.param(
            [open_(14, KING), bag(15)],
            (15, 21, None, 30),
            (85, 95, 70, None),
            (None, 2000, None, 2000),
            id="a sealed one asks for no warmth beside a crop",
        ),
        pytest.param(
            [open_(14, ENOKI), bag(15)],
            (10, 16, None, 30),
            (90, 100, 70, None),
            (None, 4000, None, 10000),
            id="and gives way where nothing does",
        ),
        pytest.param(
            [open_(1, ENOKI), open_(2, GOLDEN), bag(3)],
            (17.5, 19.5, None, 30),
            (90, 100, 70, None),
            (None, 1000, None, 2000),
            id="a compromise that suits a part of what a sealed one wants",
        ),
        pytest.param(
            [open_(14, one_sided(None, 26)), bag(15)],
            (None, 26, None, 30),
            (None, 26, 70, None),
            (None, 1000, None, 2000),
            id="nor where nobody else does",
        ),
        pytest.param(
            [open_(14, one_sided(20, None)), bag(15)],
            (20, 27, None, 30),
            (20, None, 20, None),
            None,
            id="but it sets how warm it may be",
        ),
        pytest.param(
            [open_(14, one_sided(26, 29)), bag(15)],
            (26, 29, None, 30),
            (26, 36, 26, None),
            (None, 1000, None, 2000),
            id="where enough is left",
        ),
        pytest.param(
            [open_(14, SHIITAKE), open_(15)],
            (10, 21, None, 30),
            (85, 95, 70, None),
            (None, 1000, None, 2000),
            id="dry shiitake beside oyster",
        ),
        pytest.param(
            [open_(1, UNKNOWN), bag(2, UNKNOWN)],
            (13, 24, None, 30),
            (80, 95, 70, None),
            (None, 1000, None, 2000),
            id="a species without figures: the general bands",
        ),
    ],
)
def test_the_band_that_follows(
    grown: list[Grown],
    temperature: tuple[float | None, ...] | None,
    humidity: tuple[float | None, ...] | None,
    co2: tuple[float | None, ...] | None,
) -> None:
    found = follow(grown, SOURCES)
    assert limits(found, "temperature") == temperature
    assert limits(found, "humidity") == humidity
    assert limits(found, "co2") == co2
    assert found.band("pressure") is None


@pytest.mark.parametrize(
    ("grown", "against"),
    [
        pytest.param([open_(1, KING), open_(2)], {}, id="they agree"),
        pytest.param([open_(1, KING), open_(2, ENOKI)], {"co2": []}, id="both bear 2000 ppm"),
        pytest.param(
            [open_(1, ENOKI), open_(2, GOLDEN), bag(3)],
            {"temperature": [1, 2], "co2": [1]},
            id="too warm for one, too cold for the other; stems want more CO2",
        ),
        pytest.param(
            [open_(1, ENOKI), open_(2, GOLDEN), open_(3, one_sided(20, None)), open_(4)],
            {"temperature": [1, 2, 3], "co2": [1]},
            id="all whom it leaves no room, not the outermost two alone",
        ),
        pytest.param(
            [open_(14, ENOKI), bag(15)], {"temperature": [15]}, id="too cold for the sealed one"
        ),
        pytest.param(
            [open_(14, SHIITAKE), open_(15)], {"humidity": [14]}, id="too humid for shiitake"
        ),
    ],
)
def test_who_disagrees_is_named(grown: list[Grown], against: dict[str, list[int]]) -> None:
    found = follow(grown, SOURCES).disagreements
    named = {q: [v.batch for v in each.against] for q, each in found.items()}
    assert named == {q: batches for q, batches in against.items() if batches}


def test_each_limit_says_whose_it_is() -> None:
    humidity = follow([open_(14), open_(9, OYSTER, PINNING)], SOURCES).limits["humidity"]
    assert humidity.low is not None
    assert humidity.high is not None
    assert (humidity.low.batch, humidity.high.batch) == (9, 9)
    assert humidity.low.words == "pinning, grey oyster, batch 9"
    assert humidity.low.source == "Stamets 2000, ch. 21"
    assert humidity.low.note.startswith("the source asks for at least 95 %; the home limit is")
    assert humidity.band.high_after == HIGH_HUMIDITY_AFTER
    assert humidity.band.source == ("pinning, grey oyster, batch 9: Stamets 2000, ch. 21")


def test_pins_bear_the_temperature_of_fruiting_at_home() -> None:
    warm = follow([open_(9, OYSTER, PINNING)], SOURCES).limits["temperature"].high
    assert warm is not None
    assert warm.note.startswith("the source asks for 10 to 15.6 °C; the home limit is that of")
    alike = wants(PINNING, (10, 21), (95, 100), (None, 1000))
    same = species("Same", alike, wants(FRUITING, (10, 21), (85, 90), (None, 1000)))
    as_stated = voice(open_(1, same, PINNING), "temperature", SOURCES)
    assert as_stated is not None
    assert as_stated.note == ""


@pytest.mark.parametrize(
    ("pinning", "fruiting", "band"),
    [
        pytest.param((10, 15), None, (10, 15), id="no fruiting figures"),
        pytest.param((None, 15), (12, 20), (None, 20), id="no low while pinning"),
        pytest.param((10, 15), (12, None), (10, None), id="no high while fruiting"),
    ],
)
def test_the_wider_of_pinning_and_fruiting(
    pinning: Pair, fruiting: Pair | None, band: Pair
) -> None:
    stages = [Wants(PINNING, said(*pinning))]
    stages += [Wants(FRUITING, said(*fruiting))] if fruiting else []
    found = follow([open_(1, species("Any", *stages), PINNING)], SOURCES).band("temperature")
    assert found is not None
    assert (found.low, found.high) == band


def test_no_limit_is_lower_than_a_room_can_reach() -> None:
    """Stamets 2000: 500 to 700 ppm for pins of lion's mane; little above outdoor air."""
    mane = species("Lion's mane", wants(PINNING, (10, 15.6), (95, 100), (500, 700)))
    made = follow([open_(3, mane, PINNING)], SOURCES).limits["co2"]
    assert made.band.high == HOME_CO2_PPM
    assert made.high is not None
    assert made.high.note.startswith("the source asks for at most 700 ppm;")
    assert made.against == ()


def test_common_practice_is_said_to_be_that() -> None:
    plain = Species("x", "X", "", {FRUITING: Wants(FRUITING, usual(10, 20))})
    warm = voice(open_(1, plain), "temperature", {})
    assert warm is not None
    assert warm.source == Mark.COMMON.value
    lost = voice(open_(1, UNKNOWN), "temperature", {})
    assert lost is not None
    assert lost.source == COMMON_PRACTICE


@pytest.mark.parametrize(
    ("low", "high"),
    [
        pytest.param(None, 20.0, id="no low"),
        pytest.param(15.0, None, id="no high"),
        pytest.param(None, None, id="neither"),
    ],
)
def test_a_side_that_is_not_limited_is_not_judged(low: float | None, high: float | None) -> None:
    found = follow([open_(1, one_sided(low, high))], SOURCES)
    for quantity in ("temperature", "humidity"):
        band = found.band(quantity)
        assert (band is not None) == (low is not None or high is not None)
        if band is not None:
            assert (band.low, band.high) == (low, high)
    assert (found.band("co2") is not None) == (high is not None)


def test_who_bears_any_humidity_is_the_most_tolerant() -> None:
    found = follow([open_(1), open_(2, one_sided(60.0, None))], SOURCES).limits["humidity"]
    assert (found.band.low, found.band.high) == (85, None)
    assert found.low is not None
    assert found.low.note.startswith("the source asks for at most 90 %;")


def test_harm_is_never_inside_what_was_agreed_on() -> None:
    touchy = Species(
        "touchy",
        "Touchy",
        "",
        {
            FRUITING: Wants(
                FRUITING,
                said(10, 14),
                temperature_harm_c=usual(5, 16),
                humidity_harm_pct=usual(84, None),
            )
        },
    )
    found = follow([open_(1, touchy), open_(2, GOLDEN)], SOURCES)
    assert limits(found, "temperature") == (16.5, 18.5, 5, 18.5)
    alone = follow([open_(1, touchy)], SOURCES)
    assert limits(alone, "humidity") == (80, 95, 80, None)


def test_a_voice_without_harm_limits_sets_none() -> None:
    bare = one_sided(10.0, None)
    none = Wants(
        FRUITING,
        said(10, None),
        said(60, None),
        temperature_harm_c=said(None, None),
        humidity_harm_pct=said(None, None),
    )
    bare = Species("bare", "Bare", "", {FRUITING: none})
    found = follow([open_(1, bare)], SOURCES)
    assert limits(found, "temperature") == (10, None, None, None)
    assert limits(found, "humidity") == (60, None, None, None)


@pytest.mark.parametrize(
    ("stages", "middle_c"),
    [
        pytest.param({Stage.FRUITING: (10.0, 20.0), Stage.CONK: (24.0, 26.0)}, 15.0, id="fruits"),
        pytest.param({Stage.CONK: (20.0, 26.0)}, 23.0, id="conks"),
        pytest.param({Stage.FRUITING: (10.0, None)}, None, id="no upper end"),
        pytest.param({Stage.FRUITING: (None, 20.0)}, None, id="no lower end"),
        pytest.param({}, None, id="not stated"),
    ],
)
def test_at_what_warmth_it_fruits(stages: dict[Stage, Pair], middle_c: float | None) -> None:
    told = {stage: Wants(stage, said(*ends)) for stage, ends in stages.items()}
    assert Species("x", "X", "", told).fruits_at_c == middle_c
