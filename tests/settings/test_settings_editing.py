"""Changing the file: what was meant is changed, and every other letter of it stays."""

import codecs
import stat
import threading
import tomllib
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import Fault, RefusedError, SettingsError
from chamberwatch.settings import Edit, Put, SetKeys, Settings, SettingsFile, TakeOut, load
from chamberwatch.settings.editing import applied, edited
from chamberwatch.settings.pieces import pieces

SHIPPED = Path(__file__).parents[2] / "config" / "chamberwatch.toml"
TEXT = SHIPPED.read_text(encoding="utf-8")
NEW = Put(
    "sensor",
    "new",
    {
        "chamber": "tent",
        "topic": "garden/2/climate",
        "reads": {"humidity": {"at": "/h", "unit": "%"}, "co2": {"at": "/c"}},
    },
)

MIXED = """\
# mine
[[chamber]]
name = "tent"   # the big one
stage = "fruiting"

# the one in the middle
[[sensor]]
name = "a"
chamber = "tent"
topic = "a"
[sensor.reads.humidity]
at = "/h"

[[chamber]]
name = "room"
# about the room

# its sensor
[[sensor]]
name = "b"
chamber = "room"
topic = "b"
reads = { humidity = { at = "/h" } }
[site]
timezone = "UTC"
"""

_VOLUME = (
    "volume_l = {}           # free air [L]: length x width x height in cm, divided by 1000, less"
)
_ALTITUDE = "altitude_m = {}             # gives the air pressure where no sensor measures it"
_HOLDS = (
    "shelf_holds = 2          # batches that a shelf takes; without it: not checked, and one in a "
    "plan"
)


def comments(text: str) -> Counter[str]:
    """Return the comment lines of a file; a # inside a text does not begin one at a line."""
    return Counter(line for line in text.splitlines() if line.lstrip().startswith("#"))


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Return lines that went and lines that came."""
    old, new = Counter(before.splitlines()), Counter(after.splitlines())
    return list((old - new).elements()), list((new - old).elements())


@pytest.mark.parametrize(
    ("text", "edit", "gone", "come"),
    [
        pytest.param(
            TEXT,
            Put("chamber", "tent", {"volume_l": 600}),
            [_VOLUME.format(500)],
            [_VOLUME.format(600)],
            id="a value, with its comment",
        ),
        pytest.param(
            TEXT,
            Put("chamber", "tent", {"early": "30 min"}),
            [],
            ['early = "30 min"'],
            id="a key that was not there",
        ),
        pytest.param(
            TEXT,
            Put("chamber", "tent", {"shelf_holds": None}),
            [_HOLDS],
            [],
            id="a key taken out",
        ),
        pytest.param(
            TEXT,
            Put("chamber", "tent", {"volume_l": 500, "title": "Tent", "early": None}),
            [],
            [],
            id="nothing new",
        ),
        pytest.param(
            TEXT,
            SetKeys("site", {"altitude_m": 300.0}),
            [_ALTITUDE.format(120)],
            [_ALTITUDE.format("300.0")],
            id="a section",
        ),
        pytest.param(
            MIXED,
            Put("sensor", "b", {"reads": {"humidity": {"unit": "%"}}}),
            ['reads = { humidity = { at = "/h" } }'],
            ['reads = { humidity = { at = "/h", unit = "%"} }'],
            id="inside a table on one line",
        ),
        pytest.param(
            MIXED,
            Put("sensor", "a", {"reads": {"co2": {"at": "/c"}, "humidity": None}}),
            ["[sensor.reads.humidity]"],
            ["[sensor.reads.co2]", 'at = "/c"'],
            id="a part for another",
        ),
    ],
)
def test_only_that_line_changes(text: str, edit: Edit, gone: list[str], come: list[str]) -> None:
    after = edited(text, [edit])
    old, new = changed_lines(text, after)
    assert [line for line in old if line != 'at = "/h"'] == gone
    assert new == come
    assert tomllib.loads(after) == applied(tomllib.loads(text), edit)


def test_a_new_sensor_stands_behind_the_last_one_and_before_what_is_said_of_others() -> None:
    after = edited(TEXT, [NEW])
    written = (
        '\n[[sensor]]\nname = "new"\nchamber = "tent"\ntopic = "garden/2/climate"\n'
        '[sensor.reads.humidity]\nat = "/h"\nunit = "%"\n[sensor.reads.co2]\nat = "/c"\n'
    )
    assert after.replace(written, "", 1) == TEXT
    before, _, behind = after.partition(written)
    assert before.endswith('unit = "V"               # V, mV\n')
    assert behind.startswith("\n# A sensor on an I2C bus of this machine")


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="an empty file"),
        pytest.param("[site]\ntimezone = 'UTC'", id="no end of the last line"),
        pytest.param("# nothing yet\n", id="a comment alone"),
    ],
)
def test_the_first_of_its_kind_goes_to_the_end(text: str) -> None:
    after = edited(text, [Put("chamber", "tent", {"stage": "fruiting"}), SetKeys("web", {})])
    assert after.startswith(text)
    assert tomllib.loads(after)["chamber"] == [{"name": "tent", "stage": "fruiting"}]


def test_a_part_may_be_exchanged_for_another_one() -> None:
    edit = Put("sensor", "a", {"reads": {"humidity": None, "co2": {"at": "/c"}}})
    (sensor, *_) = tomllib.loads(edited(MIXED, [edit]))["sensor"]
    assert sensor["reads"] == {"co2": {"at": "/c"}}


def test_a_wish_goes_by_its_species() -> None:
    text = '[[rotation]]\nspecies = "shiitake"  # for the soup\nkg_per_week = 0.2\n'
    edits = [
        Put("rotation", "shiitake", {"kg_per_week": [0.3, 0.4]}),
        Put("rotation", "grey-oyster", {"kg_per_week": [0.4, 0.6], "batch_dry_g": 350.0}),
    ]
    after = edited(text, edits)
    assert 'species = "shiitake"  # for the soup\nkg_per_week = [0.3, 0.4]\n' in after
    assert tomllib.loads(after)["rotation"][1]["species"] == "grey-oyster"
    assert "shiitake" not in edited(after, [TakeOut("rotation", "shiitake")])


def test_sections_that_take_turns_keep_their_turns() -> None:
    after = edited(MIXED, [Put("chamber", "tent", {"volume_l": 90}), TakeOut("sensor", "a")])
    assert [(p.root, p.listed) for p in pieces(after)] == [
        ("", False),
        ("chamber", True),
        ("chamber", True),
        ("sensor", True),
        ("site", False),
    ]
    assert "# the one in the middle" in after
    assert 'name = "tent"   # the big one\nstage = "fruiting"\nvolume_l = 90\n' in after


def test_what_is_taken_out_last_leaves_no_empty_list() -> None:
    after = edited("[[chamber]]\nname = 'a'\n# of it\n\n# of others\n", [TakeOut("chamber", "a")])
    assert after == "\n# of others\n"


def test_line_ends_stay_as_they_are() -> None:
    text = MIXED.replace("\n", "\r\n")
    after = edited(text, [NEW, Put("chamber", "tent", {"volume_l": 90})])
    assert after.count("\n") == after.count("\r\n")
    assert comments(after) == comments(text)


def test_a_header_inside_a_text_is_none() -> None:
    text = '[[chamber]]\nname = "tent"\ntitle = """\n[[sensor]]\n# no comment\n"""\n'
    assert len(pieces(text)) == 2
    after = edited(text, [Put("chamber", "tent", {"volume_l": 1})])
    assert tomllib.loads(after)["chamber"][0]["title"] == "[[sensor]]\n# no comment\n"


def test_an_address_without_a_name_is_found_under_the_one_it_is_given() -> None:
    text = '[[notify]]\nto = "json://a"\n[[notify]]\nto = "json://b"\n'
    when = [
        {"days": "mon-fri", "hours": "07:00-08:30"},
        {"days": "sat,sun", "hours": "9:00-22:00"},
    ]
    after = edited(text, [Put("notify", "phone-2", {"most_per_hour": 3, "when": when})])
    second = tomllib.loads(after)["notify"][1]
    assert second == {"to": "json://b", "most_per_hour": 3, "when": when}


@pytest.mark.parametrize(
    ("text", "edit"),
    [
        pytest.param("chamber = [{ name = 'a' }]\n", Put("chamber", "b", {}), id="a list"),
        pytest.param("site = 3\n", SetKeys("site", {"altitude_m": 1.0}), id="not a section"),
        pytest.param(MIXED, TakeOut("sensor", "c"), id="no such entry"),
    ],
)
def test_what_cannot_be_followed_is_refused(text: str, edit: Edit) -> None:
    with pytest.raises(RefusedError, match=r"Change it by hand|any more"):
        edited(text, [edit])


# ------------------------------------------------------------------ anything at all

VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-1000, 1000),
    st.floats(-1000, 1000),
    st.text(max_size=20),
    st.lists(st.text(max_size=8), max_size=3),
    st.lists(st.fixed_dictionaries({"days": st.text(max_size=5)}), max_size=2),
)
KEYS = st.dictionaries(
    st.sampled_from(["title", "stage", "volume_l", "shelves", "early", "new key", "ключ"]),
    VALUES,
    max_size=4,
)
PARTS = st.dictionaries(
    st.sampled_from(["humidity", "co2", "pressure"]),
    st.one_of(st.none(), st.dictionaries(st.sampled_from(["at", "unit"]), VALUES, min_size=1)),
    max_size=3,
)
NAMES = st.sampled_from(["tent", "room", "tent-middle", "tent-top", "room-shelf", "a", "b", "new"])
EDITS = st.one_of(
    st.builds(Put, st.sampled_from(["chamber", "notify"]), NAMES, KEYS),
    st.builds(
        lambda name, keys, parts: Put("sensor", name, {**keys, "reads": parts}),
        NAMES,
        KEYS,
        PARTS,
    ),
    st.builds(SetKeys, st.sampled_from(["site", "web"]), KEYS),
)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from([TEXT, MIXED, MIXED.replace("\n", "\r\n")]), st.lists(EDITS, max_size=4))
def test_no_change_touches_another_key_or_loses_a_comment(text: str, edits: list[Edit]) -> None:
    wanted = tomllib.loads(text)
    for edit in edits:
        wanted = applied(wanted, edit)
    after = edited(text, edits)
    assert tomllib.loads(after) == wanted
    assert not comments(text) - comments(after)


@settings(deadline=None)
@given(st.sampled_from([TEXT, MIXED]), st.sampled_from(["chamber", "sensor"]), st.data())
def test_taking_out_leaves_all_else(text: str, kind: str, data: st.DataObject) -> None:
    names = [entry["name"] for entry in tomllib.loads(text)[kind]]
    edit = TakeOut(kind, data.draw(st.sampled_from(names)))  # type: ignore[arg-type]
    after = edited(text, [edit])
    assert tomllib.loads(after) == applied(tomllib.loads(text), edit)
    assert not list((Counter(after.splitlines()) - Counter(text.splitlines())).elements())


# ------------------------------------------------------------------ on the disk


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "chamberwatch.toml"
    path.write_bytes(codecs.BOM_UTF8 + TEXT.encode())
    path.chmod(0o640)
    return path


def test_it_is_written_whole_with_its_rights_and_what_was_before_is_kept(file: Path) -> None:
    was, told = file.read_bytes(), []
    SettingsFile(file, {}, taken=lambda: told.append(1)).change([NEW])
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert "new" in load(file, {}).house().sensors
    assert file.read_bytes().startswith(codecs.BOM_UTF8)
    assert (file.parent / "chamberwatch.toml.before").read_bytes() == was
    assert sorted(path.name for path in file.parent.iterdir()) == [
        "chamberwatch.toml",
        "chamberwatch.toml.before",
    ]
    assert told == [1]


def test_nothing_is_written_where_the_whole_would_be_at_fault(file: Path) -> None:
    was, told = file.read_bytes(), []
    with pytest.raises(SettingsError) as refused:
        SettingsFile(file, {}, taken=lambda: told.append(1)).change(
            [NEW, Put("sensor", "new", {"chamber": "tnet", "topic": "a/#/b"})]
        )
    assert {(fault.key, fault.value) for fault in refused.value.faults} == {
        ('sensor[4] "new".chamber', '"tnet"'),
        ('sensor[4] "new".topic', '"a/#/b"'),
    }
    assert file.read_bytes() == was
    assert len(list(file.parent.iterdir())) == 1
    assert told == []


def test_what_else_can_be_wrong_is_asked_too(file: Path) -> None:
    def more(settings: Settings) -> list[Fault]:
        return [Fault("f", "web.host", "", "No.")] if settings.web.host == "192.0.2.1" else []

    was = file.read_bytes()
    with pytest.raises(SettingsError, match="No"):
        SettingsFile(file, {}, more).change([SetKeys("web", {"host": "192.0.2.1"})])
    assert file.read_bytes() == was


def test_a_change_by_hand_in_between_is_kept(file: Path) -> None:
    kept = SettingsFile(file, {})
    kept.content()
    file.write_text(file.read_text("utf-8-sig").replace("squeeze_g = 1.0", "squeeze_g = 1.3"))
    kept.change([NEW])
    assert load(file, {}).chamber[0].squeeze_g == 1.3


def test_many_at_once_are_made_one_by_one(file: Path) -> None:
    kept = SettingsFile(file, {})
    content = NEW.content

    def add(number: int) -> None:
        kept.change([Put("sensor", f"new-{number}", {**content, "topic": f"t/{number}"})])

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {f"new-{number}" for number in range(8)} <= set(load(file, {}).house().sensors)


def test_a_link_stays_one(file: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(file)
    SettingsFile(link, {}).change([NEW])
    assert link.is_symlink()
    assert "new" in load(file, {}).house().sensors


def test_no_file_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="There is no such file"):
        SettingsFile(tmp_path / "none.toml", {}).change([NEW])


def test_a_folder_that_cannot_be_written_is_said_so_with_the_cure(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Root may write anywhere, so the folder's rights alone would not show it.
    def refused(**_: object) -> tuple[int, str]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refused)
    was = file.read_bytes()
    with pytest.raises(RefusedError, match=r"Permission denied.*Nothing was changed.*right to"):
        SettingsFile(file, {}).change([NEW])
    assert file.read_bytes() == was
