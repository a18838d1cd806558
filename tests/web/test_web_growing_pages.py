"""The pages about what grows: every form to the database, every refusal at its field."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, EntryKind
from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.weights import OUNCE_G
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit, WeightUnit
from chamberwatch.web.pages.growing.dates import day_words, moment_words, window_words
from tests.web.growing_scenes import SCENES, THURSDAY, GrowingPlayed, one
from tests.web.growing_visitor import Visitor, wrong

K = EntryKind


@pytest.fixture(params=["one"])
def scene(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def played(tmp_path: Path, scene: str) -> Iterator[GrowingPlayed]:
    made = SCENES[scene](tmp_path)
    yield made
    made.sql.close()


@pytest.fixture
def visitor(played: GrowingPlayed) -> Visitor:
    return Visitor(played)


def forms(page: str) -> list[str]:
    """Return the kinds that the page of a batch offers to tell."""
    return re.findall(r'<form class="deed lines" id="(\w+)"', page)


# ------------------------------------------------------------------ every page, every scene


@pytest.mark.parametrize("scene", list(SCENES), indirect=True)
def test_every_page_of_every_house(visitor: Visitor) -> None:
    for address in ("/growing", "/growing/start", "/growing/finished", "/growing/lineage"):
        visitor.get(address)
    for number in visitor.played.grown.record.batches():
        assert f'<span class="number">{number}</span>' in visitor.get(f"/growing/batches/{number}")
        for entry in visitor.played.grown.record.entries(number):
            visitor.get(f"/growing/entries/{entry.id}")


@pytest.mark.parametrize("scene", ["empty"], indirect=True)
def test_the_first_day_says_what_to_do(visitor: Visitor) -> None:
    assert "No batch is recorded yet. Start one" in visitor.get("/growing")
    assert "Nothing is expected in that time." in visitor.get("/growing")
    assert "No batch is finished yet." in visitor.get("/growing/finished")
    assert "No batch came from another yet." in visitor.get("/growing/lineage")
    assert "Spawn taken from" not in visitor.get("/growing/start")


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_shelves_as_they_stand(visitor: Visitor) -> None:
    page = visitor.get("/growing")
    top = page[page.index("<h3>top</h3>") : page.index("<h3>middle</h3>")]
    assert re.findall(r'href="/growing/batches/(\d+)"', top) == ["1", "2"]
    assert "full" in top
    assert "start here" not in top
    assert "\N{MULTIPLICATION SIGN}3" in top
    assert "fruiting for 4 days" in top
    bottom = page[page.index("<h3>bottom</h3>") : page.index('id="c-2"')]
    assert 'href="/growing/start?place=tent%2Fbottom"' in bottom
    outdoors = page[page.index('id="astray"') :]
    assert re.findall(r'class="stands" href="/growing/batches/(\d+)"', outdoors) == ["8", "9"]
    assert "Finished batches (3)" in page
    # What comes is said in words as well as drawn.
    assert re.search(r"<b>White through</b> between tomorrow and Wednesday", page)


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_tasks_lead_to_the_batch(visitor: Visitor) -> None:
    page = visitor.get("/growing")
    assert '<a href="/growing/batches/6">Batch 6 (grey oyster): open it</a>' in page


def test_a_planned_start_leads_to_the_form(tmp_path: Path) -> None:
    settings = """
[site]
timezone = "Europe/Lisbon"
[[chamber]]
name = "tent"
volume_l = 900
stage = "fruiting"
shelves = ["one", "two", "three", "four", "five", "six", "seven"]
shelf_holds = 2
open_at_most = 9
[[rotation]]
species = "grey-oyster"
kg_per_week = [0.35, 0.5]
batch_dry_g = 450
"""
    played = GrowingPlayed(tmp_path, settings)
    played.grown.rotating.renew()
    visitor = Visitor(played)
    found = re.search(
        r'href="(/growing/start\?species=grey-oyster[^"]*)"', visitor.get("/growing")
    )
    assert found
    form = visitor.get(found[1])
    assert '<option value="grey-oyster" selected>' in form
    assert re.search(r'<option value="tent/\w+" selected>', form)
    played.sql.close()


# ------------------------------------------------------------------ starting


START = {
    "species": "lions-mane",
    "container": "jar",
    "count": "3",
    "substrate": "beech sawdust",
    "wet": "2.5 kg",
    "moisture": "62",
    "spawn": "grain spawn",
    "place": "cupboard/lower",
}


def test_a_start_from_the_form_to_the_database(visitor: Visitor) -> None:
    where = visitor.sent("/growing/start", **START, parent="1", strain="M2", note=" warm water ")
    assert where == "/growing/batches/2?said=started"
    batch = visitor.batch(2)
    start = batch.start
    assert (start.species, start.container, start.count) == ("lions-mane", Container.JAR, 3)
    assert (start.wet_g, start.moisture_pct, start.dry_g) == (2500.0, 62.0, None)
    assert (start.substrate, start.spawn, start.strain) == ("beech sawdust", "grain spawn", "M2")
    assert (start.parent, batch.chamber, batch.shelf) == (1, "cupboard", "lower")
    assert batch.started == THURSDAY
    assert visitor.last(2).note == "warm water"
    assert visitor.last(2).via == "page"
    page = visitor.get(where)
    assert "Recorded: the batch has begun." in page
    assert "950\N{NO-BREAK SPACE}g" in page  # 2.5 kg, 62 % of it water


def test_a_double_tap_starts_one(visitor: Visitor) -> None:
    form = {**START, "once": "the-same-mark"}
    _, last = (visitor.client.post("/growing/start", data=form) for _ in range(2))
    assert "it counts once" in visitor.get(last.headers["location"])
    assert len(visitor.played.grown.record.batches()) == 2


def test_what_follows_is_said_before_anything_is_kept(visitor: Visitor) -> None:
    answer = visitor.client.post(
        "/growing/start", data={**START, "once": "a-mark-of-ours", "look": "1"}
    )
    page = unescape(answer.text)
    assert answer.status_code == 200
    assert "Dry substrate <b>950\N{NO-BREAK SPACE}g</b>" in page
    assert "biological efficiency of" in page
    assert re.search(r"<b>White through</b> between \w+", page)
    assert "Hericium" not in page[page.index("What follows") :]
    assert "Nothing is recorded yet." in page
    assert len(visitor.played.grown.record.batches()) == 1
    # The form comes back as it was, ready to be sent.
    assert 'value="beech sawdust"' in page
    assert '<option value="cupboard/lower" selected>' in page
    assert 'value="a-mark-of-ours"' in page
    without = visitor.client.post(
        "/growing/start", data={**START, "wet": "", "once": visitor.once(), "look": "1"}
    )
    assert "the biological efficiency can't be told later" in unescape(without.text)


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        pytest.param({"species": ""}, "s-species", "Choose what grows", id="no species"),
        pytest.param(
            {"species": "moss"}, "s-species", "There is no species", id="unknown species"
        ),
        pytest.param(
            {"container": "sack"}, "s-container", "Choose what it grows in", id="container"
        ),
        pytest.param({"count": "two"}, "s-count", "whole number", id="no count"),
        pytest.param({"count": "0"}, "s-count", "at least one", id="none"),
        pytest.param({"count": "5000", "wet": ""}, "s-count", "too many", id="too many"),
        pytest.param({"wet": "a lot"}, "s-wet", "is no weight", id="no weight"),
        pytest.param({"wet": "1 g"}, "s-wet", "can't be", id="too light"),
        pytest.param({"dry": "3 kg", "moisture": ""}, "s-dry", "exchanged", id="dry above wet"),
        pytest.param({"moisture": "much"}, "s-moisture", "in percent", id="no share"),
        pytest.param({"moisture": "0.62"}, "s-moisture", "Did you mean 62 %?", id="a fraction"),
        pytest.param({"moisture": "97"}, "s-moisture", "would drip", id="dripping"),
        pytest.param({"place": "attic/"}, "s-place", "attic", id="no such chamber"),
        pytest.param({"place": "tent/upstairs"}, "s-place", "no shelf", id="no such shelf"),
        pytest.param({"parent": "77"}, "s-parent", "no batch 77", id="no such parent"),
        pytest.param({"day": "2026-02-22"}, "s-day", "in the future", id="the future"),
        pytest.param({"day": "2016-02-22"}, "s-day", "five years", id="long ago"),
        pytest.param({"day": "soon"}, "s-day", "year-month-day", id="no day"),
        pytest.param({"day": "0001-01-01"}, "s-day", "Look at the year", id="no year"),
        pytest.param({"clock": "10:00"}, "s-day", "Give the day too", id="a time without a day"),
        pytest.param(
            {"day": "2026-01-20", "clock": "x"}, "s-clock", "hours:minutes", id="no time"
        ),
        pytest.param({"ago": "1", "day": "2026-01-20"}, "s-ago", "not both", id="both"),
        pytest.param({"ago": "-5"}, "s-ago", "whole minutes", id="minutes to come"),
        pytest.param({"ago": "99999"}, "s-ago", "give a day", id="many minutes"),
        pytest.param({"note": "n" * 2001}, "s-note", "1 characters longer", id="a long note"),
    ],
)
def test_a_start_that_is_refused_comes_back_as_typed(
    visitor: Visitor, change: dict[str, str], field: str, words: str
) -> None:
    typed = {**START, **change}
    page = visitor.refused("/growing/start", **typed)
    assert words in wrong(page, field)
    assert "Not started yet" in page
    for name in ("count", "substrate", "wet", "moisture", "spawn"):
        assert f'name="{name}"' in page
        assert typed[name] in page
    assert len(visitor.played.grown.record.batches()) == 1


def test_a_parent_younger_than_its_child_is_refused_there(visitor: Visitor) -> None:
    page = visitor.refused("/growing/start", **START, parent="1", day="2025-12-01")
    assert "can't come from it" in wrong(page, "s-parent")


def test_a_full_shelf_is_refused_with_another(visitor: Visitor) -> None:
    tent = {**START, "place": "tent/top"}
    visitor.sent("/growing/start", **tent)
    page = visitor.refused("/growing/start", **tent)
    assert "Name another shelf" in wrong(page, "s-place")
    assert "tent: top (full)" in page


@pytest.mark.parametrize("scene", ["empty"], indirect=True)
def test_the_form_begins_with_what_is_likely(visitor: Visitor) -> None:
    form = visitor.get("/growing/start")
    # What colonises is put where that is done, on the first shelf with room.
    assert '<option value="cupboard/upper" selected>' in form
    groups = re.findall(r'<optgroup label="([^"]+)"', form)
    assert groups[:3] == [
        "Fruits cool, below 15\N{NO-BREAK SPACE}°C",
        "Fruits at 15\N{NO-BREAK SPACE}°C to 20\N{NO-BREAK SPACE}°C",
        "Fruits warm, above 20\N{NO-BREAK SPACE}°C",
    ]
    assert len(re.findall(r'<option value="[\w-]+">[^<]+\([A-Z]', form)) >= 14


def test_another_like_it_is_filled_in(visitor: Visitor) -> None:
    form = visitor.get("/growing/start?like=1&parent=1")
    assert '<optgroup label="Grown here before">' in form
    assert '<option value="grey-oyster" selected>' in form
    assert 'value="2270 g"' in form
    assert 'value="62"' in form
    assert 'value="wheat straw"' in form
    assert '<option value="1" selected>' in form
    assert "Spawn taken from" in form
    plain = visitor.get("/growing/start?like=99&parent=99")
    assert '<option value="grey-oyster" selected>' in plain  # as the last time


# ------------------------------------------------------------------ deeds


def test_only_what_may_follow_is_offered(visitor: Visitor) -> None:
    page = visitor.get("/growing/batches/1")  # one bag in pinning
    assert forms(page) == [
        "pinned", "soaked", "rested", "harvested", "noted", "moved", "staged",
        "contaminated", "spent",
    ]  # fmt: skip
    # The next step is the button that stands out.
    main = re.findall(r'<button class="wide main">([^<]+)</button>', page)
    assert main == ["Pins seen"]
    visitor.sent("/growing/batches/1/tell", kind="pinned")
    page = visitor.get("/growing/batches/1")
    assert forms(page)[0] == "harvested"
    assert "Pick before the cap edge turns up" in page
    visitor.sent("/growing/batches/1/tell", kind="spent")
    assert forms(visitor.get("/growing/batches/1")) == ["noted"]


@pytest.mark.parametrize(
    ("kind", "stage"),
    [
        pytest.param("pinned", Stage.FRUITING, id="pins seen"),
        pytest.param("soaked", Stage.PINNING, id="soaked"),
        pytest.param("rested", Stage.RESTING, id="rests"),
        pytest.param("spent", Stage.SPENT, id="spent"),
        pytest.param("contaminated", Stage.CONTAMINATED, id="contaminated"),
    ],
)
def test_one_tap(visitor: Visitor, kind: str, stage: Stage) -> None:
    where = visitor.sent("/growing/batches/1/tell", kind=kind_of(kind))
    assert where == f"/growing/batches/1?said={kind}"
    assert visitor.batch(1).stage is stage
    told = visitor.last(1)
    assert (told.kind.name.lower(), told.at, told.via) == (kind, THURSDAY, "page")
    assert "Recorded: " in visitor.get(where)


def kind_of(name: str) -> str:
    return EntryKind[name.upper()].value


@pytest.mark.parametrize(
    ("told", "stage", "kind"),
    [
        pytest.param({"kind": "white through"}, Stage.COLONISATION, K.WHITE, id="white through"),
        pytest.param({"kind": "opened"}, Stage.PINNING, K.OPENED, id="opened"),
    ],
)
def test_one_tap_on_a_sealed_bag(
    visitor: Visitor, told: dict[str, str], stage: Stage, kind: EntryKind
) -> None:
    visitor.sent("/growing/start", **{**START, "container": "sealed bag"})
    main = re.findall(r'<button class="wide main">([^<]+)<', visitor.get("/growing/batches/2"))
    assert main == ["White through"]
    visitor.sent("/growing/batches/2/tell", **told)
    assert (visitor.batch(2).stage, visitor.last(2).kind) == (stage, kind)


def test_a_log_is_rained_on_and_watered_but_not_opened_first(visitor: Visitor) -> None:
    visitor.sent("/growing/start", species="shiitake", container="log", count="2", place="/")
    page = visitor.get("/growing/batches/2")
    assert {"rained", "soaked", "split"} <= set(forms(page))
    assert "Soaked or watered" in page
    assert visitor.batch(2).chamber is None
    visitor.sent("/growing/batches/2/tell", kind="rained on")
    assert visitor.batch(2).wetted_at == THURSDAY


def test_a_cased_bed_is_given_air(visitor: Visitor) -> None:
    visitor.sent("/growing/start", species="button", container="tray", place="tent/middle")
    page = visitor.get("/growing/batches/2")
    assert "cased" in forms(page)
    visitor.sent("/growing/batches/2/tell", kind="cased")
    main = re.findall(r'<button class="wide main">([^<]+)<', visitor.get("/growing/batches/2"))
    assert main == ["Opened"]


def test_reishi_is_given_more_air(visitor: Visitor) -> None:
    visitor.sent("/growing/start", species="reishi", container="jar", place="tent/middle")
    visitor.sent("/growing/batches/2/tell", kind="opened")
    assert "Given more air" in visitor.get("/growing/batches/2")


def test_several_weighings_are_kept_together(visitor: Visitor) -> None:
    where = visitor.sent(
        "/growing/batches/1/tell", kind="harvested", weights="210 + 0.18 kg", note="in two goes"
    )
    assert where.endswith("said=harvested")
    harvests = visitor.batch(1).harvests
    assert [(h.weight_g, h.flush) for h in harvests] == [(210.0, 1), (180.0, 1)]
    entries = visitor.played.grown.record.entries(1)[-2:]
    assert [entry.note for entry in entries] == ["in two goes", ""]
    page = visitor.get(where)
    assert "Picked so far: 390\N{NO-BREAK SPACE}g" in page
    # 390 g on 2270 g of which 62 % was water: 45 %.
    assert "Biological efficiency <b>45\N{NO-BREAK SPACE}%</b>" in page


def test_one_wrong_weighing_keeps_none(visitor: Visitor) -> None:
    page = visitor.refused("/growing/batches/1/tell", kind="harvested", weights="210 + 21000")
    assert "Check the unit" in wrong(page, "harvested-weights")
    assert 'value="210 + 21000"' in page
    assert visitor.batch(1).harvests == ()


@pytest.mark.parametrize(
    ("weights", "words"),
    [
        pytest.param("", "Weigh what was picked", id="nothing"),
        pytest.param("+", "up to 12 weighings", id="a plus alone"),
        pytest.param("+".join(["20"] * 13), "up to 12 weighings", id="too many"),
        pytest.param("plenty", "is no weight", id="a word"),
        pytest.param("1,200", "can be read in two ways", id="thousand or one and a fifth"),
        pytest.param("0.2", "check the unit", id="too light"),
    ],
)
def test_a_weight_that_can_not_be(visitor: Visitor, weights: str, words: str) -> None:
    page = visitor.refused("/growing/batches/1/tell", kind="harvested", weights=weights)
    assert words in wrong(page, "harvested-weights")


def test_a_flush_can_be_named(visitor: Visitor) -> None:
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="200", flush="2")
    assert visitor.batch(1).harvests[0].flush == 2
    page = visitor.refused("/growing/batches/1/tell", kind="harvested", weights="90", flush="one")
    assert "whole number" in wrong(page, "harvested-flush")


def test_it_is_moved(visitor: Visitor) -> None:
    page = visitor.get("/growing/batches/1")
    offered = re.findall(r'<option value="([^"]*)"', page[page.index('id="moved-place"') :])
    assert offered[:6] == [
        "",
        "tent/middle",
        "tent/bottom",
        "tent/",
        "cupboard/upper",
        "cupboard/lower",
    ]
    visitor.sent("/growing/batches/1/tell", kind="moved", place="tent/bottom")
    assert (visitor.batch(1).chamber, visitor.batch(1).shelf) == ("tent", "bottom")
    visitor.sent("/growing/batches/1/tell", kind="moved", place="/")
    assert visitor.batch(1).chamber is None
    assert "in no chamber" in visitor.get("/growing/batches/1")
    page = visitor.refused("/growing/batches/1/tell", kind="moved", place="")
    assert wrong(page, "moved-place") == "Choose where it goes."
    page = visitor.refused("/growing/batches/1/tell", kind="moved", place="tent/attic")
    assert "no shelf" in wrong(page, "moved-place")


def test_it_is_split(visitor: Visitor) -> None:
    visitor.sent("/growing/start", **START)
    where = visitor.sent(
        "/growing/batches/2/tell",
        kind="split",
        count="1",
        place="tent/middle",
        note="for a friend",
    )
    assert where.endswith("said=split")
    assert (visitor.batch(2).count, visitor.batch(3).count) == (2, 1)
    assert (visitor.batch(3).shelf, visitor.batch(3).start.split_from) == ("middle", 2)
    page = visitor.get(where)
    assert "1 taken out, as batch 3" in page
    assert "split off:" in page
    beside = visitor.sent("/growing/batches/2/tell", kind="split", count="1")
    assert visitor.batch(4).shelf == "lower"
    assert beside
    # One can't be split: that is not offered, and said if it is sent all the same.
    page = visitor.refused("/growing/batches/3/tell", kind="split", count="")
    assert "Not recorded. Say how many are taken out." in page
    visitor.sent("/growing/start", **START)
    page = visitor.refused("/growing/batches/5/tell", kind="split", count="3")
    assert "Take out 1 to 2, or move all of it" in wrong(page, "split-count")
    page = visitor.refused("/growing/batches/5/tell", kind="split")
    assert wrong(page, "split-count") == "Say how many are taken out."


def test_its_stage_is_set_by_hand(visitor: Visitor) -> None:
    visitor.sent("/growing/batches/1/tell", kind="stage set", stage="fruiting")
    assert visitor.batch(1).stage is Stage.FRUITING
    for stage in ("", "asleep"):
        page = visitor.refused("/growing/batches/1/tell", kind="stage set", stage=stage)
        assert wrong(page, "staged-stage") == "Choose the stage."
    page = visitor.refused("/growing/batches/1/tell", kind="stage set", stage="spent")
    assert "Tell that." in wrong(page, "staged-stage")


def test_what_can_not_follow_says_why_and_what_would(visitor: Visitor) -> None:
    page = visitor.refused("/growing/batches/1/tell", kind="opened", note="again")
    assert re.search(r'role="alert">Not recorded. [^<]*It is open already.', page)
    page = visitor.refused("/growing/batches/1/tell", kind="rained on")
    assert "where no rain comes" in page


def test_a_deed_of_a_batch_that_there_is_none_of(visitor: Visitor) -> None:
    answer = visitor.client.post(
        "/growing/batches/9/tell", data={"kind": "opened", "once": visitor.once()}
    )
    assert answer.status_code == 404
    assert visitor.client.get("/growing/batches/9").status_code == 404
    answer = visitor.client.post(
        "/growing/batches/9/note", data={"note": "x", "once": visitor.once()}
    )
    assert answer.status_code == 404


def test_a_double_tap_tells_it_once(visitor: Visitor) -> None:
    fields = {"kind": "harvested", "weights": "200", "once": "the-same-mark"}
    first, second = (visitor.client.post("/growing/batches/1/tell", data=fields) for _ in range(2))
    assert first.headers["location"].endswith("said=harvested")
    assert second.headers["location"].endswith("said=twice")
    assert len(visitor.batch(1).harvests) == 1


# ------------------------------------------------------------------ when


@pytest.mark.parametrize(
    ("when", "at"),
    [
        pytest.param({}, THURSDAY, id="just now"),
        pytest.param({"ago": "90"}, datetime(2026, 1, 22, 16, 0, tzinfo=UTC), id="minutes ago"),
        pytest.param({"ago": "0"}, THURSDAY, id="no minutes ago"),
        pytest.param({"day": "2026-01-21"}, datetime(2026, 1, 21, 12, 0, tzinfo=UTC), id="a day"),
        pytest.param(
            {"day": "2026-01-21", "clock": "07:15"},
            datetime(2026, 1, 21, 7, 15, tzinfo=UTC),
            id="a day and a time",
        ),
    ],
)
def test_it_can_have_been_earlier(visitor: Visitor, when: dict[str, str], at: datetime) -> None:
    visitor.sent("/growing/batches/1/tell", kind="pinned", **when)
    assert visitor.last(1).at == at


def test_a_time_before_the_start_is_refused_at_the_time(visitor: Visitor) -> None:
    page = visitor.refused("/growing/batches/1/tell", kind="pinned", day="2025-12-01")
    assert "was started on 3 January" in wrong(page, "pinned-day")
    assert 'value="2025-12-01"' in page
    page = visitor.refused(
        "/growing/batches/1/tell", kind="harvested", weights="200", day="2027-01-01"
    )
    assert "in the future" in wrong(page, "harvested-day")
    assert 'value="200"' in page
    page = visitor.refused("/growing/batches/1/tell", kind="pinned", ago="9000")
    assert "it can't set new pins then" in wrong(page, "pinned-ago")


@pytest.mark.parametrize(
    ("day", "clock", "utc"),
    [
        pytest.param("2025-10-25", "12:00", (25, 11), id="the day before: summer time"),
        pytest.param("2025-10-26", "12:00", (26, 12), id="the day of the change: winter time"),
        pytest.param("2025-10-26", "01:30", (26, 0), id="an hour that came twice: the first"),
        pytest.param("2025-10-26", "", (26, 12), id="its noon"),
    ],
)
def test_times_over_a_change_of_clocks(
    visitor: Visitor, day: str, clock: str, utc: tuple[int, int]
) -> None:
    visitor.sent("/growing/start", **START, day=day, clock=clock)
    started = visitor.batch(2).started
    assert (started.day, started.hour) == utc


def test_an_hour_that_the_clocks_skipped(visitor: Visitor) -> None:
    # In Lisbon 01:00 to 02:00 of 30 March 2025 did not exist.
    page = visitor.refused("/growing/start", **START, day="2025-03-30", clock="01:30")
    assert "There was no 01:30 on that day" in wrong(page, "s-day")


# ------------------------------------------------------------------ what was told


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_what_was_corrected_stays_struck_through(visitor: Visitor) -> None:
    page = visitor.get("/growing/batches/1")
    line = page[page.index("Harvested 160\N{NO-BREAK SPACE}g, flush 3") :]
    assert "<q>weighed again, without the dish</q>" in line[:200]
    was = re.search(r'<p class="was"><s>([^<]+)</s> <span class="state">([^<]+)</span>', line)
    assert was
    assert was[1] == "Fri 2 Jan 17:30: Harvested 180\N{NO-BREAK SPACE}g “small ones”"
    assert was[2] == "corrected today 17:30"


def test_a_harvest_is_corrected_and_withdrawn(visitor: Visitor) -> None:
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="210", note="wet")
    number = visitor.last(1).id
    form = visitor.get(f"/growing/entries/{number}")
    assert 'value="210 g"' in form
    assert 'value="2026-01-22"' in form
    assert 'value="17:30"' in form
    same = {"day": "2026-01-22", "clock": "17:30"}
    where = visitor.sent(f"/growing/entries/{number}", weights="190 g", note="wiped", **same)
    assert where == f"/growing/batches/1?said=corrected#entry-{number}"
    (harvest,) = visitor.batch(1).harvests
    assert (harvest.weight_g, harvest.at) == (190.0, THURSDAY)
    page = visitor.refused(f"/growing/entries/{number}", weights="150 g", **same)
    assert "was corrected already" in page
    newer = visitor.last(1).id
    where = visitor.sent(f"/growing/entries/{newer}", withdraw="1", why="another batch")
    assert "said=withdrawn" in where
    assert visitor.batch(1).harvests == ()
    page = visitor.get(where)
    assert "Because: another batch" in page
    assert len(re.findall(r'<p class="was">', page)) == 2


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        pytest.param({"weights": "200 + 10"}, "m-weights", "Give one weight", id="two weights"),
        pytest.param({"weights": "many"}, "m-weights", "is no weight", id="no weight"),
        pytest.param({"weights": "90 kg"}, "m-weights", "can't be", id="too heavy"),
        pytest.param({"weights": ""}, "m-weights", "needs the weight", id="none"),
        pytest.param({"flush": "99"}, "m-flush", "is numbered 1 to", id="a flush"),
        pytest.param({"day": "2027-01-01"}, "m-day", "in the future", id="the future"),
        pytest.param({"note": "n" * 2001}, "m-note", "longer", id="a long note"),
    ],
)
def test_a_correction_that_is_refused(
    visitor: Visitor, change: dict[str, str], field: str, words: str
) -> None:
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="210")
    number = visitor.last(1).id
    told = {"weights": "210 g", "day": "2026-01-22", "clock": "17:30", **change}
    page = visitor.refused(f"/growing/entries/{number}", **told)
    assert words in wrong(page, field)
    assert visitor.batch(1).harvests[0].weight_g == 210.0


def test_a_correction_keeps_what_was_not_changed(visitor: Visitor) -> None:
    visitor.played.tell(1, K.HARVESTED, 0.0104, weight_g=612.345)
    old = visitor.last(1)
    visitor.sent(
        f"/growing/entries/{old.id}",
        weights="612.3 g",
        note="fine",
        day="2026-01-22",
        clock="17:15",
    )
    new = visitor.last(1)
    assert (new.weight_g, new.at, new.note, new.corrects) == (612.345, old.at, "fine", old.id)


def test_a_gram_more_is_a_correction(visitor: Visitor) -> None:
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="210")
    same = {"day": "2026-01-22", "clock": "17:30"}
    visitor.sent(f"/growing/entries/{visitor.last(1).id}", weights="211 g", **same)
    assert visitor.last(1).weight_g == 211.0


def test_a_sign_is_corrected(visitor: Visitor) -> None:
    visitor.played.tell(1, K.LOOKED, sign="long-stems")
    address = f"/growing/entries/{visitor.last(1).id}"
    assert '<option value="long-stems" selected>Long stems</option>' in visitor.get(address)
    same = {"day": "2026-01-22", "clock": "17:30"}
    assert "needs the sign" in wrong(visitor.refused(address, sign="", **same), "m-sign")
    visitor.sent(address, sign="aborted-pins", **same)
    assert visitor.last(1).sign == "aborted-pins"
    # One of another version is not turned into the first of ours.
    visitor.played.tell(1, K.LOOKED, sign="blue-spots")
    page = visitor.get(f"/growing/entries/{visitor.last(1).id}")
    assert '<option value="blue-spots" selected>blue-spots</option>' in page


def test_a_start_is_corrected(visitor: Visitor) -> None:
    form = visitor.get("/growing/entries/1")
    assert "It did not happen" not in form
    told = {
        "count": "1", "wet": "2.4 kg", "moisture": "60", "substrate": "barley straw",
        "spawn": "a kit", "place": "cupboard/lower", "day": "2026-01-02", "clock": "",
    }  # fmt: skip
    visitor.sent("/growing/entries/1", **told)
    start = visitor.batch(1).start
    assert (start.wet_g, start.moisture_pct) == (2400.0, 60.0)
    assert (start.substrate, start.spawn) == ("barley straw", "a kit")
    assert visitor.batch(1).started == datetime(2026, 1, 2, 12, 0, tzinfo=UTC)
    newer = visitor.played.grown.record.entries(1)[-1].id
    page = visitor.refused(f"/growing/entries/{newer}", **{**told, "wet": "1 g"})
    assert "can't be" in wrong(page, "m-wet")
    page = visitor.refused(f"/growing/entries/{newer}", **{**told, "moisture": "97"})
    assert "would drip" in wrong(page, "m-moisture")


def test_a_move_and_a_stage_are_corrected(visitor: Visitor) -> None:
    moved = next(e for e in visitor.played.grown.record.entries(1) if e.kind is K.MOVED)
    local = {"day": f"{moved.at:%Y-%m-%d}", "clock": f"{moved.at:%H:%M}"}
    visitor.sent(f"/growing/entries/{moved.id}", place="tent/middle", **local)
    assert visitor.batch(1).shelf == "middle"
    visitor.sent("/growing/batches/1/tell", kind="stage set", stage="fruiting")
    staged = visitor.last(1)
    assert '<option value="fruiting" selected>fruiting</option>' in visitor.get(
        f"/growing/entries/{staged.id}"
    )
    visitor.sent(f"/growing/entries/{staged.id}", stage="resting", day="2026-01-22", clock="17:30")
    assert visitor.batch(1).stage is Stage.RESTING


def test_a_stage_that_is_corrected_keeps_its_flush(visitor: Visitor) -> None:
    visitor.played.tell(1, K.STAGED, 0.0, stage=Stage.RESTING, flush=2)
    told = visitor.last(1)
    assert visitor.batch(1).flush == 2
    form = visitor.get(f"/growing/entries/{told.id}")
    assert re.search(r'name="flush"[^>]*value="2"', form)
    same = {"day": "2026-01-22", "clock": "17:30", "flush": "2"}
    visitor.sent(f"/growing/entries/{told.id}", stage="fruiting", note="by the lamp", **same)
    assert (visitor.last(1).stage, visitor.last(1).flush) == (Stage.FRUITING, 2)
    assert visitor.batch(1).flush == 2


def test_a_split_can_not_be_corrected_and_says_why(visitor: Visitor) -> None:
    visitor.sent("/growing/start", **START)
    visitor.sent("/growing/batches/2/tell", kind="split", count="1")
    split = next(e for e in visitor.played.grown.record.entries(2) if e.kind is K.SPLIT)
    assert "A batch came of that split" in visitor.get(f"/growing/entries/{split.id}")
    assert f"/growing/entries/{split.id}" not in visitor.get("/growing/batches/2")


@pytest.mark.parametrize(
    ("sign", "words"),
    [
        pytest.param("long-stems", "Seen: Long stems", id="one we know"),
        pytest.param("blue-spots", "Seen: blue-spots", id="one of another version"),
    ],
)
def test_what_was_seen_stands_in_the_record(visitor: Visitor, sign: str, words: str) -> None:
    visitor.played.tell(1, K.LOOKED, sign=sign)
    assert words in visitor.get("/growing/batches/1")


def test_a_start_is_not_withdrawn(visitor: Visitor) -> None:
    form = visitor.get("/growing/entries/1")
    page = visitor.refused("/growing/entries/1", withdraw="1")
    assert "A start can't be withdrawn" in page
    # What stood in the fields of the other form stands there still.
    for name in ("substrate", "wet", "day"):
        (field,) = re.findall(rf'<input id="m-{name}"[^>]*>', form)
        assert field in page


# ------------------------------------------------------------------ cautions


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_cautions_stand_until_somebody_has_seen_them(visitor: Visitor) -> None:
    page = visitor.get("/growing/batches/2")
    assert "mind the spores" in page
    caution = re.search(r'name="caution" value="([^"]+)"', page)
    assert caution
    nobody = visitor.refused("/growing/batches/2/minded", caution=caution[1], who="  ")
    assert "Give the name of who has seen it" in nobody
    where = visitor.sent("/growing/batches/2/minded", caution=caution[1], who="Ana")
    assert where == "/growing/batches/2?said=minded"
    assert "mind the spores" not in visitor.get(where)


def test_contaminated_tells_to_bag_it_first_and_then_to_mind_it(visitor: Visitor) -> None:
    page = visitor.get("/growing/batches/1")
    form = page[page.index('id="contaminated"') :]
    assert "Put it in a bag where it stands" in form
    assert "do not open it indoors" in form
    where = visitor.sent("/growing/batches/1/tell", kind="contaminated", note="green at the cut")
    after = visitor.get(where)
    assert "Please mind" in after
    assert 'name="caution"' in after
    assert "green at the cut" in after


# ------------------------------------------------------------------ finished, lines


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_finished_batches_sorted_by_link(visitor: Visitor) -> None:
    def order(sort: str) -> list[str]:
        page = visitor.get(f"/growing/finished?sort={sort}")
        return re.findall(r'<th scope="row"><a href="/growing/batches/(\d+)"', page)

    assert order("newest") == ["13", "12", "11"]
    assert order("weight") == ["12", "13", "11"]
    assert order("efficiency")[0] == "12"
    assert order("quick")[:2] == ["13", "12"]
    assert order("pace")[0] == "12"
    assert order("nonsense") == ["13", "12", "11"]
    page = visitor.get("/growing/finished")
    # 430 g and 205 g on 800 g: 79 %, in 40 days.
    assert "79\N{NO-BREAK SPACE}%" in page
    assert "40" in page
    assert "contaminated" in page


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
@pytest.mark.parametrize(
    ("by", "name"),
    [
        ("species", "Grey oyster"),
        ("substrate", "wheat straw (grey oyster)"),
        ("line", "line of batch 1 (grey oyster)"),
        ("shelf", "tent, bottom (grey oyster and king oyster)"),
    ],
)
def test_finished_batches_put_together(visitor: Visitor, by: str, name: str) -> None:
    page = visitor.get(f"/growing/finished?by={by}")
    assert f'<th scope="row">{name}</th>' in page


def test_finished_batches_say_how_well_the_mean_is_known(visitor: Visitor) -> None:
    for weight in (300.0, 350.0, 400.0):
        number = visitor.played.start(days_ago=60, at=(), dry_g=500.0)
        visitor.played.tell(number, K.OPENED, 40)
        visitor.played.tell(number, K.HARVESTED, 30, weight_g=weight)
        visitor.played.tell(number, K.SPENT, 5)
    page = visitor.get("/growing/finished")
    # 60, 70 and 80 %: mean 70, standard error 10 / sqrt 3 = 5.8.
    assert "±6, 60 to 80" in page
    assert visitor.client.get("/growing/finished?by=colour").status_code == 422


@pytest.mark.parametrize("scene", ["usual"], indirect=True)
def test_lines_as_trees(visitor: Visitor) -> None:
    page = visitor.get("/growing/lineage")
    assert re.findall(r'href="/growing/batches/(\d+)">batch', page) == ["1", "2", "5", "6", "11"]
    own = visitor.get("/growing/batches/5")
    tree = own[own.index('id="line"') : own.index('id="told"')]
    assert re.findall(r"batch (\d+)", tree) == ["1", "2", "5"]
    assert 'aria-current="true">batch 5' in tree


# ------------------------------------------------------------------ units, words


def test_weights_in_ounces_and_warmth_in_fahrenheit(tmp_path: Path) -> None:
    played = one(tmp_path)
    liked = ShownIn(TemperatureUnit.FAHRENHEIT, WeightUnit.OUNCE)
    played.desk = replace(played.desk, shown_in=liked)
    visitor = Visitor(played)
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="8.5 + 100 g")
    first, second = visitor.batch(1).harvests
    assert first.weight_g == pytest.approx(8.5 * OUNCE_G)
    assert second.weight_g == 100.0
    page = visitor.get("/growing/batches/1")
    assert "8.5\N{NO-BREAK SPACE}oz" in page
    assert "Weight, in oz" in page
    form = visitor.get("/growing/start?like=1")
    assert "below 59\N{NO-BREAK SPACE}°F" in form
    assert 'value="80.1 oz"' in form
    entry = played.grown.record.entries(1)[-1].id
    assert 'value="3.5 oz"' in visitor.get(f"/growing/entries/{entry}")
    played.sql.close()


def test_a_comma_where_the_browser_writes_one(visitor: Visitor) -> None:
    visitor.sent("/growing/batches/1/tell", kind="harvested", weights="1,2 kg")
    page = visitor.get("/growing/batches/1", **{"accept-language": "pt-PT"})
    assert "1,20\N{NO-BREAK SPACE}kg" in page
    # What stands in a field is written so that the same is read of it.
    number = visitor.last(1).id
    form = visitor.get(f"/growing/entries/{number}", **{"accept-language": "pt-PT"})
    assert 'value="1200 g"' in form


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        pytest.param(-9, -3, "expected by Mon 19 Jan, so look now", id="late"),
        pytest.param(-9, -1, "expected by yesterday, so look now", id="late since yesterday"),
        pytest.param(-2, 0.1, "today", id="ends today"),
        pytest.param(0.1, 0.1, "today", id="today alone"),
        pytest.param(-2, 2, "now to Saturday", id="now"),
        pytest.param(1, 3, "between tomorrow and Sunday", id="this week"),
        pytest.param(4, 11, "between Monday and Mon 2 Feb", id="into the next week"),
        pytest.param(3, 3.1, "Sunday", id="one day"),
        pytest.param(330, 360, "between Fri 18 Dec 2026 and Sun 17 Jan 2027", id="in a year"),
    ],
)
def test_windows_in_words(visitor: Visitor, low: float, high: float, words: str) -> None:
    zone, ago = visitor.played.desk.zone, visitor.played.ago
    window = Window(ago(-low), ago(-high))
    assert window_words(window, THURSDAY, zone) == words


@pytest.mark.parametrize(
    ("days", "words"),
    [
        pytest.param(0, "today 17:30", id="today"),
        pytest.param(1, "yesterday 17:30", id="yesterday"),
        pytest.param(5, "Sat 17 Jan 17:30", id="this year"),
        pytest.param(30, "Tue 23 Dec 2025 17:30", id="another year"),
    ],
)
def test_moments_in_words(visitor: Visitor, days: int, words: str) -> None:
    zone = visitor.played.desk.zone
    assert moment_words(visitor.played.ago(days), THURSDAY, zone) == words


def test_a_day_just_past_in_words(visitor: Visitor) -> None:
    assert day_words(visitor.played.ago(1), THURSDAY, visitor.played.desk.zone) == "yesterday"


@pytest.mark.parametrize(
    "address",
    [
        "/growing",
        "/growing/start",
        "/growing/finished",
        "/growing/lineage",
        "/growing/batches/1",
        "/growing/entries/1",
        "/growing/photos/1",
    ],
)
def test_without_a_record_it_is_said(tmp_path: Path, address: str) -> None:
    played = one(tmp_path)
    played.desk = replace(played.desk, growing=None, photos=None)
    answer = Visitor(played).client.get(address)
    assert answer.status_code == 422
    assert "Ask the daemon that takes readings" in answer.text
    played.sql.close()
