"""The shipped table, row by row against a transcription of the published figures of its own."""

import csv
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.due import DRY_DAYS
from chamberwatch.core.growing.species import Mark, Species, Stated, View, Wants
from chamberwatch.settings import shipped_species

REFERENCE = Path(__file__).parents[1] / "reference" / "species.csv"
TABLE = shipped_species()
WORDS = ("notes", "light_note")
OF_SPECIES = ("flushes", "days_between", "efficiency_pct", "water_pct")
OF_STAGE = tuple(key for key in Wants.__dataclass_fields__ if key not in ("stage", "light_note"))


class Row(NamedTuple):
    species: str
    stage: str
    quantity: str
    low: float | None
    high: float | None
    source: str
    mark: str


def _rows() -> Iterator[tuple[Row, list[str]]]:
    """Yield each row with the numbers that must stand in its note."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(row for row in file if not row.startswith("#")):
            low, high = (float(line[end]) if line[end] else None for end in ("low", "high"))
            place = line["species"], line["stage"], line["quantity"]
            yield Row(*place, low, high, line["source"], line["mark"]), line["also"].split()


def _holders(one: Species) -> Iterator[tuple[str, Species | Wants, tuple[str, ...]]]:
    yield "", one, OF_SPECIES
    for stage, wants in one.stages.items():
        yield stage.value, wants, OF_STAGE


def _stated() -> Iterator[tuple[str, str, str, Stated]]:
    for one in TABLE.species.values():
        for stage, holder, keys in _holders(one):
            for key in keys:
                stated = getattr(holder, key)
                if stated is not None:
                    yield one.name, stage, key, stated


VIEWS: list[tuple[Row, View]] = [
    (Row(name, stage, key, view.low, view.high, view.source, view.mark.value), view)
    for name, stage, key, stated in _stated()
    for view in stated.views
]
PUBLISHED = list(_rows())


def _numbers(text: str) -> set[str]:
    return set(re.findall(r"\d+(?:\.\d+)?", text))


def test_both_sides_are_whole() -> None:
    assert len(TABLE.species) == 14
    assert len(PUBLISHED) > 350
    # Nothing is said twice in one place by one source in the same words.
    assert max(Counter(row for row, _ in PUBLISHED).values()) == 1
    assert max(Counter(row for row, _ in VIEWS).values()) == 1


@pytest.mark.parametrize("name", TABLE.species)
def test_every_published_figure_stands_in_the_table(name: str) -> None:
    shipped = {row for row, _ in VIEWS}
    wanted = [r for r, _ in PUBLISHED if r.species == name and r.quantity not in WORDS]
    assert len(wanted) > 15
    assert [row for row in wanted if row not in shipped] == []


@pytest.mark.parametrize("name", TABLE.species)
def test_every_figure_of_a_source_was_published(name: str) -> None:
    published = {row for row, _ in PUBLISHED}
    claimed = [r for r, _ in VIEWS if r.species == name and r.mark != Mark.COMMON.value]
    assert [row for row in claimed if row not in published] == []


def test_what_stands_beside_a_range_is_in_its_note() -> None:
    notes = {row: view.note for row, view in VIEWS}
    beside = [(row, set(also)) for row, also in PUBLISHED if also and row.quantity not in WORDS]
    assert len(beside) > 25
    assert [row for row, also in beside if not also <= _numbers(notes[row])] == []


def _told(row: Row) -> str:
    """Return the words in which a figure must stand: a note that names its source, or of light."""
    one = TABLE.get(row.species)
    if row.quantity == "light_note":
        return one.stages[Stage(row.stage)].light_note
    return " ".join(note for note in one.notes if _said_by(row) in note)


def _said_by(row: Row) -> str:
    """Return what must stand beside a figure that is told in words."""
    return row.source or Mark.COMMON.value


@pytest.mark.parametrize(
    ("row", "also"),
    [
        pytest.param(r, a, id=f"{r.species} {r.stage} {_said_by(r)} {r.low} {r.high}")
        for r, a in PUBLISHED
        if r.quantity in WORDS
    ],
)
def test_figures_told_in_words(row: Row, also: list[str]) -> None:
    numbers = {f"{end:g}" for end in (row.low, row.high) if end is not None}
    assert numbers | set(also) <= _numbers(_told(row))
    assert _said_by(row) in _told(row)


def test_every_source_is_used_and_every_used_one_is_there() -> None:
    named = {view.source for _, view in VIEWS} - {""}
    told = {row.source for row, _ in PUBLISHED if row.quantity in WORDS}
    assert named | (told - {""}) == set(TABLE.sources)


# ------------------------------------------------------------------ common practice


def _practice(species: str, words: str) -> list[float]:
    """Return the figures of the one note that says it, if common practice is what it claims."""
    (note,) = (note for note in TABLE.get(species).notes if words in note)
    assert Mark.COMMON.value in note
    return [float(number) for number in re.findall(r"\d+(?:\.\d+)?", note)]


def test_no_species_colonises_colder_than_mycelium_grows() -> None:
    (least,) = _practice("grey-oyster", "starts to grow near")
    stages = (one.stages[Stage.COLONISATION] for one in TABLE.species.values())
    assert least == 10.0
    assert [w for w in stages if w.temperature_c and (w.temperature_c.low or 0.0) < least] == []


def test_every_kit_gives_as_many_flushes_as_kits_do() -> None:
    least, most = _practice("grey-oyster", "bought kit")
    assert (least, most) == (2.0, 4.0)
    flushes = {name: one.flushes for name, one in TABLE.species.items()}
    assert [
        n for n, f in flushes.items() if f and ((f.high or 0) < 2 or (f.low or 0) > most)
    ] == []


def test_weekly_rain_asks_for_no_water() -> None:
    (every,) = _practice("shiitake", "keeps logs wet enough")
    assert every == 7.0
    assert every < DRY_DAYS


def test_a_stack_of_logs() -> None:
    """350 to 450 g of each."""
    logs, side, _, least, most = _practice("shiitake", "in a good season")
    assert (logs, side) == (20.0, 1.2)
    assert (least / logs, most / logs) == pytest.approx((0.35, 0.45))


def test_the_stages_of_enoki_come_to_its_first_picking() -> None:
    stages = TABLE.get("enoki").stages.values()
    days = [wants.days for wants in stages if wants.days is not None]
    assert sum(each.low or 0.0 for each in days) == 22.0
    assert sum(each.high or 0.0 for each in days) == 31.0


# ------------------------------------------------------------------ what is used


@pytest.mark.parametrize(
    ("name", "stage", "figure", "used"),
    [
        pytest.param("shiitake", Stage.FRUITING, "humidity_pct", (60, 80), id="dry shiitake"),
        pytest.param("shiitake", Stage.FRUITING, "temperature_c", (10, 21), id="cold strains"),
        pytest.param("lions-mane", Stage.FRUITING, "temperature_c", (18, 24), id="lion's mane"),
        pytest.param("king-oyster", Stage.FRUITING, "co2_ppm", (None, 2000), id="king oyster"),
        pytest.param("reishi", Stage.ANTLER, "co2_ppm", (20_000, 40_000), id="antlers"),
        pytest.param("enoki", Stage.FRUITING, "temperature_c", (10, 16), id="enoki"),
        pytest.param("grey-oyster", Stage.COLONISATION, "temperature_c", (18, 27), id="a bag"),
        pytest.param("pink-oyster", Stage.COLONISATION, "temperature_c", (20, 30), id="tropics"),
    ],
)
def test_the_view_that_is_used(
    name: str, stage: Stage, figure: str, used: tuple[float | None, float | None]
) -> None:
    stated: Stated = getattr(TABLE.get(name).stages[stage], figure)
    assert (stated.low, stated.high) == used


def test_a_reason_stands_where_sources_disagree_and_only_there() -> None:
    assert [
        place for *place, stated in _stated() if bool(stated.reason) != (len(stated.views) > 1)
    ] == []


STAGES = [
    pytest.param(one.name, wants, id=f"{one.name} {wants.stage}")
    for one in TABLE.species.values()
    for wants in one.stages.values()
]


@pytest.mark.parametrize(("name", "wants"), STAGES)
def test_every_judged_quantity_has_harm_limits_outside_its_band(name: str, wants: Wants) -> None:
    assert wants.days is not None, name
    assert wants.temperature_c is not None
    assert wants.temperature_harm_c is not None
    assert wants.temperature_harm_c.high is not None
    assert wants.temperature_c.high is not None
    assert wants.temperature_harm_c.high > wants.temperature_c.high
    sealed = wants.stage is Stage.COLONISATION
    assert (wants.humidity_harm_pct is None) == (wants.co2_harm_ppm is None) == sealed
    if wants.humidity_harm_pct and wants.humidity_pct:
        assert wants.humidity_harm_pct.low is not None
        assert wants.humidity_pct.low is not None
        assert wants.humidity_harm_pct.low < wants.humidity_pct.low
    if wants.co2_harm_ppm and wants.co2_ppm:
        assert wants.co2_harm_ppm.high is not None
        assert wants.co2_ppm.high is not None
        assert wants.co2_harm_ppm.high > wants.co2_ppm.high


@pytest.mark.parametrize("name", TABLE.species)
def test_every_species_says_what_plans_need(name: str) -> None:
    one = TABLE.get(name)
    for key in OF_SPECIES:
        stated: Stated = getattr(one, key)
        assert stated.low is not None
        assert stated.high is not None
    assert one.pick_when
    assert one.notes
    assert one.soaked == (name == "shiitake")
    assert list(one.stages) == [stage for stage in Stage if stage in one.stages]
    extra = {"button": {Stage.CASE_RUN}}.get(name, set())
    after = {Stage.ANTLER, Stage.CONK} if name == "reishi" else {Stage.PINNING, Stage.FRUITING}
    assert set(one.stages) == {Stage.COLONISATION, *after, *extra}
