"""What a chamber followed in the past, as if all had been told at once."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.band_words import whose
from chamberwatch.core.growing.bands_then import Life, Since, followed, grown
from chamberwatch.core.growing.batch import Batch, Container, Passed, Start
from chamberwatch.core.growing.species import Species, SpeciesTable, Stated, View, Wants
from chamberwatch.core.growing.wants import Limits, follow
from tests.make import at

OYSTER = Species(
    "grey-oyster",
    "Grey oyster",
    "",
    {
        stage: Wants(stage, humidity_pct=Stated((View(low, 95.0),)))
        for stage, low in ((Stage.PINNING, 88.0), (Stage.FRUITING, 80.0))
    },
)
TABLE = SpeciesTable({OYSTER.name: OYSTER}, {})


def batch(stage: Stage, chamber: str | None = "tent", number: int = 6) -> Batch:
    stood = () if chamber is None else (chamber,)
    begun = at(-9000)
    return Batch(
        number, Start("grey-oyster", Container.BAG), begun, (Passed(stage, 0, begun),), 1, chamber,
        None, begun, opened_at=begun, chambers=stood,
    )  # fmt: skip


def told(life: Life, chamber: str = "tent") -> list[tuple[datetime | None, float | None]]:
    found = followed([chamber], [life], TABLE)[chamber]
    assert found[0] == Since(None, None)
    bands = [(s.at, s.following.band("humidity") if s.following else None) for s in found[1:]]
    return [(when, band.low if band is not None else None) for when, band in bands]


def test_the_band_changes_with_the_stage_and_where_the_batch_goes() -> None:
    pinning, fruiting = batch(Stage.PINNING), batch(Stage.FRUITING)
    gone = replace(fruiting, chamber=None, chambers=("tent",))
    life = [(at(0), pinning), (at(5), pinning), (at(60), fruiting), (at(90), gone)]
    assert told(life) == [(at(0), 88.0), (at(60), 80.0), (at(90), None)]
    assert told(life, "shelf") == []
    spent = replace(gone, stages=(Passed(Stage.SPENT, 1, at(90)),))
    assert told([(at(0), pinning), (at(90), spent)]) == [(at(0), 88.0), (at(90), None)]


def test_before_the_first_batch_the_stated_stage_holds() -> None:
    outdoors = batch(Stage.FRUITING, None)
    life = [(at(0), outdoors), (at(30), batch(Stage.FRUITING))]
    assert told(life) == [(at(30), 80.0)]


def test_whose_band_it_is() -> None:
    two = (
        grown(batch(Stage.PINNING), TABLE.known),
        grown(batch(Stage.FRUITING, number=7), TABLE.known),
    )
    limits = follow(two, {}).limits["humidity"]
    assert whose(limits) == "batch 6 (grey oyster, pinning)"
    assert whose(Limits(limits.band)) == ""
    assert whose(replace(limits, high=follow(two[1:], {}).limits["humidity"].high)) == (
        "batch 6 (grey oyster, pinning) and batch 7 (grey oyster, fruiting)"
    )


# ---------------------------------------------------------------- many batches

CHAMBERS = ("tent", "shelf")


def plainly(chamber: str, lives: Iterable[Life]) -> tuple[Since, ...]:
    """Reckon it the slow way: at each time, look through all that was told up to then."""
    lives = list(lives)
    found = [Since(None, None)]
    for now in sorted({when for life in lives for when, _ in life}):
        known = [[each for when, each in life if when <= now][-1:] for life in lives]
        batches = [each for last in known for each in last]
        if not any(chamber in each.chambers for each in batches):
            continue
        here = [b for b in batches if b.chamber == chamber and b.ended is None]
        made = follow((grown(each, TABLE.known) for each in here), TABLE.sources)
        if made != found[-1].following:
            found.append(Since(now, made))
    return tuple(found)


steps = st.lists(
    st.tuples(
        st.integers(0, 12),
        st.sampled_from([Stage.PINNING, Stage.FRUITING, Stage.RESTING, Stage.SPENT]),
        st.sampled_from([None, *CHAMBERS, "cellar"]),
    ),
    min_size=1,
    max_size=5,
).map(lambda told: sorted(told, key=lambda each: each[0]))


def lived(number: int, told: Sequence[tuple[int, Stage, str | None]]) -> Life:
    """Return a batch that goes about; it remembers where it has stood."""
    stood: tuple[str, ...] = ()
    life = []
    for minutes, stage, chamber in told:
        stood += (chamber,) if chamber is not None and chamber not in stood else ()
        life.append((at(minutes), replace(batch(stage, chamber, number), chambers=stood)))
    return life


@settings(max_examples=200)
@given(st.lists(steps, max_size=6))
def test_it_is_what_a_plain_reckoning_finds(
    told_of: Sequence[Sequence[tuple[int, Stage, str | None]]],
) -> None:
    lives = [lived(number, each) for number, each in enumerate(told_of, 1)]
    found = followed(CHAMBERS, lives, TABLE)
    assert found == {name: plainly(name, lives) for name in CHAMBERS}


@dataclass(frozen=True)
class Counting(SpeciesTable):
    """Counts how often a batch is looked at. Each band that is made asks for the sources once."""

    looked: list[str] = field(default_factory=list)

    def known(self, name: str) -> Species:
        self.looked.append(name)
        return super().known(name)


def one_after_another(number: int) -> list[Life]:
    """Return batches of which each stands in the tent for ten minutes, beside the one before."""
    return [
        lived(
            n,
            [
                (5 * n, Stage.PINNING, "tent"),
                (5 * n + 3, Stage.PINNING, "tent"),
                (5 * n + 6, Stage.FRUITING, "tent"),
                (5 * n + 9, Stage.SPENT, "tent"),
            ],
        )
        for n in range(1, number + 1)
    ]


def test_each_thing_told_is_looked_at_once_however_many_batches_there_are() -> None:
    for number in (10, 100):
        table = Counting(TABLE.species, TABLE.sources)
        found = followed(CHAMBERS, one_after_another(number), table)
        # Three of the four things told of each change who lives here, and as what.
        assert len(found["tent"]) == 1 + 3 * number
        assert len(found["shelf"]) == 1
        # An end asks for no species.
        assert len(table.looked) == 3 * number
