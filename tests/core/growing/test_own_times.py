"""How long things take at this grower's: the window follows, and stays honest."""

from dataclasses import replace
from math import sqrt
from random import Random

import pytest

from chamberwatch.core.growing.batch import Batch, Container, Entry
from chamberwatch.core.growing.own_times import (
    LOG_COLONISING,
    OwnTimes,
    Pace,
    Span,
    learnt,
    narrowed,
    t_quantile,
)
from chamberwatch.core.growing.species import Species, Stated, Wants
from tests.core.growing.lives import BUTTON, EVERY, OYSTER, REISHI, K, S, begin, live, tell
from tests.core.growing.timed import OYSTER as TIMED_OYSTER
from tests.core.growing.timed import SHIITAKE, stated

# Student (1908) as tabulated in Abramowitz & Stegun (1964), table 26.10, and any book since.
PUBLISHED_T = {
    0.95: {1: 6.314, 2: 2.920, 3: 2.353, 4: 2.132, 5: 2.015, 10: 1.812, 30: 1.697, 120: 1.658},
    0.975: {1: 12.706, 2: 4.303, 3: 3.182, 10: 2.228, 30: 2.042},
}


@pytest.mark.parametrize(
    ("probability", "freedom", "published"),
    [(p, n, t) for p, column in PUBLISHED_T.items() for n, t in column.items()],
)
def test_the_quantile_is_the_published_one(
    probability: float, freedom: int, published: float
) -> None:
    assert round(t_quantile(probability, freedom), 3) == published


# ------------------------------------------------------------------ the window


@pytest.mark.parametrize(
    ("low", "high", "own", "expected"),
    [
        pytest.param(12.0, 21.0, (), (12.0, 21.0, 0, 0), id="without own figures, the source"),
        pytest.param(60.0, 60.0, (), (54.0, 66.0, 0, 0), id="one figure: give or take a tenth"),
        pytest.param(4.0, 4.5, (), (3.75, 4.75, 0, 0), id="never narrower than a day"),
        pytest.param(0.0, 0.5, (), (0.0, 1.0, 0, 0), id="never below nothing"),
        pytest.param(12.0, 21.0, (2.9, 85.0), (12.0, 21.0, 0, 2), id="slips are left out"),
    ],
)
def test_the_window_without_own_figures(
    low: float, high: float, own: tuple[float, ...], expected: tuple[float, float, int, int]
) -> None:
    days = narrowed(stated(low, high), own)
    assert days is not None
    assert (days.low, days.high, days.count, days.left_out) == pytest.approx(expected)
    assert days.source == "S00"


def test_two_own_figures_by_hand() -> None:
    # k = 4, m = (2·30 + 2·26) / 4 = 28; s0 = 10 / (2.920 √1.5) = 2.796;
    # 4 s² = 2·7.819 + 2·1² + 1·16 = 33.64, s = 2.900; window = 28 ± 2.132 · 2.900 · √1.25.
    days = narrowed(stated(20.0, 40.0), (25.0, 27.0))
    assert days is not None
    assert (days.low, days.high) == pytest.approx((28.0 - 6.912, 28.0 + 6.912), abs=0.002)
    assert days.count == 2


def test_with_many_it_is_the_growers_own_spread() -> None:
    random = Random(8)  # noqa: S311 - no secret
    own = [random.gauss(25.0, 2.0) for _ in range(2000)]
    days = narrowed(stated(20.0, 40.0), own)
    assert days is not None
    # 5 % and 95 % of a normal lie 1.645 spreads out; 2000 draws tell them within 0.15 d.
    assert (days.low, days.high) == pytest.approx((25.0 - 3.29, 25.0 + 3.29), abs=0.15)


def test_a_far_grower_is_never_foretold_below_nothing() -> None:
    days = narrowed(stated(3.0, 5.0), (1.0, 15.0))
    assert days is not None
    # m = (2·4 + 1 + 15) / 4 = 6; cut to 5 - 3 + 15 - 1 = 16 days about it, then at nothing.
    assert (days.low, days.high) == (0.0, 14.0)


@pytest.mark.parametrize(
    ("own", "expected"),
    [
        # m = (2·16.5 + 40) / 3, give or take half of 21 - 12.
        pytest.param((40.0,), (24.333 - 4.5, 24.333 + 4.5), id="one moves it, never widens it"),
        # m = (2·16.5 + 20 + 40) / 4, give or take half of 21 - 12 + 40 - 20.
        pytest.param((20.0, 40.0), (23.25 - 14.5, 23.25 + 14.5), id="two: as far as they lie"),
    ],
)
def test_few_own_figures_widen_it_by_no_more_than_they_differ(
    own: tuple[float, ...], expected: tuple[float, float]
) -> None:
    days = narrowed(stated(12.0, 21.0), own)
    assert days is not None
    assert (days.low, days.high) == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize(
    "source",
    [
        pytest.param(None, id="no source"),
        pytest.param(stated(None, 9.0), id="no lower end"),
        pytest.param(stated(9.0, None), id="no upper end"),
    ],
)
def test_where_no_source_says_three_own_ones_do(source: Stated | None) -> None:
    assert narrowed(source, (8.0, 10.0)) is None
    days = narrowed(source, (8.0, 10.0, 12.0))
    assert days is not None
    # 10 ± t(0.95; 2) · 2 · √(4/3)
    assert days.high == pytest.approx(10.0 + 2.920 * 2.0 * sqrt(4 / 3), abs=0.001)
    assert (days.count, days.source) == (3, "own batches")


def test_a_figure_without_source_says_how_it_is_known() -> None:
    days = narrowed(stated(2, 4, ""), ())
    assert days is not None
    assert days.source == "common practice"


# ------------------------------------------------------------------ does it hold what it says?

_DRAWS = 8000


def _held(n: int, grower: "_Grower", low: float, high: float) -> float:
    """Return how often the window held the next batch of growers who had n."""
    random, held = Random(14 + n), 0  # noqa: S311 - no secret
    for _ in range(_DRAWS):
        mean, spread = grower(random)
        days = narrowed(stated(low, high), [random.gauss(mean, spread) for _ in range(n)])
        assert days is not None
        held += days.low <= random.gauss(mean, spread) <= days.high
    return held / _DRAWS


class _Grower:
    """A grower drawn from what the source leaves open, or always the same one."""

    def __init__(self, mean: float, spread: float, fixed: bool) -> None:
        self.mean, self.spread, self.fixed = mean, spread, fixed

    def __call__(self, random: Random) -> tuple[float, float]:
        if self.fixed:
            return self.mean, self.spread
        # s² = 2 s0² / χ²(2), mean ~ N(c, s² / 2); a χ²(2) is a gamma(1, 2).
        variance = 2.0 * self.spread**2 / random.gammavariate(1.0, 2.0)
        return random.gauss(self.mean, sqrt(variance / 2.0)), sqrt(variance)


@pytest.mark.parametrize(
    ("n", "share"), [(0, 0.90), (1, 0.87), (2, 0.89), (3, 0.90), (5, 0.90), (20, 0.90)]
)
def test_it_holds_nine_in_ten_over_growers_as_the_source_has_them(n: int, share: float) -> None:
    # Of 8000 draws a share of 0.9 is known within 0.010 (three standard errors). The range lies
    # far from nothing, so that neither slips nor ends at nothing disturb the theory.
    grower = _Grower(220.0, 20.0 / (t_quantile(0.95, 2) * sqrt(1.5)), fixed=False)
    assert _held(n, grower, 200.0, 240.0) == pytest.approx(share, abs=0.010)


@pytest.mark.parametrize(
    ("mean", "spread", "n", "least"),
    [
        pytest.param(24.0, 2.0, 0, 0.95, id="early and even, none yet"),
        pytest.param(24.0, 2.0, 2, 0.95, id="early and even, two"),
        pytest.param(24.0, 2.0, 5, 0.95, id="early and even, five"),
        pytest.param(24.0, 2.0, 20, 0.95, id="early and even, twenty"),
        pytest.param(30.0, 4.0, 2, 0.88, id="two thirds of the range, two"),
        pytest.param(30.0, 4.0, 5, 0.86, id="two thirds of the range, five"),
        pytest.param(30.0, 4.0, 20, 0.88, id="two thirds of the range, twenty"),
        # The price of the prior: who is as uneven as all growers together is held less often.
        pytest.param(30.0, 6.08, 0, 0.89, id="all of the range, none yet"),
        pytest.param(30.0, 6.08, 2, 0.79, id="all of the range, two"),
        pytest.param(30.0, 6.08, 5, 0.82, id="all of the range, five"),
        pytest.param(30.0, 6.08, 20, 0.87, id="all of the range, twenty"),
    ],
)
def test_it_holds_the_next_of_one_grower_inside_the_range(
    mean: float, spread: float, n: int, least: float
) -> None:
    assert _held(n, _Grower(mean, spread, fixed=True), 20.0, 40.0) >= least


# ------------------------------------------------------------------ what is learnt


def _learnt(*batches: Batch) -> dict[Span, tuple[float, ...]]:
    times = learnt(batches)
    return {span: times.of("any", span) for span in Span if times.of("any", span)}


def test_a_whole_life_teaches_every_stretch() -> None:
    batch = live(
        OYSTER,
        begin(),
        tell(K.WHITE, 14),
        tell(K.OPENED, 16),
        tell(K.PINNED, 20),
        tell(K.HARVESTED, 26, weight_g=300.0),
        tell(K.HARVESTED, 27, weight_g=100.0),
        tell(K.PINNED, 35),
        tell(K.HARVESTED, 39, weight_g=200.0),
        tell(K.SPENT, 45),
    )
    assert _learnt(batch) == {
        Span.COLONISING: (14.0,),
        Span.PINNING: (4.0,),
        Span.FRUITING: (6.0, 4.0),
        Span.BETWEEN: (12.0,),
        Span.WHOLE: (45.0,),
    }


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        pytest.param((), {}, id="nothing is over"),
        pytest.param(
            (tell(K.OPENED, 16),), {Span.OPENING: (16.0,)}, id="white unrecorded: an opening"
        ),
        pytest.param(
            (tell(K.WHITE, 15), tell(K.OPENED, 40)),
            {Span.COLONISING: (15.0,)},
            id="opened late: it had been white",
        ),
        pytest.param((tell(K.CONTAMINATED, 9),), {}, id="thrown out while colonising"),
        pytest.param(
            (tell(K.OPENED, 16), tell(K.PINNED, 20), tell(K.CONTAMINATED, 22)),
            {Span.OPENING: (16.0,), Span.PINNING: (4.0,)},
            id="thrown out while fruiting: what came before counts",
        ),
        pytest.param(
            (tell(K.OPENED, 16), tell(K.HARVESTED, 25, weight_g=100.0)),
            {Span.OPENING: (16.0,)},
            id="pins never told: neither pinning nor fruiting",
        ),
        pytest.param(
            (tell(K.OPENED, 16), tell(K.PINNED, 20), tell(K.RESTED, 30)),
            {Span.OPENING: (16.0,), Span.PINNING: (4.0,)},
            id="pins that came to nothing",
        ),
        pytest.param(
            (tell(K.OPENED, 16), tell(K.SOAKED, 18), tell(K.PINNED, 23)),
            {Span.OPENING: (16.0,), Span.PINNING: (5.0,)},
            id="soaked to bring on pins: from then",
        ),
        pytest.param(
            (
                tell(K.OPENED, 16),
                tell(K.PINNED, 20),
                tell(K.HARVESTED, 26, weight_g=100.0),
                tell(K.SOAKED, 33),
                tell(K.PINNED, 39),
            ),
            {Span.OPENING: (16.0,), Span.PINNING: (4.0, 6.0), Span.FRUITING: (6.0,)},
            id="soaked between flushes",
        ),
        pytest.param(
            (
                tell(K.OPENED, 16),
                tell(K.PINNED, 20),
                tell(K.STAGED, 24, stage=S.FRUITING, flush=2),
                tell(K.HARVESTED, 23, weight_g=100.0, flush=2),
            ),
            {Span.OPENING: (16.0,), Span.PINNING: (4.0,)},
            id="picked before its stage was set",
        ),
        pytest.param(
            (
                tell(K.OPENED, 16),
                tell(K.HARVESTED, 25, weight_g=100.0, flush=1),
                tell(K.HARVESTED, 35, weight_g=100.0, flush=2),
                tell(K.HARVESTED, 36, weight_g=100.0, flush=1),
            ),
            {Span.OPENING: (16.0,)},
            id="flushes that overlap are not apart",
        ),
    ],
)
def test_only_what_is_over_counts(
    told: tuple[Entry, ...], expected: dict[Span, tuple[float, ...]]
) -> None:
    assert _learnt(live(OYSTER, begin(), *told)) == expected


def test_pins_of_a_cased_species_count_from_casing() -> None:
    batch = live(
        BUTTON, begin(), tell(K.CASED, 14), tell(K.OPENED, 24), tell(K.PINNED, 28)
    )  # fmt: skip
    assert _learnt(batch) == {
        Span.OPENING: (14.0,),
        Span.CASING: (10.0,),
        Span.PINNING: (14.0,),
    }


def test_antlers_and_caps_have_stretches_of_their_own() -> None:
    batch = live(
        REISHI,
        begin(),
        tell(K.OPENED, 20),
        tell(K.OPENED, 40),
        tell(K.HARVESTED, 95, weight_g=100.0),
    )
    assert _learnt(batch) == {
        Span.OPENING: (20.0,),
        Span.ANTLER: (20.0,),
        Span.CONK: (55.0,),
    }


def test_what_was_split_off_counts_from_its_next_stretch() -> None:
    batch = live(
        OYSTER,
        begin(split_from=3),
        tell(K.STAGED, 0, stage=S.FRUITING, flush=1),
        tell(K.HARVESTED, 2, weight_g=100.0),
        tell(K.PINNED, 10),
        tell(K.HARVESTED, 15, weight_g=100.0),
        tell(K.SPENT, 20),
    )
    assert _learnt(batch) == {Span.FRUITING: (5.0,), Span.BETWEEN: (13.0,)}


def test_logs_teach_logs_alone() -> None:
    log = live(EVERY, begin(Container.LOG, None), tell(K.WHITE, 300))
    times = learnt([log])
    assert times.of("any", Span.COLONISING) == ()
    assert times.of("any", Span.COLONISING, on_logs=True) == (300.0,)


@pytest.mark.parametrize(
    ("openings", "source", "expected"),
    [
        pytest.param((16.0, 40.0), stated(12, 21), 1, id="a late one says nothing"),
        pytest.param((12.0, 21.0), stated(12, 21), 2, id="within the range"),
        pytest.param((13.0, 14.0, 15.0), stated(12, None), None, id="a range without an end"),
    ],
)
def test_an_opening_counts_only_within_the_range_of_the_source(
    openings: tuple[float, ...], source: Stated, expected: int | None
) -> None:
    stages = {S.COLONISATION: Wants(S.COLONISATION, days=source)}
    own = OwnTimes({("any", Span.OPENING, False): openings})
    days = Pace(Species("any", "Any", "", stages), own).days(Span.COLONISING)
    assert (None if days is None else days.count) == expected


def test_what_browns_is_white_before_it_is_ready() -> None:
    told = (tell(K.WHITE, 25), tell(K.OPENED, 45))
    block = live(EVERY, begin(), *told)
    block = replace(block, start=replace(block.start, species="shiitake"))
    own = learnt([block])
    pace = Pace(SHIITAKE, own)
    assert own.of("shiitake", Span.COLONISING) == ()
    # 35 to 70 days hold 14 to 28 of browning.
    white, ready = pace.stated(Span.WHITE), pace.days(Span.COLONISING)
    assert white is not None
    assert (white.low, white.high) == (21.0, 42.0)
    assert ready is not None
    assert ready.count == 1
    assert ready.low < 45.0 < ready.high
    assert Pace(Species("shiitake", "", "", {}), own).stated(Span.WHITE) is None


def test_flushes_of_one_batch_are_one_batch() -> None:
    batch = live(
        OYSTER, begin(), tell(K.OPENED, 16), tell(K.PINNED, 20),
        tell(K.HARVESTED, 26, weight_g=300.0), tell(K.PINNED, 35),
        tell(K.HARVESTED, 39, weight_g=200.0),
    )  # fmt: skip
    named = replace(TIMED_OYSTER, name="any")
    days = Pace(named, learnt([batch])).days(Span.FRUITING)
    assert days is not None
    assert days.count == 1


# ------------------------------------------------------------------ whose figure is used


@pytest.mark.parametrize(
    ("on_logs", "span", "expected"),
    [
        pytest.param(False, Span.COLONISING, (35.0, 70.0), id="a block"),
        pytest.param(True, Span.COLONISING, (183.0, 548.0), id="a log: half a year and more"),
        pytest.param(True, Span.BETWEEN, (42.0, 84.0), id="a log rests for weeks"),
        pytest.param(True, Span.PINNING, (5.0, 7.0), id="pins on a log grow as on a block"),
        pytest.param(False, Span.BETWEEN, (14.0, 21.0), id="between flushes"),
        pytest.param(False, Span.CONK, None, id="no such stage"),
        pytest.param(False, Span.WHOLE, None, id="no source says how long in all"),
    ],
)
def test_the_pace_of_blocks_and_logs(
    on_logs: bool, span: Span, expected: tuple[float, float] | None
) -> None:
    days = Pace(SHIITAKE, OwnTimes(), on_logs).days(span)
    assert (None if days is None else (days.low, days.high)) == expected
    assert LOG_COLONISING.used.mark.value == "common practice"
