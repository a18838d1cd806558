"""What lies ahead of a batch, by stage, and against published courses."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chamberwatch.core.growing.batch import Batch, Container, Entry
from chamberwatch.core.growing.due import DueKind, Window, dues
from chamberwatch.core.growing.own_times import OwnTimes, Span
from chamberwatch.core.growing.species import Species, Wants
from tests.core.growing.lives import K, S, begin, live, on, tell
from tests.core.growing.timed import (
    BUTTON,
    ENOKI,
    KING_OYSTER,
    NOTHING_OWN,
    OYSTER,
    REISHI,
    SHIITAKE,
    ahead,
    species,
    stated,
)

D = DueKind

WHITE = tell(K.WHITE, 15)
OPENED = tell(K.OPENED, 16)
PINNED = tell(K.PINNED, 20)


def pick(day: float, flush: int | None = None) -> Entry:
    return tell(K.HARVESTED, day, weight_g=100.0, flush=flush)


def log(*told: Entry, of: Species = SHIITAKE) -> Batch:
    return live(of, begin(Container.LOG, None), *told)


# ------------------------------------------------------------------ against published courses


@pytest.mark.parametrize(
    ("of", "told", "kind", "flush", "published"),
    [
        # Digest of Stamets 2000: enoki 22 to 31 days to the first harvest.
        pytest.param(ENOKI, (), D.HARVEST, 1, (22, 31), id="enoki to the first harvest"),
        # Stamets 2000: shiitake bears every 2 to 3 weeks.
        pytest.param(
            SHIITAKE, (OPENED, PINNED, pick(26)), D.FLUSH, 2, (26 + 14, 26 + 21), id="shiitake"
        ),
        # A trade note: king oyster, the second flush 13 to 15 days after the first.
        pytest.param(
            KING_OYSTER, (OPENED, PINNED, pick(26)), D.FLUSH, 2, (26 + 13, 26 + 15), id="king"
        ),
        # Stamets & Chilton 1983, p. 161: button pins 12 to 15 days after casing.
        pytest.param(
            BUTTON, (tell(K.CASED, 14),), D.PINS, 1, (14 + 12, 14 + 15), id="button after casing"
        ),
    ],
)
def test_windows_are_the_published_ones(
    of: Species,
    told: tuple[Entry, ...],
    kind: DueKind,
    flush: int,
    published: tuple[float, float],
) -> None:
    batch = live(of, begin(), *told)
    # Asked at once: what is late would be counted from today.
    day = 0.0 if not told else (told[-1].at - on(0)).days
    assert ahead(batch, of, day)[kind, flush] == published


def test_an_oyster_stays_on_the_shelf_for_as_long_as_is_reckoned() -> None:
    # Worked: pin 4 + grow 6 + two rests 10 + two more flushes 12 = 32 days for three flushes, so
    # that one block a week fills 4.6 places of a shelf (Little's law).
    low, high = ahead(live(OYSTER, begin(), OPENED), OYSTER, 16)[D.FLUSH, 3]
    stay = (low + high) / 2 - 16
    assert low - 16 <= 4 + 6 + 10 + 12 <= high - 16
    assert stay == pytest.approx(32, abs=2)
    assert stay / 7 == pytest.approx(4.6, abs=0.3)


@pytest.mark.parametrize(
    ("of", "key", "published"),
    [
        # Cayetano-Catarino et al., rice straw: three flushes of oyster in 41 to 59 days.
        pytest.param(OYSTER, (D.FLUSH, 3), (41, 59), id="three flushes of oyster"),
        # A trade note: button, the first harvest 16 to 21 days after casing on day 14.
        pytest.param(BUTTON, (D.HARVEST, 1), (14 + 16, 14 + 21), id="first button"),
        # Stamets 2000, p. 364: less than three months to the first reishi.
        pytest.param(REISHI, (D.HARVEST, 1), (0, 91), id="first reishi"),
    ],
)
def test_windows_meet_other_published_courses(
    of: Species, key: tuple[DueKind, int], published: tuple[float, float]
) -> None:
    low, high = ahead(live(of, begin()), of, 0)[key]
    assert low <= published[1]
    assert high >= published[0]


# ------------------------------------------------------------------ stage by stage


@pytest.mark.parametrize(
    ("of", "told", "day", "expected"),
    [
        pytest.param(
            OYSTER,
            (),
            0,
            {
                (D.WHITE, 0): (12, 21),
                (D.OPEN, 0): (12, 21),
                (D.PINS, 1): (15, 26),
                (D.HARVEST, 1): (19, 33),
                (D.FLUSH, 2): (26, 47),
                (D.FLUSH, 3): (33, 61),
                (D.FLUSH, 4): (40, 75),
                (D.SPENT, 0): (40, 82),
            },
            id="from the start on",
        ),
        pytest.param(
            OYSTER,
            (),
            30,
            {
                (D.WHITE, 0): (12, 21),
                (D.OPEN, 0): (12, 21),
                (D.PINS, 1): (33, 35),
                (D.HARVEST, 1): (37, 42),
                (D.FLUSH, 2): (44, 56),
                (D.FLUSH, 3): (51, 70),
                (D.FLUSH, 4): (58, 84),
                (D.SPENT, 0): (58, 91),
            },
            id="not opened in time: what follows counts from today",
        ),
        pytest.param(
            ENOKI,
            (tell(K.WHITE, 15),),
            15,
            {
                (D.OPEN, 0): (15, 22),
                (D.PINS, 1): (18, 27),
                (D.HARVEST, 1): (23, 35),
                (D.FLUSH, 2): (33, 47),
                (D.SPENT, 0): (33, 54),
            },
            id="white: a week to open it",
        ),
        pytest.param(
            ENOKI,
            (OPENED,),
            30,
            {
                (D.PINS, 1): (19, 21),
                (D.HARVEST, 1): (24, 29),
                (D.FLUSH, 2): (40, 42),
                (D.SPENT, 0): (40, 49),
            },
            id="pins may have come unseen, a picking has not",
        ),
        pytest.param(
            ENOKI,
            (OPENED, tell(K.SOAKED, 18)),
            18,
            {
                (D.PINS, 1): (21, 23),
                (D.HARVEST, 1): (26, 31),
                (D.FLUSH, 2): (36, 43),
                (D.SPENT, 0): (36, 50),
            },
            id="pins count from the soaking that was to bring them on",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED),
            20,
            {(D.HARVEST, 1): (25, 28), (D.FLUSH, 2): (35, 40), (D.SPENT, 0): (35, 47)},
            id="fruiting",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED, pick(26)),
            26,
            {(D.FLUSH, 2): (36, 38), (D.SPENT, 0): (36, 45)},
            id="resting",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED, tell(K.RESTED, 30)),
            30,
            {(D.FLUSH, 2): (40, 42), (D.SPENT, 0): (40, 49)},
            id="resting without a picking: from then",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED, pick(26), pick(37)),
            37,
            {(D.SPENT, 0): (37, 44)},
            id="all flushes given",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED, pick(26)),
            50,
            {(D.FLUSH, 2): (36, 38), (D.SPENT, 0): (50, 57)},
            id="the next flush is late",
        ),
        pytest.param(
            ENOKI,
            (OPENED, PINNED, pick(26)),
            51,
            {(D.SPENT, 0): (50, 57)},
            id="later than flushes ever are apart: given up",
        ),
        pytest.param(
            SHIITAKE,
            (OPENED, PINNED, pick(26), tell(K.SOAKED, 32)),
            70,
            {(D.PINS, 2): (37, 39), (D.SPENT, 0): (68, 75)},
            id="soaked for nothing: given up",
        ),
        pytest.param(
            OYSTER,
            (OPENED, tell(K.CONTAMINATED, 20)),
            21,
            {},
            id="thrown out",
        ),
        pytest.param(
            BUTTON,
            (),
            0,
            {
                (D.WHITE, 0): (12.6, 15.4),
                (D.CASE, 0): (12.6, 15.4),
                (D.OPEN, 0): (20.6, 27.4),
                (D.PINS, 1): (24.6, 30.4),
                (D.HARVEST, 1): (31.6, 40.4),
                (D.FLUSH, 2): (38.6, 50.4),
                (D.FLUSH, 3): (45.6, 60.4),
                (D.SPENT, 0): (45.6, 67.4),
            },
            id="button is cased, then opened",
        ),
        pytest.param(
            BUTTON,
            (tell(K.CASED, 14),),
            40,
            {
                (D.OPEN, 0): (22, 26),
                (D.PINS, 1): (40, 41),
                (D.HARVEST, 1): (47, 51),
                (D.FLUSH, 2): (54, 61),
                (D.FLUSH, 3): (61, 71),
                (D.SPENT, 0): (61, 78),
            },
            id="no pins under a closed cover",
        ),
        pytest.param(
            BUTTON,
            (tell(K.CASED, 14), tell(K.OPENED, 24)),
            24,
            {
                (D.PINS, 1): (26, 29),
                (D.HARVEST, 1): (33, 39),
                (D.FLUSH, 2): (40, 49),
                (D.FLUSH, 3): (47, 59),
                (D.SPENT, 0): (47, 66),
            },
            id="opened, its pins still count from casing",
        ),
        pytest.param(
            REISHI,
            (tell(K.OPENED, 16),),
            16,
            {
                (D.AIR, 0): (30, 44),
                (D.HARVEST, 1): (84, 110),
                (D.FLUSH, 2): (129, 170),
                (D.SPENT, 0): (129, 177),
            },
            id="antlers",
        ),
        pytest.param(
            REISHI,
            (tell(K.OPENED, 16), tell(K.OPENED, 40)),
            40,
            {(D.HARVEST, 1): (94, 106), (D.FLUSH, 2): (139, 166), (D.SPENT, 0): (139, 173)},
            id="caps",
        ),
    ],
)
def test_what_lies_ahead(
    of: Species,
    told: tuple[Entry, ...],
    day: float,
    expected: dict[tuple[DueKind, int], tuple[float, float]],
) -> None:
    assert ahead(live(of, begin(), *told), of, day) == expected


@pytest.mark.parametrize(
    ("told", "day", "expected"),
    [
        # The spawn run of 35 to 70 days holds 14 to 28 of browning.
        pytest.param(
            (),
            0,
            {(D.WHITE, 0): (21, 42), (D.BROWN, 0): (35, 70), (D.OPEN, 0): (35, 70)},
            id="white first, then brown",
        ),
        pytest.param(
            (tell(K.WHITE, 30),), 30, {(D.BROWN, 0): (44, 58), (D.OPEN, 0): (44, 58)}, id="white"
        ),
        pytest.param(
            (tell(K.WHITE, 9),),
            9,
            {(D.BROWN, 0): (35, 42), (D.OPEN, 0): (35, 42)},
            id="white early: never before the spawn run is over",
        ),
    ],
)
def test_shiitake_browns_before_it_is_opened(
    told: tuple[Entry, ...], day: float, expected: dict[tuple[DueKind, int], tuple[float, float]]
) -> None:
    found = ahead(live(SHIITAKE, begin(), *told), SHIITAKE, day)
    before = {key: window for key, window in found.items() if key[1] == 0 and key[0] != D.SPENT}
    assert before == expected
    assert found[D.PINS, 1][0] == expected[D.OPEN, 0][0] + 5


def test_what_browns_is_opened_though_no_source_says_when() -> None:
    bare = replace(SHIITAKE, stages={S.COLONISATION: Wants(S.COLONISATION)})
    found = ahead(live(bare, begin(), tell(K.WHITE, 30)), bare, 30)
    assert found == {(D.BROWN, 0): (44, 58), (D.OPEN, 0): (44, 58)}


def test_a_block_rests_before_it_is_soaked() -> None:
    # 14 to 21 days between pickings, less 5 to 7 for pins and 5 to 8 for their growth.
    found = ahead(live(SHIITAKE, begin(), OPENED, PINNED, pick(26)), SHIITAKE, 26)
    assert found[D.SOAK, 1] == (26 + 4, 26 + 6)


def test_it_rests_three_days_at_least() -> None:
    quick = replace(SHIITAKE, days_between=stated(8, 12))
    found = ahead(live(quick, begin(), OPENED, PINNED, pick(26)), quick, 26)
    assert found[D.SOAK, 1] == (26 + 3, 26 + 4)


# ------------------------------------------------------------------ figures that are missing

_NO_GROWTH = {S.COLONISATION: (10.0, 12.0), S.PINNING: (3.0, 5.0)}


@pytest.mark.parametrize(
    ("of", "told", "day", "kinds"),
    [
        pytest.param(Species("lost", "Lost", "", {}), (), 5, [], id="a species without figures"),
        pytest.param(
            species("Spawn", {S.COLONISATION: (10, 12)}),
            (),
            5,
            [D.WHITE, D.OPEN],
            id="spawn only colonises",
        ),
        pytest.param(
            Species("slow", "Slow", "", {S.COLONISATION: Wants(S.COLONISATION)}),
            (tell(K.WHITE, 15),),
            15,
            [D.OPEN],
            id="told white, that is enough to open it",
        ),
        pytest.param(
            replace(OYSTER, days_between=None),
            (OPENED, PINNED),
            20,
            [D.HARVEST],
            id="nobody says when the next flush comes",
        ),
        pytest.param(
            replace(OYSTER, days_between=None),
            (OPENED, PINNED, pick(26)),
            26,
            [],
            id="likewise, resting",
        ),
        pytest.param(
            replace(OYSTER, flushes=None),
            (OPENED, PINNED),
            20,
            [D.HARVEST],
            id="nobody says how many flushes",
        ),
        pytest.param(
            replace(OYSTER, flushes=stated(2, None)),
            (OPENED, PINNED, pick(26)),
            26,
            [D.FLUSH],
            id="nor whether there is an end",
        ),
        pytest.param(
            species("Half", _NO_GROWTH, (2, 2), (7, 9), soaked=True),
            (OPENED, tell(K.RESTED, 19)),
            19,
            [D.FLUSH, D.FLUSH, D.SPENT],
            id="when to soak can't be told",
        ),
    ],
)
def test_what_nobody_knows_is_not_due(
    of: Species, told: tuple[Entry, ...], day: float, kinds: list[DueKind]
) -> None:
    has_all = replace(
        of, stages={**OYSTER.stages, **of.stages} if told and len(of.stages) > 1 else of.stages
    )
    batch = live(has_all, begin(), *told)
    assert [due.kind for due in dues(batch, of, NOTHING_OWN, on(day))] == kinds


def test_a_stage_that_the_species_lost_has_nothing_ahead() -> None:
    batch = live(REISHI, begin(), tell(K.OPENED, 16))
    assert ahead(batch, OYSTER, 16) == {}


# ------------------------------------------------------------------ logs


@pytest.mark.parametrize(
    ("told", "day", "expected"),
    [
        pytest.param(
            (),
            0,
            {
                (D.WATER, 0): (14, 21),
                (D.WHITE, 0): (183, 548),
            },
            id="new: half a year to one and a half",
        ),
        pytest.param(
            (tell(K.RAINED, 30),),
            600,
            {
                # 44 and 39 times 14 days.
                (D.WATER, 0): (590, 597),
                (D.WHITE, 0): (183, 548),
            },
            id="nobody told of it for long: water it from now",
        ),
        pytest.param(
            (tell(K.SOAKED, 50), tell(K.WHITE, 300)),
            310,
            {
                (D.WATER, 0): (302, 309),
                (D.SOAK, 0): (300, 384),
            },
            id="white through: it may be soaked",
        ),
        pytest.param(
            (tell(K.WHITE, 300), tell(K.SOAKED, 320)),
            330,
            {(D.WATER, 0): (334, 341), (D.PINS, 1): (325, 327), (D.HARVEST, 1): (330, 335)},
            id="soaked: pins within days",
        ),
        pytest.param(
            (tell(K.WHITE, 300), tell(K.SOAKED, 320), tell(K.PINNED, 326), pick(332)),
            900,
            {
                (D.WATER, 1): (894, 901),
                (D.SOAK, 1): (332 + 32, 332 + 69),
            },
            id="rests for weeks, bears for years, is never given up",
        ),
        pytest.param(
            (tell(K.PINNED, 326), pick(332), tell(K.SOAKED, 370)),
            370,
            {(D.WATER, 1): (384, 391), (D.PINS, 2): (375, 377), (D.HARVEST, 2): (380, 385)},
            id="soaked for the next flush: pins within days",
        ),
    ],
)
def test_logs(
    told: tuple[Entry, ...],
    day: float,
    expected: dict[tuple[DueKind, int], tuple[float, float]],
) -> None:
    assert ahead(log(*told), SHIITAKE, day) == expected


def test_a_log_of_a_kind_that_is_not_soaked_waits_for_rain() -> None:
    batch = log(tell(K.WHITE, 300), of=OYSTER)
    assert set(ahead(batch, OYSTER, 310)) == {(D.WATER, 0)}


@pytest.mark.parametrize(
    ("container", "chamber", "told", "expected"),
    [
        pytest.param(Container.TRAY, None, (), {D.WHITE}, id="a bed: the season decides"),
        pytest.param(Container.TRAY, None, (tell(K.WHITE, 30),), set(), id="it needs no opening"),
        pytest.param(
            Container.TRAY, None, (tell(K.PINNED, 60),), {D.HARVEST}, id="its pins are there"
        ),
        pytest.param(
            Container.TRAY, None, (tell(K.PINNED, 60), pick(70)), set(), id="no date for the next"
        ),
        pytest.param(
            Container.TRAY,
            "tent",
            (),
            {D.WHITE, D.OPEN, D.PINS, D.HARVEST, D.FLUSH, D.SPENT},
            id="in a chamber it goes by its air",
        ),
    ],
)
def test_a_bed_outdoors_bears_when_the_weather_suits(
    container: Container, chamber: str | None, told: tuple[Entry, ...], expected: set[DueKind]
) -> None:
    bed = live(OYSTER, begin(container, chamber), *told)
    bed = replace(bed, start=replace(bed.start, species="wine-cap"))
    found = dues(bed, OYSTER, NOTHING_OWN, on(400))
    assert {due.kind for due in found} == expected


def test_a_log_in_a_chamber_is_not_rained_on() -> None:
    indoors = live(SHIITAKE, begin(Container.LOG, "tent"))
    assert (D.WATER, 0) not in ahead(indoors, SHIITAKE, 20)


# ------------------------------------------------------------------ whose figures, which name


def test_a_due_says_on_what_it_rests() -> None:
    own = OwnTimes(
        {
            ("any", Span.PINNING, False): (4.0, 4.0, 5.0),
            ("any", Span.FRUITING, False): (6.0,),
        }
    )
    named = replace(OYSTER, name="any", days_between=stated(7, 14, ""))
    batch = live(named, begin(), OPENED)
    found = {(d.kind, d.flush): (d.count, d.source) for d in dues(batch, named, own, on(16))}
    assert found[D.PINS, 1] == (3, "S00")
    assert found[D.HARVEST, 1] == (1, "S00"), "that of which least is known"
    assert found[D.FLUSH, 2] == (0, "S00; common practice")
    pins = ahead(batch, named, 16, own)[D.PINS, 1]
    assert 16 + 3 < pins[0] < 16 + 4.3 < pins[1] < 16 + 5.5


def test_a_due_keeps_its_name_while_its_window_moves() -> None:
    resting = live(SHIITAKE, begin(), OPENED, PINNED, pick(26))
    fruiting = live(SHIITAKE, begin(), OPENED, PINNED, pick(26), tell(K.PINNED, 36))
    before = [due.key for due in dues(resting, SHIITAKE, NOTHING_OWN, on(26))]
    after = [due.key for due in dues(fruiting, SHIITAKE, NOTHING_OWN, on(40))]
    assert before[:2] == ["soak-14-1", "harvest-14-2"]
    assert before[-1] == "clear-out-14"
    assert after == before[1:]


def test_every_dry_spell_has_a_name_of_its_own() -> None:
    keys = [dues(log(*told), SHIITAKE, NOTHING_OWN, on(day))[0].key for told, day in _DRY_SPELLS]
    # The day before the next is asked for, it is still the first that waits.
    assert keys == ["water-14-2026-11-15"] * 2 + ["water-14-2026-11-29", "water-14-2026-12-15"]


_DRY_SPELLS: tuple[tuple[tuple[Entry, ...], float], ...] = (
    ((), 0),
    ((), 27),
    ((), 28),
    ((tell(K.RAINED, 30),), 40),
)


@given(
    of=st.sampled_from([OYSTER, SHIITAKE, ENOKI, REISHI, KING_OYSTER, BUTTON]),
    container=st.sampled_from(Container),
    day=st.floats(0, 800),
)
def test_whatever_the_day_windows_are_windows(
    of: Species, container: Container, day: float
) -> None:
    batch = live(of, begin(container, None))
    found = dues(batch, of, NOTHING_OWN, on(day))
    lows = [due.window.low for due in found]
    assert lows == sorted(lows)
    assert all(due.window.low <= due.window.high for due in found)
    assert len({due.key for due in found}) == len(found)


def test_a_window_is_cut_off_at_a_time() -> None:
    window = Window(on(3), on(8))
    assert window.not_before(on(5)) == Window(on(5), on(8))
    assert window.not_before(on(9)) == Window(on(9), on(9))
