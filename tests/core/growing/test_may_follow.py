"""What is offered next is what the fold would take, for every life, container and species."""

from dataclasses import replace
from itertools import product

import pytest

from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Batch, Container, Entry, EntryKind
from chamberwatch.core.growing.life import fold
from chamberwatch.core.growing.may_follow import likely_next, may_follow, stages_to_set
from chamberwatch.core.growing.species import Species
from tests.core.growing.lives import ALL, OYSTER, K, S, begin, live, numbered, tell

LIVES = {
    "started": (),
    "outdoors": (tell(K.MOVED, 0.5),),
    "white": (tell(K.WHITE, 1),),
    "cased": (tell(K.CASED, 1),),
    "opened": (tell(K.OPENED, 1),),
    "pinned": (tell(K.OPENED, 1), tell(K.PINNED, 2)),
    "picked": (tell(K.OPENED, 1), tell(K.HARVESTED, 2, weight_g=300.0)),
    "spent": (tell(K.SPENT, 1),),
    "lost": (tell(K.CONTAMINATED, 1),),
}


def try_out(entry: EntryKind, told: tuple[Entry, ...], of: Species) -> bool:
    """Tell whether the fold takes an entry of this kind next, with all it needs."""
    batch = fold(told, of)
    fields = {
        K.SPLIT: {"count": 1, "other": 15},
        K.HARVESTED: {"weight_g": 100.0},
        K.STAGED: {"stage": S.RESTING},
        K.LOOKED: {"sign": "long stems"},
    }
    new = replace(tell(entry, 9, len(told) + 1), **fields.get(entry, {}))  # type: ignore[arg-type]
    try:
        after = fold((*told, new), of)
    except RefusedError:
        return False
    return after.id == batch.id


@pytest.mark.parametrize("life", list(LIVES))
@pytest.mark.parametrize("container", list(Container))
@pytest.mark.parametrize("name", list(ALL))
def test_offered_is_what_can_be_told(life: str, container: Container, name: str) -> None:
    for count in (1, 3):
        told = numbered(begin(container, count=count), *LIVES[life])
        try:
            batch = fold(told, ALL[name])
        except RefusedError:
            continue
        taken = {
            kind
            for kind in EntryKind
            if kind not in (K.STARTED, K.WITHDRAWN) and try_out(kind, told, ALL[name])
        }
        assert may_follow(batch, ALL[name]) == taken


def test_the_lives_reach_every_stage_that_two_species_have() -> None:
    """Else the table above would prove less than it seems to."""
    reached = set()
    for name, life, container in product(ALL, LIVES, Container):
        try:
            reached.add(live(ALL[name], begin(container), *LIVES[life]).stage)
        except RefusedError:
            continue
    assert {S.COLONISATION, S.CASE_RUN, S.PINNING, S.FRUITING, S.ANTLER, S.RESTING} <= reached


@pytest.mark.parametrize(
    ("told", "stages"),
    [
        pytest.param((), (S.PINNING, S.FRUITING, S.RESTING), id="colonising"),
        pytest.param((tell(K.OPENED, 1),), (S.COLONISATION, S.FRUITING, S.RESTING), id="pinning"),
        pytest.param(
            (tell(K.OPENED, 1), tell(K.HARVESTED, 2, weight_g=300.0)),
            (S.PINNING, S.FRUITING),
            id="picked: never back before the first flush",
        ),
        pytest.param((tell(K.SPENT, 1),), (), id="ended"),
    ],
)
def test_stages_that_can_be_set(told: tuple[Entry, ...], stages: tuple[str, ...]) -> None:
    batch: Batch = live(OYSTER, begin(), *told)
    assert stages_to_set(batch, OYSTER) == stages
    for stage in stages:
        entry = tell(K.STAGED, 9, 9, stage=S(stage))
        assert fold((*numbered(begin(), *told), entry), OYSTER).stage is S(stage)


@pytest.mark.parametrize(
    ("life", "kind"),
    [
        ("started", K.WHITE),
        ("white", K.OPENED),
        ("opened", K.PINNED),
        ("pinned", K.HARVESTED),
        ("picked", K.PINNED),
        ("spent", None),
    ],
)
def test_what_most_likely_comes_next(life: str, kind: EntryKind | None) -> None:
    batch = fold(numbered(begin(), *LIVES[life]), OYSTER)
    assert likely_next(batch, may_follow(batch, OYSTER)) is kind


def test_what_may_not_be_told_is_not_likely() -> None:
    batch = fold(numbered(begin()), OYSTER)
    assert likely_next(batch, frozenset({K.NOTED})) is None
