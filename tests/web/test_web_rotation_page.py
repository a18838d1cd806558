"""The page of the rotation: what its chart holds, its tables, and another wish."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from html import unescape
from pathlib import Path
from typing import cast

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from chamberwatch.core.errors import ChamberwatchError, Fault, RefusedError, SettingsError
from chamberwatch.core.growing.batch import EntryKind
from chamberwatch.core.growing.due import Window
from chamberwatch.core.growing.rotation.plan import (
    Awaited,
    Gives,
    Plan,
    PlannedMove,
    PlannedStart,
    Space,
    UnderWay,
    WeekExpectation,
)
from chamberwatch.core.shown_in import ShownIn, WeightUnit
from chamberwatch.service.growing.rotating import ANOTHER_ONE
from chamberwatch.settings.editing import Put, TakeOut
from chamberwatch.web.app import create_app
from chamberwatch.web.figures import Figures
from chamberwatch.web.pages.rotation_chart import DAY_W, Chart, chart
from chamberwatch.web.pages.rotation_stands import Known
from chamberwatch.web.pages.rotation_wish import WishRow, row, wish
from chamberwatch.web.pages.rotation_words import kilos
from tests.make import NOON
from tests.web.conftest import HERE
from tests.web.desk_fakes import ZONE, Played
from tests.web.editing_fakes import FakeEditing
from tests.web.plan_fakes import WISH, Grower, wishing

PAGE = "/growing/rotation"
FIGURES = Figures(ShownIn(), comma=False, zone=ZONE)
MONDAY = date(2026, 1, 19)
GAP = "\N{NO-BREAK SPACE}"
DASH = "\N{EN DASH}"


@pytest.fixture
def ann(tmp_path: Path, played: Played) -> Iterator[Grower]:
    with wishing(tmp_path, played, WISH) as made:
        yield made


def plain(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).replace(GAP, " ").split())


# ------------------------------------------------------------------ where things stand


@pytest.fixture
def known(ann: Grower) -> Known:
    ann.start(-30)
    ann.tell(1, EntryKind.OPENED, -12)
    ann.start(-9, "bottom")
    at = Window(NOON.replace(month=2, day=1), NOON.replace(month=2, day=9))
    under_way = (
        UnderWay(
            1, "grey-oyster", "tent", "top", True, None, at,
            (Awaited(date(2026, 1, 21), date(2026, 1, 24), 0.1, 0.2),),
        ),
        UnderWay(2, "grey-oyster", "tent", "bottom", False, at, at),
    )  # fmt: skip
    start = PlannedStart(
        "grey-oyster", date(2026, 1, 26), ("shelf", ""), date(2026, 2, 9), ("tent", "top"),
        date(2026, 3, 9),
        (
            Awaited(date(2026, 2, 16), date(2026, 2, 20), 0.2, 0.3),
            Awaited(date(2026, 2, 19), date(2026, 2, 28), 0.1, 0.2),
            Awaited(date(2026, 5, 19), date(2026, 5, 28), 0.1, 0.2),
        ),
    )  # fmt: skip
    weeks = tuple(
        WeekExpectation(date.fromordinal(MONDAY.toordinal() + 7 * n), 0.1 * n, 0.2 * n, {})
        for n in range(8)
    )
    plan = Plan(
        (start,), weeks, (), {}, {}, True,
        moves=(PlannedMove(2, date(2026, 2, 5), ("tent", "back"), date(2026, 3, 1)),),
    )  # fmt: skip
    return Known(
        plan, (0.4, 0.6), under_way, ann.growing.record.batches(),
        (Space("tent", ("top", "bottom"), 2), Space("shelf", ("",))),
        {"tent": "Tent", "shelf": "Dark shelf"}, {"grey-oyster": "Grey oyster"}, date(2026, 1, 20),
    )  # fmt: skip


def days(drawn: Chart) -> list[tuple[str, float, float, bool]]:
    """Return the bars with first day and length in days."""
    return [(b.label, b.x / DAY_W, b.width / DAY_W, b.planned) for b in drawn.bars]


def test_batches_stand_on_their_shelves_from_start_to_end(known: Known) -> None:
    drawn = chart(known, FIGURES)
    assert [(r.title, [s.name for s in r.shelves]) for r in drawn.rooms] == [
        ("Tent", ["top", "bottom", "back"]),
        ("Dark shelf", [""]),
    ]
    assert days(drawn) == [
        # Begun before this Monday: cut there. Until the 9th of February, 21 days on.
        ("1 grey oyster", 0.0, 21.0, False),
        ("grey oyster", 21.0, 28.0, True),
        ("2 grey oyster", 0.0, 17.0, False),
        ("2 grey oyster", 17.0, 24.0, False),
        ("26 Jan: start grey oy…", 7.0, 14.0, True),
    ]
    assert drawn.today_x == DAY_W
    assert drawn.width == 8 * 7 * DAY_W


def test_stages_and_windows_lie_where_they_are_expected(known: Known) -> None:
    opened, fruits, sealed, moved, begun = chart(known, FIGURES).bars
    stages = [
        [(p.stage, p.x / DAY_W, p.width / DAY_W) for p in b.pieces] for b in (opened, fruits)
    ]
    assert stages == [
        [("pins", 0.0, 2.0), ("fruiting", 2.0, 4.0), ("resting", 6.0, 15.0)],
        [("pins", 21.0, 7.0), ("fruiting", 28.0, 13.0), ("resting", 41.0, 8.0)],
    ]
    assert [p.stage for p in sealed.pieces] == ["colonising"]
    assert [p.stage for p in begun.pieces] == ["colonising"]
    assert [p.stage for p in moved.pieces] == ["pins"]
    # Two windows that overlap: the later one a step lower; one beyond the drawing is left out.
    assert [(p.text, p.says) for p in fruits.picks] == [
        (f"0.20{DASH}0.30", f"0.20{DASH}0.30{GAP}kg, 16 Feb to 20 Feb"),
        (f"0.10{DASH}0.20", f"0.10{DASH}0.20{GAP}kg, 19 Feb to 28 Feb"),
    ]
    assert fruits.picks[1].y > fruits.picks[0].y
    assert opened.says.startswith("batch 1, grey oyster; from 21 December; opened 8 January; ")


def test_weeks_are_held_against_the_wish(known: Known) -> None:
    drawn = chart(known, FIGURES)
    assert [week.short for week in drawn.weeks] == [True, True, False, *[False] * 5]
    # What gives is marked too, though all together may be enough.
    gives = Gives(known.plan.weeks[5].monday, "tent", "top", "grey-oyster", 0.1, "Why.")
    lacking = chart(replace(known, plan=replace(known.plan, gives=(gives,))), FIGURES)
    assert [week.short for week in lacking.weeks][4:] == [False, True, False, False]
    assert [week.label for week in drawn.weeks][:2] == ["19 Jan", "26 Jan"]
    assert drawn.weeks[2].text == f"0.20{DASH}0.40"
    # More is higher up, and the band of the wish lies where its weights do.
    assert drawn.wish_high_y < drawn.wish_low_y
    assert drawn.weeks[4].low_y == drawn.wish_low_y
    assert drawn.weeks[3].high_y == drawn.wish_high_y
    assert drawn.wish_text == f"wished: 0.40{DASH}0.60{GAP}kg a week"


def test_what_is_outdoors_and_what_nobody_can_open(known: Known) -> None:
    one, two = known.under_way
    lost = replace(known, under_way=(
        replace(one, chamber=None, shelf=None), replace(two, opens=None), two,
    ), plan=replace(known.plan, moves=(), starts=()))  # fmt: skip
    drawn = chart(lost, FIGURES)
    assert [room.title for room in drawn.rooms] == ["Tent", "Dark shelf", "in no chamber"]
    assert len(drawn.rooms[0].shelves[1:]) == 1
    # Two that overlap stand beside one another.
    assert drawn.rooms[0].shelves[1].height == 2 * drawn.rooms[0].shelves[0].height
    nowhere = replace(lost, spaces=(), under_way=())
    assert chart(nowhere, FIGURES).rooms == ()


@pytest.mark.parametrize(
    ("unit", "low", "high", "words"),
    [
        pytest.param(WeightUnit.GRAM, 0.25, 0.4, f"0.25{DASH}0.40{GAP}kg", id="under a kilogram"),
        pytest.param(WeightUnit.GRAM, 0.25, 1.44, f"0.2{DASH}1.4{GAP}kg", id="above it"),
        pytest.param(WeightUnit.GRAM, 0.2, 0.2, f"0.20{GAP}kg", id="one figure"),
        pytest.param(WeightUnit.OUNCE, 0.25, 0.4, f"9{DASH}14{GAP}oz", id="ounces"),
    ],
)
def test_weights(unit: WeightUnit, low: float, high: float, words: str) -> None:
    assert kilos(Figures(ShownIn(weight=unit), comma=False, zone=ZONE), low, high) == words


# ------------------------------------------------------------------ the page


def test_the_page_says_what_the_plan_says(ann: Grower) -> None:
    page = ann.visitor.get(PAGE)
    assert page.status_code == 200
    plan = ann.growing.rotating.plan()
    for line in plan.words:
        assert line in plain(page.text)
    rows = page.text[page.text.index('id="kept-starts"') :]
    assert rows.count("<tr>") - 1 == len(plan.plan.starts)
    weeks = page.text[page.text.index('id="kept-weeks"') : page.text.index('id="kept-starts"')]
    assert weeks.count("<tr>") - 1 == 12
    assert 'value="0.4"' in page.text


WISHED = "?species=grey-oyster&low=0.2&high=0.3&dry=500"


def test_another_wish_is_shown_beside_it(ann: Grower) -> None:
    page = plain(ann.visitor.get(f"{PAGE}{WISHED}&species=shiitake&low=0.1&high=&dry=860 g").text)
    assert "The plan for this wish" in page
    assert "Grey oyster: starts a week 0.8 to 1.2 0.4 to 0.6" in page
    assert "Shiitake: starts a week none" in page
    assert "kg_per_week = [0.2, 0.3]" in page
    assert '[[rotation]] species = "shiitake" kg_per_week = [0.1, 0.1]' in page


def test_without_a_plan_there_is_still_what_if(tmp_path: Path, played: Played) -> None:
    with wishing(tmp_path, played) as made:
        page = plain(made.visitor.get(PAGE).text)
        assert "Nothing is wished for yet, so nothing is planned. Say below" in page
        assert "[[rotation]]" not in page
        tried = plain(made.visitor.get(f"{PAGE}{WISHED}").text)
        assert "The plan for this wish" in tried
        assert "Beside the plan that is kept to" not in tried


@pytest.mark.parametrize(
    ("query", "words"),
    [
        pytest.param("?species=grey-oyster&low=lots&dry=500", "write how many kg", id="words"),
        pytest.param("?species=grey-oyster&low=0&dry=500", "from 0.01 to 100", id="nothing"),
        pytest.param("?species=grey-oyster&low=2&high=1&dry=500", "Swap them", id="swapped"),
        pytest.param("?species=grey-oyster&low=1&dry=2", "10 g to 100 kg of dry", id="small"),
        pytest.param("?species=grey-oyster&low=1", "is no weight", id="no substrate"),
        pytest.param("?species=morel&low=1&dry=500", "no species", id="unknown"),
        pytest.param(f"{WISHED}&{WISHED[1:]}", "wanted 2 times", id="twice"),
        pytest.param(
            "?" + "&".join(f"species=s{n}&low=1&dry=9" for n in range(7)), "At most 6", id="many"
        ),
    ],
)
def test_a_wish_that_cant_be_is_told(ann: Grower, query: str, words: str) -> None:
    answer = ann.visitor.get(f"{PAGE}{query}")
    assert answer.status_code == 422
    assert words in plain(answer.text)
    assert 'id="kept-words"' in answer.text


def test_a_wish_is_reckoned_once_and_one_at_a_time(ann: Grower) -> None:
    rotating = ann.growing.rotating
    wishes = [(replace(WISH, batch_dry_g=400.0 + n),) for n in range(6)]
    first = rotating.suppose(wishes[0])
    assert rotating.suppose(wishes[0]) is first
    for each in wishes[1:]:
        rotating.suppose(each)
    again = rotating.suppose(wishes[0])
    assert again is not first
    assert again.plan == first.plan
    ann.start(0)
    assert rotating.suppose(wishes[0]) is not again
    rotating._supposing.acquire()
    with pytest.raises(RefusedError, match=ANOTHER_ONE):
        rotating.suppose(wishes[1])
    rotating._supposing.release()


@pytest.mark.parametrize("comma", [False, True])
@pytest.mark.parametrize("unit", list(WeightUnit))
@pytest.mark.parametrize("dry_g", [400.0, 498.951607, 1234.5, 10.125])
def test_what_is_shown_is_read_as_it_was(unit: WeightUnit, comma: bool, dry_g: float) -> None:
    figures = Figures(ShownIn(weight=unit), comma=comma, zone=ZONE)
    asked = (replace(WISH, kg_per_week=(0.4, 1.2345678), batch_dry_g=dry_g),)
    assert wish((row(asked[0], figures),), figures, asked) == asked


@pytest.mark.parametrize(
    ("unit", "typed", "asked"),
    [
        pytest.param(WeightUnit.GRAM, ("0.5", "1,2", "400"), (0.5, 1.2, 400.0), id="bare g"),
        pytest.param(WeightUnit.GRAM, ("0.5kg", "1.2 kg", "1.2 kg"), (0.5, 1.2, 1200.0), id="kg"),
        pytest.param(
            WeightUnit.OUNCE, ("8", "16 oz", "20"), (0.2268, 0.4536, 566.99), id="bare oz"
        ),
        pytest.param(WeightUnit.OUNCE, ("8", "", "500 g"), (0.2268, 0.2268, 500.0), id="g of oz"),
    ],
)
def test_a_bare_figure_is_in_the_unit_shown(
    unit: WeightUnit, typed: tuple[str, str, str], asked: tuple[float, float, float]
) -> None:
    figures = Figures(ShownIn(weight=unit), comma=False, zone=ZONE)
    (read,) = wish((WishRow("grey-oyster", *typed),), figures)
    assert (*read.kg_per_week, read.batch_dry_g) == pytest.approx(asked, rel=1e-5)


def test_a_household_of_ounces_keeps_its_wish_as_it_is(ann: Grower) -> None:
    editing = FakeEditing({"rotation": [{"species": "grey-oyster"}]})
    desk = cast(FastAPI, ann.visitor.app).state.desk
    liked = replace(desk, editing=editing, shown_in=ShownIn(weight=WeightUnit.OUNCE))
    grower = TestClient(create_app(liked), base_url=HERE, follow_redirects=False)
    page = grower.get(PAGE).text
    assert "oz a week, from" in page
    form = {
        name: unescape(re.findall(rf'name="{name}"[^>]*value="([^"]*)"', page)[0])
        for name in ("low", "high", "dry")
    }
    assert form == {"low": "14.1", "high": "21.2", "dry": "17.6 oz"}
    sent = grower.post(PAGE, data={"species": WISH.species, **form}, headers={"Origin": HERE})
    assert sent.status_code == 303
    kept = {"kg_per_week": [*WISH.kg_per_week], "batch_dry_g": WISH.batch_dry_g}
    assert editing.asked == [[Put("rotation", WISH.species, kept)]]


# ------------------------------------------------------------------ keeping to it


def visitor(ann: Grower, editing: FakeEditing | None) -> TestClient:
    """Return a visitor to her desk, from which the settings can be changed, or not."""
    desk = replace(cast(FastAPI, ann.visitor.app).state.desk, editing=editing)
    return TestClient(create_app(desk), base_url=HERE, follow_redirects=False)


OYSTER = {"species": "grey-oyster", "low": "0.5", "high": "1,2", "dry": "400"}


def test_a_wish_is_kept_in_place_of_what_is_wished_now(ann: Grower) -> None:
    editing = FakeEditing({"rotation": [{"species": "shiitake"}, {"species": "grey-oyster"}]})
    asked = visitor(ann, editing).post(PAGE, data=OYSTER, headers={"Origin": HERE})
    assert (asked.status_code, asked.headers["location"]) == (303, f"{PAGE}?said=kept")
    assert editing.asked == [
        [
            TakeOut("rotation", "shiitake"),
            Put("rotation", "grey-oyster", {"kg_per_week": [0.5, 1.2], "batch_dry_g": 400.0}),
        ]
    ]
    assert "Kept: this is wished for" in plain(visitor(ann, editing).get(f"{PAGE}?said=kept").text)


def test_where_settings_can_be_changed_it_is_a_button(ann: Grower) -> None:
    asked = f"{PAGE}?species=grey-oyster&low=0.5&high=1.2&dry=400"
    without = visitor(ann, None).get(asked).text
    beside = visitor(ann, FakeEditing()).get(asked).text
    assert ('id="snippet"' in without, 'id="keep"' in without) == (True, False)
    assert ('id="snippet"' in beside, 'id="keep"' in beside) == (False, True)


@pytest.mark.parametrize(
    ("changes", "refuse", "says"),
    [
        pytest.param({"species": ""}, None, "Choose at least one species.", id="nothing"),
        pytest.param({"low": "none"}, None, "write how many kg a week", id="a figure"),
        pytest.param({}, RefusedError("The disk is full."), "The disk is full.", id="the disk"),
        pytest.param(
            {},
            SettingsError((Fault("", "rotation[0]", "x", "Write a species that is known."),)),
            "Write a species that is known.",
            id="the settings",
        ),
    ],
)
def test_what_can_not_be_kept_says_why(
    ann: Grower,
    changes: dict[str, str],
    refuse: ChamberwatchError | None,
    says: str,
) -> None:
    editing = FakeEditing(refuse=refuse)
    asked = visitor(ann, editing).post(PAGE, data={**OYSTER, **changes}, headers={"Origin": HERE})
    assert says in plain(asked.text)
    assert editing.asked == []


def test_a_wish_kept_twice_stands_once(ann: Grower) -> None:
    editing = FakeEditing({"rotation": [{"species": "shiitake"}]})
    grower = visitor(ann, editing)
    for _ in range(2):
        assert grower.post(PAGE, data=OYSTER, headers={"Origin": HERE}).status_code == 303
    assert [each["species"] for each in editing.now["rotation"]] == ["grey-oyster"]
