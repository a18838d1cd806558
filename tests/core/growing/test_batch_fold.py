"""What a batch is after its entries: each cell of the table, lives, corrections, refusals."""

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any, Unpack

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import (
    Container,
    Entry,
    EntryKind,
    by_batch,
    harvested_g,
)
from chamberwatch.core.growing.corrections import beginning, effective
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.species import Species
from chamberwatch.core.growing.telling import check_next
from tests.core.growing.lives import (
    BUTTON,
    EVERY,
    OYSTER,
    REISHI,
    SPAWN,
    K,
    S,
    Told,
    begin,
    flush_weights_g,
    live,
    numbered,
    on,
    path,
    start,
    tell,
)
from tests.make import at

TOLD: dict[EntryKind, Told] = {
    K.STARTED: {"start": start()},
    K.SPLIT: {"count": 1, "other": 15},
    K.HARVESTED: {"weight_g": 300.0},
    K.STAGED: {"stage": S.RESTING},
    K.LOOKED: {"sign": "long stems"},
}
SHORT = {
    "col": S.COLONISATION,
    "case": S.CASE_RUN,
    "pin": S.PINNING,
    "fru": S.FRUITING,
    "ant": S.ANTLER,
    "con": S.CONK,
    "rest": S.RESTING,
    "spent": S.SPENT,
    "cont": S.CONTAMINATED,
}

# A bag of a species that has every stage. Down: what is told; across: the stage that it is in.
# "=": the stage stays; "no": refused.
BAG = """
              col    case   pin    fru    ant    con    rest   spent  cont
STARTED       no     no     no     no     no     no     no     no     no
MOVED         =      =      =      =      =      =      =      no     no
SPLIT         =      =      =      =      =      =      =      no     no
WHITE         =      no     no     no     no     no     no     no     no
CASED         case   no     no     no     no     no     no     no     no
OPENED        pin    pin    no     no     con    no     no     no     no
PINNED        no     no     fru    no     =      no     fru    no     no
HARVESTED     no     no     rest   rest   rest   rest   rest   no     no
RESTED        no     no     rest   rest   rest   rest   no     no     no
SOAKED        no     no     =      no     no     no     pin    no     no
RAINED        =      =      =      =      =      =      =      no     no
STAGED        rest   rest   rest   rest   rest   rest   rest   no     no
LOOKED        =      =      =      =      =      =      =      =      =
NOTED         =      =      =      =      =      =      =      =      =
CONTAMINATED  cont   cont   cont   cont   cont   cont   cont   no     no
SPENT         spent  spent  spent  spent  spent  spent  spent  no     no
"""

# Where a log differs: nothing is sealed, and it is watered at any time.
LOG = """
              col    case   pin    fru    ant    con    rest   spent  cont
PINNED        fru    no     fru    no     =      no     fru    no     no
HARVESTED     rest   no     rest   rest   rest   rest   rest   no     no
SOAKED        =      no     =      =      =      =      pin    no     no
"""


def cells(grid: str, container: Container) -> list[Any]:
    head, *rows = (line.split() for line in grid.strip().splitlines())
    return [
        pytest.param(
            container, SHORT[column], K[row[0]], cell, id=f"{row[0]}-{column}-{container}"
        )
        for row in rows
        for column, cell in zip(head, row[1:], strict=True)
    ]


@pytest.mark.parametrize(
    ("container", "stage", "kind", "cell"),
    [*cells(BAG, Container.BAG), *cells(LOG, Container.LOG)],
)
def test_each_cell(container: Container, stage: Stage, kind: EntryKind, cell: str) -> None:
    chamber = "tent" if kind is K.MOVED else None
    entries = [begin(container, chamber, count=3)]
    if stage in (S.SPENT, S.CONTAMINATED):
        entries.append(tell(K(stage.value), 2))
    elif stage is not S.COLONISATION:
        entries.append(tell(K.STAGED, 2, stage=stage))
    then = tell(kind, 9, **TOLD.get(kind, {}))
    if cell == "no":
        with pytest.raises(RefusedError, match=r"^Batch 14 was .* on .*; .*\. .*orrect"):
            live(EVERY, *entries, then)
        return
    before = live(EVERY, *entries)
    batch = live(EVERY, *entries, then)
    assert before.stage is stage
    assert batch.stage is (stage if cell == "=" else SHORT[cell])
    if cell != "=" and batch.stage is not stage:
        assert (batch.stages[-2].until, batch.since) == (on(9), on(9))


def picked(day: float, weight_g: float, flush: int | None = None) -> Entry:
    return tell(K.HARVESTED, day, weight_g=weight_g, flush=flush)


def staged(day: float, stage: Stage, flush: int | None = None) -> Entry:
    return tell(K.STAGED, day, stage=stage, flush=flush)


@pytest.mark.parametrize(
    ("of", "container", "told", "lived", "weights"),
    [
        pytest.param(
            OYSTER,
            Container.BAG,
            [
                tell(K.WHITE, 14),
                tell(K.OPENED, 15),
                tell(K.PINNED, 19),
                picked(24, 200.0),
                picked(26, 100.0),
                tell(K.SOAKED, 34),
                tell(K.PINNED, 38),
                tell(K.RESTED, 40),
                tell(K.PINNED, 45),
                picked(50, 90.0),
                tell(K.SPENT, 51),
            ],
            "colonisation 0, pinning 0, fruiting 1, resting 1, pinning 1, fruiting 2, resting 2, "
            "fruiting 3, resting 3, spent 3",
            {1: 300.0, 3: 90.0},
            id="oyster, a flush that came to nothing",
        ),
        pytest.param(
            OYSTER,
            Container.BAG,
            [tell(K.OPENED, 15), picked(22, 200.0), picked(26, 40.0), picked(31, 90.0)],
            "colonisation 0, pinning 0, resting 1, resting 2",
            {1: 240.0, 2: 90.0},
            id="pins never told: four days are one flush, five are two",
        ),
        pytest.param(
            OYSTER,
            Container.BAG,
            [staged(15, S.RESTING), picked(16, 50.0)],
            "colonisation 0, resting 0, resting 1",
            {1: 50.0},
            id="no flush before the first",
        ),
        pytest.param(
            OYSTER,
            Container.BAG,
            [tell(K.OPENED, 1), tell(K.PINNED, 5), tell(K.RESTED, 9), picked(12, 50.0)],
            "colonisation 0, pinning 0, fruiting 1, resting 1",
            {1: 50.0},
            id="picked after it was told to rest",
        ),
        pytest.param(
            OYSTER,
            Container.BAG,
            [
                *(tell(K.OPENED, 1), tell(K.PINNED, 5), picked(9, 50.0), tell(K.PINNED, 20)),
                *(picked(21, 5.0, 1), picked(22, 60.0, 3), tell(K.SOAKED, 30)),
                picked(31, 7.0, 3),
            ],
            "colonisation 0, pinning 0, fruiting 1, resting 1, fruiting 2, resting 3, pinning 3",
            {1: 55.0, 3: 67.0},
            id="flush as told; a late weighing ends nothing",
        ),
        pytest.param(
            REISHI,
            Container.BAG,
            [
                *(tell(K.OPENED, 20), tell(K.PINNED, 22), tell(K.OPENED, 40), picked(100, 80.0)),
                *(tell(K.SOAKED, 110), staged(130, S.CONK), picked(160, 40.0)),
            ],
            "colonisation 0, antler 1, conk 1, resting 1, antler 2, conk 2, resting 2",
            {1: 80.0, 2: 40.0},
            id="reishi: caps are of the flush of their antlers",
        ),
        pytest.param(
            REISHI,
            Container.BAG,
            [tell(K.OPENED, 20), picked(40, 30.0), tell(K.PINNED, 60)],
            "colonisation 0, antler 1, resting 1, antler 2",
            {1: 30.0},
            id="reishi picked as antlers",
        ),
        pytest.param(
            BUTTON,
            Container.TRAY,
            [tell(K.CASED, 14), tell(K.OPENED, 24), tell(K.PINNED, 30), picked(36, 500.0)],
            "colonisation 0, case run 0, pinning 0, fruiting 1, resting 1",
            {1: 500.0},
            id="button",
        ),
        pytest.param(
            OYSTER,
            Container.BUCKET,
            [tell(K.PINNED, 20), picked(25, 400.0)],
            "colonisation 0, fruiting 1, resting 1",
            {1: 400.0},
            id="pins come out of a bucket by themselves",
        ),
        pytest.param(
            OYSTER,
            Container.BAG,
            [
                *(staged(15, S.PINNING, 2), tell(K.PINNED, 18), staged(19, S.PINNING)),
                *(staged(20, S.FRUITING), picked(21, 9.0), staged(22, S.FRUITING, 2)),
                *(staged(23, S.PINNING), staged(24, S.RESTING, 4), staged(25, S.FRUITING)),
            ],
            "colonisation 0, pinning 1, fruiting 2, pinning 1, fruiting 2, resting 2, fruiting 2, "
            "pinning 2, resting 4, fruiting 5",
            {2: 9.0},
            id="set by hand, back and forth",
        ),
    ],
)
def test_lives(
    of: Species, container: Container, told: list[Entry], lived: str, weights: dict[int, float]
) -> None:
    batch = live(of, begin(container), *told)
    assert ", ".join(f"{stage} {flush}" for stage, flush in path(batch)) == lived
    assert flush_weights_g(batch) == weights
    assert harvested_g(batch) == sum(weights.values())


def test_a_sealed_bag_opens_and_can_be_found_never_to_have_been() -> None:
    told = [begin(), tell(K.WHITE, 3), tell(K.WHITE, 4), tell(K.OPENED, 5), staged(6, S.FRUITING)]
    opened = live(OYSTER, *told)
    assert (opened.sealed, opened.open, opened.opened_at) == (False, True, on(5))
    assert opened.white_at == on(3)
    closed = live(OYSTER, *told, staged(7, S.COLONISATION))
    assert (closed.sealed, closed.open, closed.opened_at) == (True, False, None)
    assert (closed.flush, live(OYSTER, begin(), staged(7, S.FRUITING)).opened_at) == (0, on(7))


def test_it_stands_where_it_was_moved_and_nowhere_after_the_end() -> None:
    told = [
        begin(),
        tell(K.MOVED, 3, chamber="shed", shelf="top"),
        tell(K.MOVED, 5),
        tell(K.MOVED, 7, chamber="tent", shelf="low"),
    ]
    stands = live(OYSTER, *told)
    assert (stands.chamber, stands.shelf, stands.placed) == ("tent", "low", on(7))
    assert stands.ended is None
    ended = live(OYSTER, *told, tell(K.SPENT, 9), tell(K.NOTED, 12, note="on the compost"))
    assert (ended.chamber, ended.shelf, ended.placed) == (None, None, on(9))
    assert (ended.ended, ended.open) == (on(9), False)
    assert ended.chambers == ("tent", "shed")


def test_logs_outdoors_are_wetted_by_soaking_and_by_rain() -> None:
    told = [begin(Container.LOG, None), tell(K.SOAKED, 200), tell(K.RAINED, 220)]
    batch = live(OYSTER, *told)
    assert (batch.soaked_at, batch.wetted_at) == (on(200), on(220))
    assert (batch.stage, batch.chambers) == (S.COLONISATION, ())
    under_cover = live(OYSTER, begin(Container.LOG), tell(K.RAINED, 4))
    assert under_cover.wetted_at == on(4)


TENT = numbered(begin(count=2), tell(K.OPENED, 10), tell(K.PINNED, 14), picked(20, 900.0))


def again(old: Entry, number: int, day: float | None = None, **changed: Unpack[Told]) -> Entry:
    at = old.at if day is None else on(day)
    return replace(replace(old, **changed), id=number, corrects=old.id, at=at)


@pytest.mark.parametrize(
    ("more", "weights", "opened"),
    [
        pytest.param([again(TENT[3], 5, weight_g=90.0)], [90.0], 10, id="a weight"),
        pytest.param(
            [again(TENT[3], 5, weight_g=90.0), replace(TENT[3], id=6, corrects=5, weight_g=95.0)],
            [95.0],
            10,
            id="a correction corrected",
        ),
        pytest.param([again(TENT[1], 5, 12)], [900.0], 12, id="a time"),
        pytest.param([tell(K.WITHDRAWN, 30, 5, corrects=4)], [], 10, id="withdrawn"),
        pytest.param(
            [again(TENT[3], 5, weight_g=90.0), tell(K.WITHDRAWN, 30, 6, corrects=5)],
            [],
            10,
            id="a correction withdrawn: it did not happen",
        ),
        pytest.param([picked(18, 100.0)], [100.0, 900.0], 10, id="told late, put in its place"),
    ],
)
def test_corrections_stand_in_place(more: list[Entry], weights: list[float], opened: int) -> None:
    told = [*TENT, *(replace(entry, id=entry.id or 5) for entry in more)]
    batch = fold(told[::-1], OYSTER)
    assert [harvest.weight_g for harvest in batch.harvests] == weights
    assert batch.opened_at == on(opened)
    assert fold(told, OYSTER) == batch


def test_a_corrected_start_stays_before_what_happened_at_the_same_time() -> None:
    told = numbered(begin(), staged(0, S.FRUITING, 2))
    better = again(told[0], 3, start=start(strain="cold"))
    assert [entry.id for entry in effective((*told, better))] == [3, 2]
    assert beginning((*told, better)) == better
    batch = fold((*told, better), OYSTER)
    assert (batch.start.strain, batch.stage, batch.flush) == ("cold", S.FRUITING, 2)


SPENT = (begin(), tell(K.SPENT, 2))
OPEN = (begin(count=3), tell(K.OPENED, 10))


@pytest.mark.parametrize(
    ("of", "told", "says"),
    [
        pytest.param(
            OYSTER,
            [*SPENT, picked(5, 300.0)],
            "Batch 14 was spent on 3 November; nothing can be harvested from it. "
            "Correct that entry first if it was wrong.",
            id="after the end",
        ),
        pytest.param(
            OYSTER,
            [begin(), tell(K.CONTAMINATED, 2), tell(K.MOVED, 3)],
            "Batch 14 was told to be contaminated on 3 November; it can't be moved.",
            id="thrown out",
        ),
        pytest.param(
            OYSTER, [begin(), tell(K.PINNED, 3)], "Tell first that it was opened", id="in"
        ),
        pytest.param(BUTTON, [begin(), tell(K.CASED, 3), picked(9, 5.0)], "fresh air", id="cased"),
        pytest.param(OYSTER, [*OPEN, tell(K.OPENED, 12)], "It is open already", id="open"),
        pytest.param(
            OYSTER, [*OPEN, staged(11, S.RESTING), tell(K.RESTED, 12)], "already", id="r"
        ),
        pytest.param(
            OYSTER,
            [begin(), tell(K.CASED, 3)],
            "Oyster has no case run, so it can't be cased (batch 14). Its stages are "
            "colonisation, pinning, fruiting; tell which of them began instead.",
            id="no case run",
        ),
        pytest.param(
            SPAWN,
            [begin(), tell(K.OPENED, 3)],
            "Spawn has no pinning or antler or fruiting or conk, so it can't be opened",
            id="never opened",
        ),
        pytest.param(OYSTER, [begin(), staged(3, S.ANTLER)], "Oyster has no antler", id="antler"),
        pytest.param(
            OYSTER, [begin(), staged(3, S.SPENT)], "told “spent”, not by", id="end by hand"
        ),
        pytest.param(OYSTER, [*OPEN, tell(K.RAINED, 12)], "stood in tent on 13 Nov", id="rain"),
        pytest.param(OYSTER, [], "Start it first", id="nothing"),
        pytest.param(OYSTER, [tell(K.OPENED, 3)], "was never started", id="no start"),
        pytest.param(
            OYSTER,
            [begin(), tell(K.OPENED, -1)],
            "started on 1 November, so “opened” can't have been on 31 October",
            id="before the start",
        ),
        pytest.param(
            OYSTER, [begin(), tell(K.NOTED, 1, batch=15)], "more than one batch", id="two"
        ),
        pytest.param(OYSTER, [begin(), begin()], "Correct its first start", id="two starts"),
        pytest.param(OYSTER, [*OPEN, picked(12, 0.0)], "more than nothing, not 0 g", id="0 g"),
        pytest.param(OYSTER, [*OPEN, picked(12, float("nan"))], "not nan g", id="nan"),
        pytest.param(OYSTER, [*OPEN, picked(12, 5.0, 0)], "numbered 1 to 20, not 0", id="flush 0"),
        pytest.param(OYSTER, [*OPEN, staged(12, S.FRUITING, 21)], "not 21", id="flush 21"),
        pytest.param(
            OYSTER,
            [*OPEN, picked(12, 5.0, 3), staged(13, S.PINNING, 3)],
            "Flush 3 of batch 14 was weighed already. Give a later flush",
            id="back behind a weighing",
        ),
        pytest.param(
            OYSTER,
            [*OPEN, picked(12, 5.0), staged(13, S.COLONISATION)],
            "no flush before the end of colonisation",
            id="colonising after a harvest",
        ),
        pytest.param(
            BUTTON, [begin(), staged(3, S.CASE_RUN, 1)], "before the end of case run", id="c"
        ),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.SPLIT, 12, count=3, other=15)],
            "Batch 14 had 3 left, so 3 can't go. Take out 1 to 2, or move all of it.",
            id="all of it",
        ),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.SPLIT, 12, count=1, other=15), tell(K.SPLIT, 13, count=2, other=16)],
            "Batch 14 had 2 left, so 2 can't go. Take out 1, or move all of it.",
            id="both of two",
        ),
        pytest.param(
            OYSTER, [*OPEN, tell(K.SPLIT, 12, count=0, other=15)], "so 0 can't", id="none"
        ),
        pytest.param(OYSTER, [begin(), tell(K.SPLIT, 1, count=1, other=15)], "of one", id="one"),
        pytest.param(OYSTER, [*OPEN, tell(K.SPLIT, 12, count=1, other=14)], "itself", id="itself"),
        pytest.param(OYSTER, [tell(K.STARTED, 0)], "needs what was started", id="no facts"),
        pytest.param(OYSTER, [*OPEN, tell(K.HARVESTED, 12)], "needs the weight", id="no weight"),
        pytest.param(OYSTER, [*OPEN, tell(K.STAGED, 12)], "needs the stage", id="no stage"),
        pytest.param(OYSTER, [*OPEN, tell(K.SPLIT, 12, other=15)], "how many", id="no count"),
        pytest.param(OYSTER, [*OPEN, tell(K.SPLIT, 12, count=1)], "the batch that", id="no other"),
        pytest.param(OYSTER, [*OPEN, tell(K.LOOKED, 12)], "needs the sign", id="no sign"),
        pytest.param(OYSTER, [begin(), tell(K.WITHDRAWN, 3)], "give its number", id="of nothing"),
        pytest.param(OYSTER, [*OPEN, tell(K.WITHDRAWN, 3, corrects=9)], "Entry 9 is none", id="9"),
        pytest.param(OYSTER, [*OPEN, tell(K.OPENED, 3, corrects=3)], "Entry 3 is none", id="self"),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.OPENED, 3, corrects=4), tell(K.OPENED, 3, corrects=3)],
            "Entry 4 is none of the earlier",
            id="in a circle",
        ),
        pytest.param(
            OYSTER,
            [begin(), tell(K.NOTED, 1, batch=15), tell(K.NOTED, 1, corrects=2)],
            "none of the earlier entries of batch 14",
            id="of another batch",
        ),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.WITHDRAWN, 3, corrects=2), tell(K.WITHDRAWN, 3, corrects=3)],
            "Tell that one again, as a new entry",
            id="withdrawal withdrawn",
        ),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.OPENED, 9, corrects=2), tell(K.OPENED, 8, corrects=2)],
            "Entry 2 was corrected already, by entry 3. Correct the newest",
            id="corrected twice",
        ),
        pytest.param(
            OYSTER,
            [*OPEN, *[tell(K.WITHDRAWN, 3, corrects=2)] * 2],
            "Entry 2 was withdrawn already. If it did happen",
            id="withdrawn twice",
        ),
        pytest.param(
            OYSTER, [begin(), tell(K.WITHDRAWN, 1, corrects=1)], "start can't be", id="w"
        ),
        pytest.param(
            OYSTER,
            [*OPEN, tell(K.SPENT, 10, corrects=2)],
            "Entry 2 told “opened” and can't become “spent”. Withdraw it",
            id="another kind",
        ),
    ],
)
def test_refusals_say_what_would_work(of: Species, told: list[Entry], says: str) -> None:
    with pytest.raises(RefusedError, match=re.escape(says)):
        live(of, *told)


WEIGHED = begin(wet_g=1000.0)


@pytest.mark.parametrize(
    ("first", "new", "says"),
    [
        pytest.param(begin(), tell(K.OPENED, 31), "That time is in the future. Give", id="later"),
        pytest.param(
            begin(), tell(K.OPENED, 3, weight_g=5.0), "“opened” has no weight", id="weight"
        ),
        pytest.param(begin(), tell(K.NOTED, 3, sign="x"), "Leave the sign out", id="sign"),
        pytest.param(begin(), tell(K.MOVED, 3, shelf="top"), "Name its chamber", id="shelf"),
        pytest.param(begin(), tell(K.OPENED, -3), "can't have been on 29 October", id="early"),
        pytest.param(
            WEIGHED,
            picked(12, 4001.0),
            "4.00 kg can't be: the whole wet substrate weighed 1.00 kg. Check",
            id="4 x wet",
        ),
        pytest.param(
            begin(container=Container.TRAY),
            tell(K.PINNED, 9),
            "“pinned” on 10 November does not fit what was told after it. Batch 14 was in fruit",
            id="before it was opened",
        ),
        pytest.param(begin(), picked(12, 50001.0), "no home batch gives that", id="over 50 kg"),
        pytest.param(WEIGHED, picked(12, float("inf")), "Check the unit", id="endless"),
        pytest.param(None, begin(count=0), "at least one sealed bag, not 0", id="none"),
        pytest.param(None, begin(wet_g=0.0), "can't weigh 0 g", id="weightless"),
        pytest.param(None, begin(dry_g=float("nan")), "can't weigh nan g", id="nan"),
        pytest.param(None, begin(moisture_pct=100.0), "between 0 and 100 %, not 100", id="water"),
        pytest.param(None, begin(wet_g=90.0, dry_g=91.0), "Were they exchanged", id="exchanged"),
        pytest.param(begin(), picked(12, 0.9), "0.9 g is less than a scale", id="kilograms"),
        pytest.param(None, begin(count=1001), "at most 1000", id="many"),
        pytest.param(None, begin(moisture_pct=90.1), "would drip", id="soup"),
        pytest.param(None, begin(moisture_pct=0.62), "Did you mean 62 %?", id="a share"),
        pytest.param(None, begin(moisture_pct=29.9), "55 to 75 % is usual. Give", id="dry"),
        pytest.param(
            begin(dry_g=350.0), picked(12, 4001.0), "dry substrate weighed 350 g", id="4 x dry"
        ),
        pytest.param(None, begin(count=2, wet_g=19.9), "9.95 g of substrate in one", id="light"),
        pytest.param(None, begin(dry_g=200_001.0), "check the unit", id="a lorry"),
        pytest.param(None, replace(begin(), note="x" * 2001), "shorten it", id="a long note"),
    ],
)
def test_what_makes_no_sense_is_refused(first: Entry | None, new: Entry, says: str) -> None:
    before = () if first is None else numbered(first, tell(K.OPENED, 10))
    with pytest.raises(RefusedError, match=re.escape(says)):
        check_next(before, new, OYSTER, on(30))


@pytest.mark.parametrize(
    ("new", "field"),
    [
        pytest.param(begin(count=0), "count", id="none"),
        pytest.param(begin(count=1001), "count", id="many"),
        pytest.param(begin(moisture_pct=100.0), "moisture_pct", id="water"),
        pytest.param(begin(moisture_pct=90.1), "moisture_pct", id="soup"),
        pytest.param(begin(moisture_pct=29.9), "moisture_pct", id="dry"),
        pytest.param(begin(wet_g=0.0), "wet_g", id="weightless"),
        pytest.param(begin(count=2, dry_g=19.9), "dry_g", id="light"),
        pytest.param(begin(wet_g=90.0, dry_g=91.0), "dry_g", id="exchanged"),
        pytest.param(replace(begin(), note="x" * 2001), "", id="no one fact"),
    ],
)
def test_a_refusal_names_what_it_is_about(new: Entry, field: str) -> None:
    with pytest.raises(RefusedError) as refused:
        check_next((), new, OYSTER, on(30))
    assert refused.value.field == field


def test_all_weighings_together_are_held_against_what_was_filled() -> None:
    told = numbered(WEIGHED, tell(K.OPENED, 10), picked(12, 2000.0), picked(13, 1500.0))
    says = "4.40 kg would have been picked of batch 14, which can't be: the whole wet"
    with pytest.raises(RefusedError, match=re.escape(says)):
        check_next(told, picked(14, 900.0), OYSTER, on(30))
    # A correction counts in the place of what it corrects; the last gram is still taken.
    mended = check_next(told, replace(picked(13, 2000.0), corrects=4), OYSTER, on(30))
    assert harvested_g(mended) == 4000.0


@pytest.mark.parametrize(
    ("first", "new"),
    [
        pytest.param(
            begin(), replace(tell(K.NOTED, 30), at=on(30) + timedelta(minutes=2)), id="t"
        ),
        pytest.param(begin(), tell(K.MOVED, 3), id="out of all chambers"),
        pytest.param(WEIGHED, picked(12, 4000.0), id="four times the wet weight"),
        pytest.param(begin(), picked(12, 50000.0), id="50 kg"),
        pytest.param(begin(), picked(12, 1.0), id="1 g"),
        pytest.param(None, begin(wet_g=20.0, dry_g=20.0, count=2), id="a start"),
        pytest.param(None, begin(dry_g=200_000.0, moisture_pct=90.0), id="as much as can be"),
        pytest.param(None, replace(begin(count=1000), note="x" * 2000), id="as many as can be"),
        pytest.param(None, begin(moisture_pct=62.0, wet_g=2270.0), id="a start with moisture"),
        pytest.param(None, begin(moisture_pct=30.0), id="as dry as can be"),
        pytest.param(begin(dry_g=350.0), picked(12, 3999.0), id="four times by the dry weight"),
        pytest.param(begin(), again(TENT[0], 0, -2), id="a start corrected"),
    ],
)
def test_what_can_have_happened_is_taken(first: Entry | None, new: Entry) -> None:
    before = () if first is None else numbered(first, tell(K.OPENED, 10))
    batch = check_next(before, new, OYSTER, on(30))
    assert batch == fold((*before, replace(new, id=len(before) + 1)), OYSTER)


def test_entries_by_batch_keep_their_order() -> None:
    one, other, later = (
        Entry(number, batch, EntryKind.NOTED, at(0), at(0), "page")
        for number, batch in ((1, 2), (2, 1), (3, 2))
    )
    assert by_batch([one, other, later]) == {2: [one, later], 1: [other]}
