"""`batch` and what follows from it, as a grower types it."""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from chamberwatch.cli import main
from chamberwatch.cli.growing.printing import pairs, show, table
from chamberwatch.cli.growing.typed import moment
from chamberwatch.clock import WallClock
from chamberwatch.core.errors import RefusedError
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.core.growing.sign_table import BAG_IT, SIGNS
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.storage.book import open_books

Run = Callable[..., tuple[int, str, str]]
Tell = Callable[..., str]

LISBON = ZoneInfo("Europe/Lisbon")
COLUMNS = 80

SETTINGS = """
[site]
timezone = "Europe/Lisbon"
[database]
url = "sqlite:///{file}"
[[chamber]]
name = "tent"
title = "Tent"
stage = "fruiting"
shelves = ["top", "lower"]
shelf_holds = 2
living_space = true
surrounding = "room"
[[chamber]]
name = "tub"
title = "Tub"
stage = "fruiting"
[[chamber]]
name = "room"
title = "Living room"
[[sensor]]
name = "middle"
chamber = "tent"
topic = "tent/middle"
reads.co2 = {{ at = "/co2" }}
"""

WANTED = """
[[rotation]]
species = "grey-oyster"
kg_per_week = [0.1, 0.2]
batch_dry_g = 450
"""


@pytest.fixture
def now() -> datetime:
    return WallClock().now()


@pytest.fixture
def home(tmp_path: Path, now: datetime) -> Path:
    """Return a settings file, its database beside it."""
    file = tmp_path / "cw.db"
    config = tmp_path / "chamberwatch.toml"
    config.write_text(SETTINGS.format(file=file), encoding="utf-8")
    open_books(f"sqlite:///{file}", now).close()
    return config


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], home: Path) -> Run:
    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("COLUMNS", str(COLUMNS))
        monkeypatch.setenv("CHAMBERWATCH_CONFIG", str(home))
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words])
        with pytest.raises(SystemExit) as left:
            main()
        code = left.value.code
        shown = capsys.readouterr()
        assert [line for line in shown.out.splitlines() if len(line) > COLUMNS] == []
        assert "\x1b" not in shown.out + shown.err
        return code if isinstance(code, int) else 0, shown.out, shown.err

    return typed


@pytest.fixture
def tell(run: Run) -> Tell:
    """Type something that goes well, and return what was said, blanks taken together."""

    def typed(*words: str) -> str:
        code, said, wrong = run(*words)
        assert (code, wrong) == (0, "")
        return " ".join(said.split())

    return typed


@pytest.fixture
def ago(now: datetime) -> Callable[[int], str]:
    return lambda days: f"{now.astimezone(LISBON) - timedelta(days=days):%Y-%m-%d}"


def _entries(home: Path, now: datetime) -> list[Entry]:
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", now)
    with books.read() as book:
        found = list(book.growing.all())
    books.close()
    return found


# ---------------------------------------------------------------------- a whole life


def test_a_whole_life_of_a_bag(run: Run, tell: Tell, ago: Callable[[int], str]) -> None:
    began = tell(
        *("batch", "start", "Grey oyster", "--in", "tent", "--shelf", "top", "--wet", "2.27 kg"),
        *("--moisture", "62", "--substrate", "oak sawdust", "--spawn", "a kit", "--at", ago(60)),
    )
    assert began.startswith("Batch 1 (grey oyster): colonisation, sealed, in “tent”, shelf “top”.")
    for ahead in ("white through", "ready to open", "pins of flush 1", "time to clear out"):
        assert f" {ahead} between " in began
    assert "The band of “Tent” is now: temperature 18 to 27 °C." in began
    assert "Next: ready to open" in tell("batch", "white", "1", "--at", ago(46))
    said = tell("batch", "opened", "1", "--at", ago(45))
    assert "setting pins" in said
    assert "humidity 90 to 100 %, CO2 at most 1000 ppm." in said
    assert "fruiting, flush 1" in tell("batch", "pinned", "1", "--at", ago(41))
    said = tell("batch", "harvested", "1", "1", "lb", "--at", ago(36))
    assert said.startswith("Picked 454 g of flush 1, 454 g so far. Batch 1")
    assert "resting after flush 1" in said
    said = tell("batch", "harvested", "1", "146.40763g", "--at", ago(35), "--note", "the rest")
    assert said.startswith("Picked 146 g of flush 1, 600 g so far.")
    said = tell("batch", "spent", "1", "--at", ago(2))
    assert said == (
        "Batch 1 (grey oyster): spent. Nothing grows in “Tent” now, so its air is not judged."
    )
    # 2.27 kg at 62 % water are 0.863 kg dry; 0.60 kg picked of that are 70 %.
    shown = tell("batch", "show", "1")
    assert "oak sawdust, 2.27 kg filled, 62 % water, 863 g dry" in shown
    assert "Together 600 g, dried" in shown
    assert "biological efficiency 70 %." in shown
    assert "harvested: 146 g, the rest" in shown
    assert "grey-oyster 1 - 600 g 863 g 70 " in tell("yield")
    assert tell("batch", "list") == "Nothing grows now; --all lists what has ended."
    assert f"1 grey-oyster spent {ago(2)} - - - 600 g" in tell("batch", "list", "--all")
    assert "1 grey-oyster" in tell("batch", "list", "--all", "--in", "tent")
    assert tell("batch", "list", "--all", "--in", "tub") == "Nothing ever stood in “tub”."
    assert "Nothing grows in it now, so its air is not judged." in tell("band", "tent")


@pytest.mark.parametrize("by", ["species", "substrate", "lineage", "shelf", "batch"])
def test_yield_goes_by(tell: Tell, ago: Callable[[int], str], by: str) -> None:
    tell("batch", "start", "shiitake", "--in", "tub", "--dry", "1 kg", "--at", ago(9))
    tell("batch", "contaminated", "1", "--at", ago(1))
    key = {
        "species": "shiitake 1 1",
        "substrate": "not said 1 1",
        "lineage": "from batch 1 (shiitake) 1 1",
        "shelf": "tub 1 1",
        "batch": "1! shiitake",
    }[by]
    said = tell("yield", "--by", by)
    assert f"{key} - 1.00 kg 0 " in said
    assert "fresh weight of all flushes / dry substrate" in said


def test_yield_of_several_has_its_spread(tell: Tell, ago: Callable[[int], str]) -> None:
    for number, weight in enumerate(("300g", "600g", "900g"), start=1):
        tell("batch", "start", "wine cap", "--in", "tub", "--dry", "1 kg", "--at", ago(90))
        tell("batch", "opened", str(number), "--at", ago(50))
        tell("batch", "harvested", str(number), weight, "--at", ago(30))
        tell("batch", "spent", str(number), "--at", ago(20))
    # Standard deviation 30 %, over the square root of three.
    said = tell("yield")
    assert "wine-cap 3 - 1.80 kg 3.00 kg 60 ± 17 1.00 ± 0.29 60 (30-90) (0.50-1.50)" in said


def test_yield_of_what_is_under_way(tell: Tell) -> None:
    tell("batch", "start", "shiitake", "--in", "tub")
    assert tell("yield") == "No batch has ended yet; --by batch shows those under way."
    said = tell("yield", "--by", "batch")
    assert "* still under way." in said
    assert "Dry substrate isn't known of 1. Record the weight" in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param(("batch", "list"), "Nothing was started yet. Tell the first", id="list"),
        pytest.param(("batch", "list", "--all"), "Nothing was started yet.", id="all"),
        pytest.param(("tasks",), "chamberwatch batch start SPECIES --in CHAMBER", id="tasks"),
        pytest.param(("yield",), "No batch has ended yet; --by batch shows", id="yield"),
        pytest.param(("yield", "--by", "batch"), "Nothing was started yet.", id="crops"),
        pytest.param(("cautions",), "nothing to mind that nobody has seen", id="cautions"),
        pytest.param(("band", "tent"), "80 to 95 %: stated stage fruiting;", id="band"),
        pytest.param(("band", "room"), "A room: its air is not judged.", id="room"),
        pytest.param(("see",), "long-stems Long stems small-caps", id="signs"),
    ],
)
def test_before_anything_was_told(tell: Tell, words: tuple[str, ...], said: str) -> None:
    assert said in tell(*words)


# ---------------------------------------------------------------------- what can be told


@pytest.mark.parametrize(
    ("species", "options", "told", "said"),
    [
        pytest.param(
            "button", ("--in", "tub"), ("cased",), "growing through its casing", id="cas"
        ),
        pytest.param("shiitake", (), ("rained",), "outside of any chamber. Next: ", id="rain"),
        pytest.param("shiitake", ("--in", "tub"), ("stage", "pinning"), "setting pins", id="set"),
        pytest.param("reishi", ("--in", "tub"), ("opened",), "growing antlers, flush 1", id="ant"),
        pytest.param("shiitake", ("--in", "tub"), ("note", "a", "[b]"), "colonisation", id="note"),
        pytest.param("shiitake", ("--in", "tub"), ("moved", "--outside"), "outside", id="out"),
        pytest.param(
            "shiitake",
            ("--in", "tent"),
            ("moved", "--shelf", "top"),
            "“tent”, shelf “top”",
            id="up",
        ),
    ],
)
def test_tellings(
    tell: Tell, species: str, options: tuple[str, ...], told: tuple[str, ...], said: str
) -> None:
    where = options or ("--container", "log", "--count", "12")
    tell("batch", "start", species, *where)
    assert said in tell("batch", told[0], "1", *told[1:])
    kinds = {"stage": "stage set: pinning", "note": "noted: a [b]", "rained": "rained on"}
    assert kinds.get(told[0], told[0]) in tell("batch", "show", "1")


def test_what_stands_outdoors_says_when_it_bears_for_it_has_no_date(tell: Tell) -> None:
    tell("batch", "start", "shiitake", "--outside", "--container", "log", "--count", "12")
    assert tell("batch", "show", "1").count("It bears in a mild, wet spell of spring") == 1
    tell("batch", "spent", "1")
    assert "mild, wet spell" not in tell("batch", "show", "1")


def test_rest_and_soak_between_flushes(tell: Tell, ago: Callable[[int], str]) -> None:
    tell("batch", "start", "shiitake", "--in", "tub", "--at", ago(90))
    tell("batch", "opened", "1", "--at", ago(30))
    tell("batch", "pinned", "1", "--at", ago(24))
    assert "resting after flush 1" in tell("batch", "rested", "1", "--at", ago(17))
    assert "Batch 1 (shiitake): soak it (overdue) Lay it in cold, clean" in tell("tasks")
    assert "pins of flush 2" in tell("batch", "soaked", "1")


def test_a_split_goes_its_own_way(tell: Tell) -> None:
    tell("batch", "start", "shiitake", "--in", "tent", "--count", "4", "--wet", "8kg")
    said = tell("batch", "split", "1", "1", "--in", "tub")
    assert "Batch 1 (shiitake, 3 of them): colonisation, sealed, in “tent”." in said
    assert "Batch 2 (shiitake): colonisation, sealed, in “tub”." in said
    assert "The band of “Tub” is now: temperature 18 to 27 °C." in said
    assert "taken out of batch 1" in tell("batch", "show", "2")
    assert "4 sealed bags, 3 left in it" in tell("batch", "show", "1")
    assert "batch 2 came of it" in tell("batch", "show", "1")
    assert "1 shiitake" not in tell("batch", "list", "--in", "tub")


def test_where_it_stands_when_nothing_is_said(run: Run, tell: Tell, home: Path) -> None:
    code, _, wrong = run("batch", "start", "shiitake")
    assert (code, wrong) == (1, "Say where it stands: --in tent or --in tub or --outside.\n")
    text = home.read_text(encoding="utf-8")
    home.write_text(text.replace('title = "Tub"\nstage = "fruiting"\n', ""), encoding="utf-8")
    assert "in “tent”" in tell("batch", "start", "shiitake")


def test_what_is_odd_about_a_place_is_said(tell: Tell, home: Path) -> None:
    limited = home.read_text().replace('name = "tub"', 'name = "tub"\nopen_at_most = 1')
    home.write_text(limited, encoding="utf-8")
    assert "batch moved 1 --shelf SHELF" in tell("batch", "start", "shiitake", "--in", "tent")
    assert "No shelf" not in tell("batch", "moved", "1", "--in", "tent", "--shelf", "top")
    for number in (2, 3):
        tell("batch", "start", "shiitake", "--in", "tub")
        said = tell("batch", "opened", str(number))
        assert ("2 batches are open in “Tub” now, where at most 1" in said) == (number == 3)
    assert "3 batches are open in “Tub”" not in tell("batch", "start", "shiitake", "--in", "tub")


def test_a_line_that_gets_old(tell: Tell, ago: Callable[[int], str]) -> None:
    for number in range(1, 5):
        parent = ("--parent", str(number - 1)) if number > 1 else ()
        tell("batch", "start", "shiitake", "--outside", *parent, "--at", ago(50 - number))
    said = tell("batch", "show", "4")
    assert "generation 4, spawn of batch 3; fourth generation from the same culture" in said


# ---------------------------------------------------------------------- what was wrong


def test_corrections_stand_beside_what_they_correct(tell: Tell, ago: Callable[[int], str]) -> None:
    tell("batch", "start", "shiitake", "--in", "tent", "--shelf", "top", "--at", ago(80))
    tell("batch", "opened", "1", "--at", ago(20))
    tell("batch", "pinned", "1", "--at", ago(15))
    tell("batch", "harvested", "1", "21 oz", "--at", ago(9))
    changed = tell("batch", "correct", "4", "--weight", "12 oz", "--note", "read wrongly")
    assert "Entry 4: 595 g is now 340 g, nothing is now “read wrongly”." in changed
    assert f"{ago(20)} 12:00 is now {ago(21)} 12:00." in tell(
        "batch", "correct", "2", "--at", ago(21)
    )
    tell("batch", "soaked", "1", "--at", ago(1))
    assert "resting after flush 1" in tell("batch", "withdraw", "7", "--note", "another one")
    tell(
        *("batch", "correct-start", "1", "--wet", "5 lb", "--moisture", "60", "--strain", "cold"),
        *("--species", "shiitake", "--shelf", "lower", "--count", "2", "--container", "jar"),
    )
    said = tell("batch", "show", "1")
    assert "2.27 kg filled, 60 % water, 907 g dry strain cold" in said
    assert "in “tent”, shelf “lower”" in said
    assert "(corrected by 5) harvested: 595 g" in said
    assert "harvested (corrects 4): 340 g, read wrongly" in said
    assert "(corrected by 6) opened" in said
    assert "(withdrawn by 8) soaked" in said
    assert "(corrected by 9) started: 1 sealed bag, in “tent”, shelf “top”" in said
    assert "started (corrects 1): 2 jars, in “tent”, shelf “lower”" in said
    assert "Together 340 g" in said
    assert "tent, lower open soak" in tell("batch", "list")
    tell("batch", "correct-start", "1", "--wet", "none", "--moisture", "none", "--strain", "none")
    said = tell("batch", "show", "1")
    assert "For the efficiency: record the weight" in said
    assert "strain" not in said


def test_other_entries_can_be_corrected(tell: Tell, home: Path, now: datetime) -> None:
    tell("batch", "start", "shiitake", "--in", "tent")
    tell("batch", "moved", "1", "--shelf", "top")
    assert "in “tub”." in tell("batch", "correct", "2", "--in", "tub")
    assert "outside" in tell("batch", "correct", "3", "--outside")
    tell("batch", "stage", "1", "pinning")
    assert "fruiting, flush 2" in tell(
        "batch", "correct", "5", "--stage", "fruiting", "--flush", "2"
    )
    tell("see", "1", "blotch")
    tell("batch", "correct", "7", "--sign", "no-pins")
    assert _entries(home, now)[-1].sign == "no-pins"


# ---------------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param("batch start shitake --in tent", "Did you mean shiitake?", id="species"),
        pytest.param(
            "batch start oyster --in tent",
            "mean grey-oyster or phoenix-oyster or",
            id="a-part-of-several",
        ),
        pytest.param("batch start zzz --in tent", "Known: grey-oyster,", id="no-species"),
        pytest.param("batch start shiitake --in shed", "no chamber “shed”", id="chamber"),
        pytest.param("batch start shiitake --in room", "Living room is a room", id="room"),
        pytest.param(
            "batch start shiitake --in tent --shelf attic", "Known: top, lower", id="shelf"
        ),
        pytest.param("batch start shiitake --shelf top", "name it too: --in CHAMBER", id="no-in"),
        pytest.param("batch start shiitake --in tent --outside", "and outside", id="both"),
        pytest.param(
            "batch start shiitake --in tub --container box", "bag, jar, bucket", id="box"
        ),
        pytest.param(
            "batch start shiitake --in tub --wet 5", "600 g, 1.2 kg, 21 oz", id="no-unit"
        ),
        pytest.param("batch start shiitake --in tub --moisture x", "such as 65", id="moisture"),
        pytest.param("batch start shiitake --in tub --parent 99", "no batch 99", id="parent"),
        pytest.param("batch start shiitake --in tub --parent x", "is no number", id="no-parent"),
        pytest.param(
            "batch start shiitake --in tub --at 2999-01-01", "in the future", id="future"
        ),
        pytest.param(
            "batch start shiitake --in tub --at soon", "--at soon can't be read", id="at"
        ),
        pytest.param(
            "batch start shiitake --in tent --shelf top", "holds 2, and batch", id="full"
        ),
        pytest.param("batch harvested 1 600g", "Tell first that it was opened", id="sealed"),
        pytest.param("batch harvested 1 600", "“600” is no weight", id="weight"),
        pytest.param(
            "batch opened 1 --at LAST_YEAR-01-01", "can't have been on 1 January", id="early"
        ),
        pytest.param("batch opened 99", "There is no batch 99", id="no-batch"),
        pytest.param("batch show 99", "There is no batch 99", id="show"),
        pytest.param("batch moved 1", "Say where to: --in CHAMBER, --shelf", id="nowhere"),
        pytest.param("batch stage 1 frooting", "colonisation, case-run, pinning", id="stage"),
        pytest.param("batch split 1 5", "had 1 left, so 5 can't go", id="split"),
        pytest.param("batch correct 1 --weight 600g", "correct its start", id="start"),
        pytest.param(
            "batch correct 3 --shelf top", "Entry 3 told “noted”, which has", id="unplaced"
        ),
        pytest.param("batch correct 3", "at least one option", id="nothing"),
        pytest.param("batch correct 99 --weight 1kg", "There is no entry 99", id="no-entry"),
        pytest.param("batch correct-start 1", "at least one option", id="no-change"),
        pytest.param("batch withdraw 1", "A start can't be withdrawn", id="withdraw"),
        pytest.param("batch list --in shed", "no chamber “shed”", id="list"),
        pytest.param("band shed", "no chamber “shed”", id="band"),
        pytest.param("yield --by colour", "species, substrate, lineage, shelf, batch", id="by"),
        pytest.param("see 1 sad", "There is no sign “sad”", id="sign"),
        pytest.param("see 99", "There is no batch 99", id="see"),
        pytest.param(f"see 1 no-pins --note {'x' * 401}", "longer than 400", id="note"),
        pytest.param("cautions --seen spores-tent-3 --by Ann", "Those that do: none", id="seen"),
        pytest.param("cautions --by Ann", "goes with --seen ID", id="who"),
        pytest.param("rotation --want shiitake=0.2", "--dry shiitake=350g", id="no-dry"),
        pytest.param("rotation --dry shiitake=1kg", "say --want shiitake=KG", id="no-want"),
        pytest.param("rotation --want shiitake=much", "SPECIES=LOW-HIGH", id="want"),
        pytest.param("rotation --want shiitake=2-1", "the lower figure first", id="order"),
        pytest.param(
            "rotation --want shiitake=1 --want shiitake=2", "names the same species", id="twice"
        ),
        pytest.param(
            "rotation --want shiitake=1 --dry shiitake=0g", "more than nothing", id="0 g"
        ),
    ],
)
def test_refused(run: Run, home: Path, now: datetime, words: str, said: str) -> None:
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", now)
    with books.write() as book:
        for _ in range(2):
            book.growing.start(_begun(now))
        book.growing.add(Entry(0, 1, EntryKind.NOTED, now, now, "page", "firm"))
    books.close()
    told = _entries(home, now)
    assert len(told) == 3
    code, shown, wrong = run(*words.replace("LAST_YEAR", str(now.year - 1)).split())
    assert (code, shown) == (1, "")
    assert said in wrong
    assert _entries(home, now) == told


def _begun(now: datetime) -> Entry:
    start = Start("shiitake", Container.BAG)
    return Entry(
        0, 0, EntryKind.STARTED, now, now, "page", start=start, chamber="tent", shelf="top"
    )


def test_faults_of_the_settings_end_with_2(run: Run, home: Path) -> None:
    home.write_text('[site]\ntimezone = "Nowhere"\n', encoding="utf-8")
    code, _, wrong = run("batch", "list")
    assert code == 2
    assert "timezone" in wrong


def test_without_a_database(run: Run, home: Path) -> None:
    (home.parent / "cw.db").unlink()
    code, _, wrong = run("batch", "list")
    assert code == 1
    assert "is not there yet. Start it with chamberwatch run --config" in wrong
    assert not (home.parent / "cw.db").exists()


def test_a_first_bag_may_be_older_than_the_database(run: Run, home: Path) -> None:
    (home.parent / "cw.db").unlink()
    code, shown, _ = run("batch", "start", "grey-oyster", "--in", "tent")
    assert code == 0
    assert "Batch 1" in shown


NOW = datetime(2026, 7, 5, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        pytest.param("", None, id="nothing"),
        pytest.param("2026-07-04", datetime(2026, 7, 4, 11, tzinfo=UTC), id="noon"),
        pytest.param("2026-07-05", NOW, id="today, before noon"),
        pytest.param("2026-07-06", datetime(2026, 7, 6, 11, tzinfo=UTC), id="tomorrow"),
        pytest.param("2026-07-04 18:30", datetime(2026, 7, 4, 17, 30, tzinfo=UTC), id="local"),
        pytest.param("2026-01-04 18:30", datetime(2026, 1, 4, 18, 30, tzinfo=UTC), id="winter"),
        pytest.param("2026-07-04T18:30:00Z", datetime(2026, 7, 4, 18, 30, tzinfo=UTC), id="zone"),
    ],
)
def test_times_as_they_are_typed(text: str, at: datetime | None) -> None:
    assert moment(text, NOW, LISBON) == at


def test_a_time_that_nobody_can_mean() -> None:
    with pytest.raises(RefusedError, match="look at the year"):
        moment("0001-01-01T00:00+14:00", NOW, LISBON)


# ---------------------------------------------------------------------- what follows


def test_spores_are_minded_once(tell: Tell, ago: Callable[[int], str]) -> None:
    said = ""
    for number in ("1", "2", "3"):
        tell("batch", "start", "grey-oyster", "--in", "tent", "--at", ago(30))
        said = tell("batch", "opened", number, "--at", ago(1))
    # Who opened it reads it at once, and later in a line; before the tub it is no matter.
    for answer in (said, tell("cautions")):
        assert "3 open batches where people live: mind the spores Breathing many" in answer
        assert "Lenhart & Cole 1993" in answer
        assert "chamberwatch cautions --seen spores-tent-3 --by NAME" in answer
    said = tell("batch", "note", "3", "strong")
    assert "mind the spores. `chamberwatch cautions` says why" in said
    assert "Breathing" not in said
    assert "spores" not in tell("batch", "start", "shiitake", "--in", "tub")
    assert tell("cautions", "--seen", "spores-tent-3", "--by", "Ann  B.") == "Seen by Ann B.."
    assert tell("cautions") == "There is nothing to mind that nobody has seen."


@pytest.mark.parametrize("where", [("--in", "tub"), ("--outside",)], ids=["tub", "outside"])
def test_contamination_says_what_to_do(tell: Tell, where: tuple[str, ...]) -> None:
    tell("batch", "start", "shiitake", *where)
    said = tell("batch", "contaminated", "1", "--note", "green at the top")
    assert f"Batch 1 (shiitake) is contaminated: bag it {BAG_IT}" in said
    assert "cautions --seen contaminated-1-1 --by NAME" in said
    tell("cautions", "--seen", "contaminated-1-1", "--by", "Ann")
    assert tell("cautions") == "There is nothing to mind that nobody has seen."


def test_mould_outdoors_is_minded_when_it_is_seen(tell: Tell) -> None:
    tell("batch", "start", "shiitake", "--outside")
    tell("see", "1", "green-patches")
    assert "Batch 1 (shiitake) looks contaminated: bag it" in tell("cautions")


def test_air_for_antlers_is_none_for_people(tell: Tell, ago: Callable[[int], str]) -> None:
    tell("batch", "start", "reishi", "--in", "tub", "--at", ago(30))
    said = tell("batch", "opened", "1")
    assert "Tub: its band lets carbon dioxide go up to 40 000 ppm" in said
    assert "don't lean in" in said
    assert tell("cautions", "--seen", "co2-tub-40000", "--by", "Ann") == "Seen by Ann."


def test_what_is_seen_is_joined_to_the_air(
    tell: Tell, home: Path, now: datetime, ago: Callable[[int], str]
) -> None:
    books = open_books(f"sqlite:///{home.parent / 'cw.db'}", now)
    with books.write() as book:
        book.readings.add(
            Reading(now - timedelta(hours=n), "middle", Quantity.CO2, 1800.0) for n in range(100)
        )
    books.close()
    tell("batch", "start", "grey-oyster", "--in", "tent", "--at", ago(30))
    tell("batch", "opened", "1", "--at", ago(9))
    said = tell("see", "1", "long-stems", "--note", "at the back")
    assert "speaks for it Stale air: " in said
    assert "CO2 was above 1000 ppm for 100 % of" in said
    assert said.endswith("Kept as entry 3 of batch 1.")
    (kept,) = (entry for entry in _entries(home, now) if entry.sign)
    assert kept.note.startswith("at the back Long stems. The air speaks for: stale air")
    assert "long-stems Long stems" in tell("see", "1")
    assert tell("see", "1", "green-patches").count(BAG_IT) == 1
    assert "batch 1 (grey oyster) looks contaminated" in tell("cautions").lower()


def test_band_with_its_reasons(tell: Tell, ago: Callable[[int], str]) -> None:
    tell("batch", "start", "grey-oyster", "--in", "tent", "--at", ago(30))
    tell("batch", "opened", "1", "--at", ago(9))
    tell("batch", "start", "button", "--in", "tent", "--at", ago(30))
    said = tell("batch", "cased", "2", "--at", ago(9))
    assert "No temperature suits all: batch 1 (grey oyster, pinning) wants" in said
    tell("batch", "start", "shiitake", "--in", "tent")
    said = tell("band")
    assert "Humidity 90 to 100 %: pinning, grey oyster, batch 1; " in said
    assert "No temperature suits all: " in said
    assert "Sealed, so only temperature is asked for: batch 3 (shiitake)." in said
    assert "Tub (tub) Temperature 13 to 24 °C: stated stage fruiting" in said
    assert "Living room" not in said


def test_no_chamber_to_grow_in(run: Run, tell: Tell, home: Path) -> None:
    text = home.read_text(encoding="utf-8").replace('stage = "fruiting"\n', "")
    home.write_text(text, encoding="utf-8")
    assert tell("band").startswith("No chamber is declared in which anything grows")
    assert run("batch", "start", "shiitake")[2] == "Say where it stands: --outside.\n"


def test_tasks_of_the_day_and_of_later(tell: Tell, ago: Callable[[int], str]) -> None:
    tell("batch", "start", "grey-oyster", "--in", "tent")
    said = tell("tasks")
    assert said.startswith("Nothing to do today. What comes first: Batch 1: white through, most")
    tell("batch", "start", "grey-oyster", "--in", "tub", "--at", ago(70))
    assert "Batch 2 (grey oyster): look whether it is white through (overdue)" in tell("tasks")
    tell("batch", "spent", "1")
    tell("batch", "spent", "2")
    assert tell("tasks") == "Nothing to do today, and nothing lies ahead."


def test_rotation_of_the_settings_and_what_if(run: Run, tell: Tell, home: Path) -> None:
    code, _, wrong = run("rotation")
    assert code == 1
    assert wrong.startswith("Nothing is wanted, so nothing can be planned.")
    home.write_text(home.read_text(encoding="utf-8") + WANTED, encoding="utf-8")
    said = tell("rotation")
    assert said.startswith("Planned on ")
    assert "grey-oyster 0.10-0.20 kg a week, from batches of 450 g dry substrate" in said
    assert said.count(" grey-oyster tent, ") + said.count(" grey-oyster tub ") >= 1
    short = tell("rotation", "--weeks", "3", "--want", "shiitake=0.2kg", "--dry", "shiitake=1 lb")
    assert "shiitake 0.20 kg a week, from batches of 454 g dry substrate" in short
    assert "grey-oyster" not in short
    other = tell("rotation", "--dry", "grey-oyster=900g")
    assert "grey-oyster 0.10-0.20 kg a week, from batches of 900 g" in other
    much = tell("rotation", "--want", "grey-oyster=5-9")
    assert "What gives" in much
    assert "█" in much
    assert "the same" in much


# ---------------------------------------------------------------------- completion


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        pytest.param("batch start shi", {"shiitake"}, id="species"),
        pytest.param("batch start shiitake --container b", {"bag", "bucket"}, id="container"),
        pytest.param("batch start shiitake --in t", {"tent", "tub"}, id="chambers"),
        pytest.param("batch moved 1 --in tent --shelf l", {"lower"}, id="shelves"),
        pytest.param("batch opened ", {"2"}, id="living"),
        pytest.param("batch show ", {"1", "2"}, id="every"),
        pytest.param("batch stage 2 c", {"colonisation", "case-run", "conk"}, id="stages"),
        pytest.param("see 2 lo", {"long-stems"}, id="signs"),
        pytest.param("yield --by s", {"species", "substrate", "shelf"}, id="by"),
        pytest.param("batch rai", {"rained"}, id="commands"),
    ],
)
def test_the_shell_completes(
    run: Run, tell: Tell, monkeypatch: pytest.MonkeyPatch, typed: str, offered: set[str]
) -> None:
    tell("batch", "start", "shiitake", "--in", "tub")
    tell("batch", "spent", "1")
    tell("batch", "start", "shiitake", "--in", "tub")
    monkeypatch.setenv("_CHAMBERWATCH_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", f"chamberwatch {typed}")
    monkeypatch.setenv("COMP_CWORD", str(len(f"x {typed}".split(" ")) - 1))
    _, shown, _ = run()
    assert set(shown.split()) == offered


@pytest.mark.parametrize(
    ("typed", "there"),
    [
        pytest.param("batch opened ", "database", id="batches"),
        pytest.param("batch start shiitake --in t", "settings", id="chambers"),
        pytest.param("batch moved 1 --shelf t", "settings", id="shelves"),
        pytest.param("batch opened ", "settings", id="numbers"),
    ],
)
def test_what_is_missing_offers_nothing(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch, typed: str, there: str
) -> None:
    (home if there == "settings" else home.parent / "cw.db").unlink()
    monkeypatch.setenv("_CHAMBERWATCH_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", f"chamberwatch {typed}")
    monkeypatch.setenv("COMP_CWORD", str(len(f"x {typed}".split(" ")) - 1))
    _, shown, wrong = run()
    assert (shown.split(), wrong) == ([], "")


def test_faulty_species_offer_nothing(
    run: Run, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (home.parent / "species.toml").write_text("[[species]]\n", encoding="utf-8")
    monkeypatch.setenv("_CHAMBERWATCH_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", "chamberwatch batch start s")
    monkeypatch.setenv("COMP_CWORD", "3")
    assert run()[1].split() == []


def test_every_sign_is_listed(tell: Tell) -> None:
    said = tell("see")
    assert [name for name in SIGNS if name not in said] == []


def test_what_people_wrote_does_nothing_to_the_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    wrote = "a note\x1b[2J\N{RIGHT-TO-LEFT OVERRIDE} [bold]"
    show(wrote, table(("note",), [(wrote,)]), pairs([("note", wrote)]))
    printed = capsys.readouterr().out
    assert printed.count("a note [2J [bold]") == 3
    assert not {"\x1b", "\N{RIGHT-TO-LEFT OVERRIDE}"} & set(printed)
