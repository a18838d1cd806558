"""What is taken out of a batch: its share, and the past that it has in common with the rest."""

from datetime import datetime
from typing import Unpack

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind, Start, dry_g
from chamberwatch.core.growing.corrections import as_of
from chamberwatch.core.growing.splitting import carried, split_past, split_start
from tests.core.growing.lives import (
    BUTTON,
    OYSTER,
    Facts,
    K,
    S,
    begin,
    live,
    numbered,
    on,
    start,
    tell,
)


def shared(**told: Unpack[Facts]) -> Batch:
    told.setdefault("count", 4)
    return live(OYSTER, begin(**told), tell(K.SPLIT, 3, count=1, other=15))


def test_a_split_shares_weights_and_line() -> None:
    left = shared(wet_g=2270.0, moisture_pct=62.0, parent=7, strain="cold")
    assert dry_g(left) == pytest.approx(862.6 * 3 / 4)
    out = split_start(left, 2)
    assert out == Start(
        "any",
        Container.BAG,
        count=2,
        strain="cold",
        wet_g=1135.0,
        moisture_pct=62.0,
        parent=7,
        split_from=14,
    )
    assert out.substrate_dry_g == pytest.approx(431.3)
    assert split_start(shared(dry_g=800.0), 1).dry_g == 200.0
    assert dry_g(shared()) is None
    with pytest.raises(RefusedError, match="Take out 1 to 2"):
        split_start(left, 3)


def picked(day: float, flush: int | None = None) -> Entry:
    return tell(K.HARVESTED, day, weight_g=90.0, flush=flush)


def rest(day: float, flush: int) -> tuple[EntryKind, datetime, str, int]:
    return K.STAGED, on(day), S.RESTING, flush


def plain(kind: EntryKind, day: float) -> tuple[EntryKind, datetime, None, None]:
    return kind, on(day), None, None


@pytest.mark.parametrize(
    ("whole", "part"),
    [
        pytest.param([], [], id="nothing yet"),
        pytest.param(
            [tell(K.WHITE, 8, note="slow"), tell(K.CASED, 9), tell(K.OPENED, 10),
             tell(K.PINNED, 14), tell(K.RESTED, 20), tell(K.SOAKED, 21), tell(K.RAINED, 22)],
            [plain(K.WHITE, 8), plain(K.CASED, 9), plain(K.OPENED, 10), plain(K.PINNED, 14),
             plain(K.RESTED, 20), plain(K.SOAKED, 21), plain(K.RAINED, 22)],
            id="what happened to all of it, without the words",
        ),
        pytest.param(
            [tell(K.MOVED, 3, chamber="shed"), tell(K.SPLIT, 4, count=1, other=15),
             tell(K.LOOKED, 5, sign="long stems"), tell(K.NOTED, 6, note="x")],
            [],
            id="what stays with the whole",
        ),
        pytest.param(
            [tell(K.OPENED, 10), tell(K.PINNED, 14), picked(20), picked(22), picked(30)],
            [plain(K.OPENED, 10), plain(K.PINNED, 14), rest(20, 1), rest(22, 1), rest(30, 2)],
            id="flushes without weights",
        ),
        pytest.param(
            [tell(K.OPENED, 10), picked(20, 2), picked(21, 1)],
            [plain(K.OPENED, 10), rest(20, 2)],
            id="a weighing of a flush before led nowhere",
        ),
        pytest.param(
            [tell(K.STAGED, 10, stage=S.PINNING, flush=3), tell(K.STAGED, 11, stage=S.CASE_RUN)],
            [(K.STAGED, on(10), S.PINNING, 3), (K.STAGED, on(11), S.CASE_RUN, None)],
            id="stages set by hand",
        ),
        pytest.param(
            [tell(K.OPENED, 10), picked(14), tell(K.STAGED, 15, stage=S.FRUITING, flush=1),
             tell(K.STAGED, 16, stage=S.PINNING)],
            [plain(K.OPENED, 10), rest(14, 1), (K.STAGED, on(15), S.FRUITING, 1),
             (K.STAGED, on(16), S.PINNING, 2)],
            id="a flush that is told of the part, which has no weighing to reckon it from",
        ),
    ],
)  # fmt: skip
def test_a_part_is_told_the_past_of_the_whole(
    whole: list[Entry], part: list[tuple[EntryKind, datetime, str | None, int | None]]
) -> None:
    told = numbered(begin(count=4, chamber=None), *whole)
    past = list(split_past(as_of(told, on(99)), BUTTON))
    assert [(each.kind, each.at, each.stage, each.flush) for each in past] == part
    bare = {(e.note, e.weight_g, e.chamber, e.sign, e.count, e.other) for e in past}
    assert bare <= {("", None, None, "", None, None)}
    # All the same for what the flushes are.
    again = live(BUTTON, begin(chamber=None), *past)
    assert again.stages == live(BUTTON, *told).stages


@pytest.mark.parametrize(
    ("part", "new", "then"),
    [
        pytest.param(
            start(count=1, wet_g=500.0, strain="cold"),
            start(count=4, wet_g=4000.0, strain="warm", parent=3),
            start(count=1, wet_g=1000.0, strain="warm", parent=3),
            id="what was shared is shared again",
        ),
        pytest.param(
            start(count=1, wet_g=450.0, strain="mild"),
            start(count=4, wet_g=4000.0, strain="warm"),
            start(count=1, wet_g=450.0, strain="mild"),
            id="what was said of the part stays",
        ),
        pytest.param(
            start(count=1, wet_g=500.0, strain="cold", dry_g=90.0),
            start(count=4, dry_g=800.0, strain="cold"),
            start(count=1, dry_g=90.0, strain="cold"),
            id="no weight any more",
        ),
    ],
)
def test_a_correction_of_the_start_is_carried(part: Start, new: Start, then: Start) -> None:
    assert carried(part, start(count=4, wet_g=2000.0, strain="cold"), new) == then
