"""Where the limits of a band come from, in words."""

from dataclasses import replace

import pytest

from chamberwatch.core.growing.band import HOME_BANDS, Band, Stage
from chamberwatch.core.growing.band_words import disagreement_words, limit_words, stated_words
from chamberwatch.core.growing.species import Mark, Species, Stated, View, Wants
from chamberwatch.core.growing.wants import Following, Grown, Limits, Voice, follow

SOURCES = {"book": "A book, 2000"}


def said(low: float | None, high: float | None) -> Stated:
    return Stated((View(low, high, "book", Mark.READ),))


def kind(title: str, *wants: Wants) -> Species:
    return Species(title.lower().replace(" ", "-"), title, "", {w.stage: w for w in wants})


GREY = kind(
    "Grey oyster",
    Wants(
        Stage.PINNING,
        said(10, 15.6),
        said(95, 100),
        said(None, 1000),
        humidity_harm_pct=said(70, None),
    ),
    Wants(Stage.FRUITING, said(10, 21), said(85, 90), said(None, 1200)),
)
GOLDEN = kind("Golden oyster", Wants(Stage.FRUITING, said(22, 29), said(88, 98), said(None, 1100)))
NAMEKO = kind(
    "Nameko", Wants(Stage.PINNING, said(10, 15.6)), Wants(Stage.COLONISATION, said(24, 29))
)
SHIITAKE = kind(
    "Shiitake",
    Wants(Stage.COLONISATION, said(21, 27)),
    Wants(Stage.FRUITING, said(16, 21), said(60, 80)),
)
REISHI = kind("Reishi", Wants(Stage.ANTLER, said(18, 24), said(95, 100), said(20_000, 40_000)))


def standing(*each: tuple[int, Species, Stage]) -> Following:
    return follow(
        (Grown(n, s, stage, stage is Stage.COLONISATION) for n, s, stage in each), SOURCES
    )


PINNING = (14, GREY, Stage.PINNING)
FRUITING = (14, GREY, Stage.FRUITING)
GOLD = (17, GOLDEN, Stage.FRUITING)


@pytest.mark.parametrize(
    ("here", "quantity", "unit", "words"),
    [
        pytest.param(
            [PINNING],
            "humidity",
            "%",
            "humidity 90 to 100 %: pinning, grey oyster, batch 14; the source asks for at least "
            "95 %; the home limit is what can be held by hand (common practice); A book, 2000; "
            "read. Hurt below 70 % (batch 14)",
            id="one, cut to what can be held",
        ),
        pytest.param(
            [FRUITING, GOLD],
            "humidity",
            "%",
            "humidity 88 to 98 %: fruiting, golden oyster, batch 17; A book, 2000; read. "
            "Hurt below 70 % (batch 14)",
            id="both limits are one's",
        ),
        pytest.param(
            [PINNING, GOLD],
            "humidity",
            "%",
            "humidity 90 to 100 %: pinning, grey oyster, batch 14; the source asks for at least "
            "95 %; the home limit is what can be held by hand (common practice); A book, 2000; "
            "read. Hurt below 70 % (batch 14)",
            id="the neediest is the most tolerant too",
        ),
        pytest.param(
            [(14, NAMEKO, Stage.PINNING), (3, SHIITAKE, Stage.FRUITING)],
            "temperature",
            "°C",
            "temperature 14.8 to 16.8 °C: at least 16, fruiting, shiitake, batch 3; A book, 2000; "
            "read; at most 15.6, pinning, nameko, batch 14; A book, 2000; read. Widened to 2 K: "
            "no less can be held at home (common practice). Hurt above 30 °C (batch 3)",
            id="two, and a compromise",
        ),
        pytest.param(
            [FRUITING, GOLD],
            "co2",
            "ppm",
            "CO2 at most 1100 ppm: fruiting, golden oyster, batch 17; A book, 2000; read. "
            "Hurt above 2000 ppm (batch 14)",
            id="the strictest",
        ),
    ],
)
def test_whose_wish_it_is(
    here: list[tuple[int, Species, Stage]], quantity: str, unit: str, words: str
) -> None:
    assert limit_words(quantity, standing(*here).limits[quantity], unit) == words


def test_a_low_limit_alone() -> None:
    voice = Voice(2, "Wine cap", Stage.FRUITING, False, 12.0, None, None, None, "someone")
    limits = Limits(Band(low=12.0, harm_low=2.0, harm_high=31.0), low=voice)
    assert limit_words("temperature", limits, "°C") == (
        "temperature at least 12 °C: fruiting, wine cap, batch 2; someone. "
        "Hurt below 2 °C and above 31 °C"
    )
    calm = replace(limits, band=Band(low=12.0))
    assert limit_words("temperature", calm, "°C").endswith("; someone")


def test_a_stated_stage() -> None:
    band = HOME_BANDS[Stage.FRUITING]["humidity"]
    assert stated_words("humidity", Stage.FRUITING, band, "%") == (
        "humidity 80 to 95 %: stated stage fruiting; common practice for a home chamber with "
        "nothing recorded in it. Hurt below 70 %"
    )


@pytest.mark.parametrize(
    ("here", "quantity", "unit", "words"),
    [
        pytest.param([FRUITING], "temperature", "°C", "", id="one suits itself"),
        pytest.param(
            [FRUITING, GOLD],
            "temperature",
            "°C",
            "no temperature suits all: batch 14 (grey oyster, fruiting) wants at most 21 °C, "
            "batch 17 (golden oyster, fruiting) at least 22; 20.5 to 22.5 °C is the nearest "
            "compromise: move one of them",
            id="they cross",
        ),
        pytest.param(
            [(14, NAMEKO, Stage.PINNING), (9, SHIITAKE, Stage.COLONISATION)],
            "temperature",
            "°C",
            "temperature 10 to 15.6 °C does not suit batch 9 (shiitake, colonisation, sealed), "
            "which wants 21 to 27: move it elsewhere if you can",
            id="a sealed one gives way",
        ),
        pytest.param(
            [PINNING, (3, SHIITAKE, Stage.FRUITING)],
            "humidity",
            "%",
            "humidity 90 to 100 % does not suit batch 3 (shiitake, fruiting), which wants 60 to "
            "80: move it elsewhere if you can",
            id="too wet",
        ),
        pytest.param(
            [FRUITING, (5, REISHI, Stage.ANTLER)],
            "co2",
            "ppm",
            "CO2 at most 1200 ppm does not suit batch 5 (reishi, antler), which wants 20000 to "
            "40000: move it elsewhere if you can",
            id="too fresh",
        ),
    ],
)
def test_who_is_not_suited(
    here: list[tuple[int, Species, Stage]], quantity: str, unit: str, words: str
) -> None:
    assert disagreement_words(quantity, standing(*here).limits[quantity], unit) == words


def test_all_that_disagree_are_named() -> None:
    all_ = standing(FRUITING, GOLD, (9, NAMEKO, Stage.COLONISATION))
    words = disagreement_words("temperature", all_.limits["temperature"], "°C")
    assert "nearest compromise" in words
    assert "batch 9 (nameko, colonisation, sealed)" in words
