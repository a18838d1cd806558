"""The grower's own species.toml: what it changes, and what is said of its faults."""

import json
import tomllib
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chamberwatch.core.errors import SettingsError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.patience import OwnPatience
from chamberwatch.core.growing.species import Mark, SpeciesTable, Stated, View
from chamberwatch.settings import load_species, shipped_species, species_faults
from chamberwatch.settings.species import _read
from chamberwatch.settings.species_shapes import (
    SpeciesFile,
    SpeciesShape,
    StageShape,
    ViewShape,
)

EXAMPLE = Path(__file__).parents[2] / "config" / "species.toml"
SHIPPED = shipped_species()
YOURS = "yours"
SHIITAKE = '[[species]]\nname = "shiitake"\n'
FRUITING = f'{SHIITAKE}[[species.stage]]\nname = "fruiting"\n'
NEW = '[[species]]\nname = "blue"\ntitle = "Blue"\nlatin = "P. sp."\n'
STAGED = f'{NEW}[[species.stage]]\nname = "fruiting"\n'


def _beside(folder: Path, text: str) -> Path:
    """Return a settings file that isn't there, beside a species.toml that is."""
    (folder / "species.toml").write_text(text, encoding="utf-8")
    return folder / "house.toml"


def _loaded(folder: Path, text: str) -> SpeciesTable:
    return load_species(_beside(folder, text))


# ------------------------------------------------------------------ what it changes


def test_without_a_file_the_table_is_the_shipped_one(tmp_path: Path) -> None:
    assert load_species(tmp_path / "house.toml") is SHIPPED
    assert species_faults(tmp_path / "house.toml") == ()
    assert SHIPPED.own == frozenset()


def test_an_own_figure_comes_first_and_the_rest_stays(tmp_path: Path) -> None:
    table = _loaded(tmp_path, FRUITING + "humidity_pct = { low = 65, high = 85 }\n")
    was, is_ = SHIPPED.get("shiitake"), table.get("shiitake")
    fruiting, before = is_.stages[Stage.FRUITING], was.stages[Stage.FRUITING]
    assert before.humidity_pct is not None
    own = View(65.0, 85.0, YOURS, Mark.COMMON)
    assert fruiting.humidity_pct == Stated((own, *before.humidity_pct.views), "your own figure")
    assert fruiting.temperature_c == before.temperature_c
    assert is_.stages[Stage.PINNING] == was.stages[Stage.PINNING]
    assert is_.flushes == was.flushes
    assert table.own == {"shiitake"}
    assert str(tmp_path / "species.toml") in table.sources[YOURS]
    others = {name: one for name, one in SHIPPED.species.items() if name != "shiitake"}
    assert {name: table.get(name) for name in others} == others
    assert list(table.species) == list(SHIPPED.species)


@pytest.mark.parametrize(
    ("written", "views", "reason"),
    [
        pytest.param(
            "{ high = 25, reason = 'it is old' }", [(None, 25.0)], "it is old", id="its reason"
        ),
        pytest.param(
            "[{ low = 5, high = 9 }, { low = 3, high = 5 }]",
            [(5.0, 9.0), (3.0, 5.0)],
            "your own figure",
            id="a list",
        ),
        pytest.param(
            "{ reason = 'cold', views = [{ low = 5 }, { low = 3 }] }",
            [(5.0, None), (3.0, None)],
            "cold",
            id="spelt out",
        ),
    ],
)
def test_ways_to_write_a_figure(
    tmp_path: Path, written: str, views: list[tuple[float | None, float | None]], reason: str
) -> None:
    table = _loaded(tmp_path, f"{SHIITAKE}days_between = {written}\n")
    stated, before = table.get("shiitake").days_between, SHIPPED.get("shiitake").days_between
    assert stated is not None
    assert before is not None
    own = tuple(View(low, high, YOURS) for low, high in views)
    assert stated == Stated((*own, *before.views), reason)


def test_a_figure_says_its_own_source_and_mark(tmp_path: Path) -> None:
    table = _loaded(
        tmp_path,
        FRUITING
        + 'co2_ppm = { high = 900, source = "club", mark = "read", note = "tents" }\n'
        + 'days = { low = 4, high = 6, source = "S00" }\n'
        + '[sources]\nclub = "Notes of our club"\n',
    )
    fruiting = table.get("shiitake").stages[Stage.FRUITING]
    assert fruiting.co2_ppm is not None
    assert fruiting.co2_ppm.used == View(None, 900.0, "club", Mark.READ, "tents")
    assert fruiting.days is not None
    assert fruiting.days.used.source == "S00"
    assert table.sources["club"] == "Notes of our club"
    assert table.sources["S00"] == SHIPPED.sources["S00"]


def test_a_new_species_takes_from_another_what_it_does_not_say(tmp_path: Path) -> None:
    table = _loaded(
        tmp_path,
        '[[species]]\nname = "blue-oyster"\nlike = "grey-oyster"\ntitle = "Blue oyster"\n'
        "flushes = { low = 2, high = 3 }\n"
        '[[species.stage]]\nname = "pinning"\nco2_ppm = { high = 800 }\nlight_note = "dim"\n'
        '[[species]]\nname = "sky-oyster"\nlike = "blue-oyster"\nsoaked = true\n'
        'notes = ["Sky."]\n',
    )
    blue, grey = table.get("blue-oyster"), SHIPPED.get("grey-oyster")
    assert (blue.name, blue.title, blue.latin) == ("blue-oyster", "Blue oyster", grey.latin)
    # Views of the other species are not views of this one.
    assert blue.flushes == Stated((View(2.0, 3.0, YOURS),))
    assert blue.efficiency_pct == grey.efficiency_pct
    assert blue.stages[Stage.PINNING].co2_ppm == Stated((View(None, 800.0, YOURS),))
    assert blue.stages[Stage.PINNING].light_note == "dim"
    assert blue.stages[Stage.FRUITING] == grey.stages[Stage.FRUITING]
    sky = table.get("sky-oyster")
    assert (sky.flushes, sky.soaked, sky.notes) == (blue.flushes, True, ("Sky.",))
    assert list(table.species)[-2:] == ["blue-oyster", "sky-oyster"]
    assert table.own == {"blue-oyster", "sky-oyster"}


def test_a_new_species_of_its_own(tmp_path: Path) -> None:
    text = f"{STAGED}days = {{ low = 5, high = 7 }}\n"
    text += '[[species.stage]]\nname = "colonisation"\ndays = { low = 9, high = 9.5 }\n'
    blue = _loaded(tmp_path, text).get("blue")
    assert list(blue.stages) == [Stage.COLONISATION, Stage.FRUITING]
    assert blue.stages[Stage.FRUITING].days == Stated((View(5.0, 7.0, YOURS),))
    assert blue.stages[Stage.FRUITING].humidity_pct is None
    assert (blue.title, blue.latin, blue.pick_when) == ("Blue", "P. sp.", "")


# ------------------------------------------------------------------ what is wrong with it

IN_FRUITING = 'species[1] "shiitake".stage[1] "fruiting"'
ONE_FAULT = [
    pytest.param(
        "[[specis]]\n",
        "specis: There is no such key; take it out. Did you mean species?",
        id="a section misspelt",
    ),
    pytest.param(
        "species = 1\n",
        "species = 1: Write each as a section of its own that begins with [[species]].",
        id="no list",
    ),
    pytest.param(
        "sources = []\n",
        'sources = []: Write it as a section, [sources], with lines such as key = "full title".',
        id="no section",
    ),
    pytest.param(
        '[[species]]\ntitle = "X"\n', "species[1].name: Add it; it is needed.", id="no name"
    ),
    pytest.param(
        '[[species]]\nname = "Shii Take"\n',
        'species[1] "Shii Take".name = "Shii Take": '
        "Use small letters, digits and hyphens, such as tent or tent-2.",
        id="a bad name",
    ),
    pytest.param(
        SHIITAKE + SHIITAKE,
        'species[2] "shiitake".name = "shiitake": Two have this '
        "name; give each its own, or make them one.",
        id="twice",
    ),
    pytest.param(
        SHIITAKE + 'like = "enoki"\n',
        'species[1] "shiitake".like = "enoki": It is in '
        "the table already; take like out, or choose a name of your own.",
        id="like, for a shipped one",
    ),
    pytest.param(
        '[[species]]\nname = "x"\nlike = "shitake"\n',
        'species[1] "x".like = "shitake": There is no such species. Did you mean shiitake?',
        id="like what",
    ),
    pytest.param(
        '[[species]]\nname = "shitake"\nlatin = "L."\n' + STAGED.removeprefix(NEW),
        'species[1] "shitake".title: A new species needs it; add it, or like = "shiitake" '
        "to start from another. Did you mean shiitake?",
        id="a name misspelt",
    ),
    pytest.param(
        NEW,
        'species[1] "blue".stage: A new species needs at least one [[species.stage]].',
        id="no stage",
    ),
    pytest.param(
        SHIITAKE + "[[species.stage]]\n",
        'species[1] "shiitake".stage[1].name: Add it; it is needed.',
        id="a stage without a name",
    ),
    pytest.param(
        SHIITAKE + '[[species.stage]]\nname = "pining"\n',
        'species[1] "shiitake".stage[1] "pining".name = "pining": Write one of '
        "colonisation, case run, pinning, fruiting, antler, conk. Did you mean pinning?",
        id="a stage misspelt",
    ),
    pytest.param(
        FRUITING + '[[species.stage]]\nname = "fruiting"\n',
        'species[1] "shiitake".stage[2] "fruiting".name = "fruiting": Two are this stage; '
        "make them one.",
        id="a stage twice",
    ),
    pytest.param(
        FRUITING + "humidty_pct = { low = 1 }\n",
        IN_FRUITING + ".humidty_pct: There is no such key; "
        "take it out. Did you mean humidity_pct?",
        id="a figure misspelt",
    ),
    pytest.param(
        FRUITING + "humidity_pct = 80\n",
        IN_FRUITING + ".humidity_pct = 80: Write a range, such as { low = 85, high = 90 }.",
        id="one number",
    ),
    pytest.param(
        SHIITAKE + "flushes = 3\n",
        'species[1] "shiitake".flushes = 3: Write a range, such as { low = 2, high = 4 }.',
        id="a number of flushes",
    ),
    pytest.param(
        FRUITING + "temperature_c = { high = 114 }\n",
        IN_FRUITING + ".temperature_c.high = 114: Give -5 to 45.",
        id="too hot by any scale",
    ),
    pytest.param(
        '[[species]]\nname = "maitake"\nlatin = "L."\n' + STAGED.removeprefix(NEW),
        'species[1] "maitake".title: A new species needs it; add it, or like = "shiitake" '
        "to start from another.",
        id="another one, not a name misspelt",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { views = 5 }\n",
        IN_FRUITING + ".humidity_pct.views = 5: Write a list "
        "of ranges, such as [{ low = 85, high = 90 }].",
        id="no list of views",
    ),
    pytest.param(
        FRUITING + "humidity_pct = [[5]]\n",
        IN_FRUITING + ".humidity_pct[1] = [5]: Write a list "
        "of ranges, such as [{ low = 85, high = 90 }].",
        id="a view that is none",
    ),
    pytest.param(
        FRUITING + "humidity_pct = []\n",
        IN_FRUITING + ".humidity_pct: Give it a range, such as { low = 85, high = 90 }.",
        id="no views",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { }\n",
        IN_FRUITING + ".humidity_pct: Give low, high or both.",
        id="neither end",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { lo = 5, high = 80 }\n",
        IN_FRUITING + ".humidity_pct.lo = 5: There is no such key; take it out. Did you mean low?",
        id="an end misspelt",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { low = '60', high = 80 }\n",
        IN_FRUITING + '.humidity_pct.low = "60": Write a number.',
        id="a text",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { low = 85, high = 80 }\n",
        IN_FRUITING + ".humidity_pct: low 85 is above high 80; swap them.",
        id="upside down",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { low = 60, high = 120 }\n",
        IN_FRUITING + ".humidity_pct.high = 120: Give 0 to 100.",
        id="more than all",
    ),
    pytest.param(
        FRUITING + "temperature_c = [{ low = 10, high = 21 }, { high = 70 }]\n",
        IN_FRUITING + ".temperature_c[2].high = 70: Give -5 to 45. "
        "Was that in °F? 70 °F is 21 °C.",
        id="degrees of another scale, in a list",
    ),
    pytest.param(
        FRUITING + "co2_ppm = { reason = 'x', views = [{ high = 0 }] }\n",
        IN_FRUITING + ".co2_ppm.views[1].high = 0: Give 1 to 100000.",
        id="no air, spelt out",
    ),
    pytest.param(
        FRUITING + "days = { low = 0, high = 4 }\n",
        IN_FRUITING + ".days.low = 0: Give 0.1 to 1000.",
        id="no day",
    ),
    pytest.param(
        FRUITING + "days = { low = 3, source = 'S0' }\n",
        IN_FRUITING + '.days.source = "S0": There is no such '
        "source; add it under [sources]. Did you mean S00?",
        id="a source misspelt",
    ),
    pytest.param(
        FRUITING + "days = { low = 3, mark = 'trade' }\n",
        IN_FRUITING + '.days.mark = "trade": Write one of '
        "read, read in a copy, trade note, from memory, common practice, reckoned. Did "
        "you mean trade note?",
        id="a mark misspelt",
    ),
    pytest.param(
        "[sources]\nS00 = 'Mine'\n",
        "sources.S00: That source is shipped already; choose another key.",
        id="a shipped source",
    ),
    pytest.param(
        FRUITING + "temperature_harm_c = { high = 20 }\n",
        IN_FRUITING + ".temperature_harm_c: The harm limit 20 "
        "lies below the band's end 21; give temperature_harm_c a high of 21 or more.",
        id="harm inside the shipped band",
    ),
    pytest.param(
        FRUITING + "humidity_pct = { low = 45, high = 80 }\n",
        IN_FRUITING + ".humidity_pct: The harm limit 50 lies "
        "above the band's beginning 45; give humidity_harm_pct a low of 45 or less.",
        id="a band beyond the shipped harm",
    ),
    pytest.param(
        SHIITAKE + "soaked = 'yes'\n",
        'species[1] "shiitake".soaked = "yes": Write true or false.',
        id="no truth",
    ),
    pytest.param(
        SHIITAKE + "notes = 'Dry.'\n",
        'species[1] "shiitake".notes = "Dry.": Write a list, such as ["A sentence."].',
        id="one note",
    ),
    pytest.param(
        SHIITAKE + "notes = ['Dry.', 5]\n",
        'species[1] "shiitake".notes[2] = 5: Write a text in quotation marks.',
        id="a note that is none",
    ),
    pytest.param(
        SHIITAKE + "title = ''\n",
        'species[1] "shiitake".title = "": It can\'t be empty.',
        id="an empty title",
    ),
]


@pytest.mark.parametrize(("text", "said"), ONE_FAULT)
def test_one_fault(tmp_path: Path, text: str, said: str) -> None:
    path = _beside(tmp_path, text)
    assert [str(fault) for fault in species_faults(path)] == [
        f"{tmp_path / 'species.toml'}: {said}"
    ]
    with pytest.raises(SettingsError):
        load_species(path)


def test_a_harm_limit_at_the_edge_of_the_band_is_right(tmp_path: Path) -> None:
    text = FRUITING + "temperature_harm_c = { low = 10, high = 21 }\n"
    assert species_faults(_beside(tmp_path, text)) == ()


def test_one_fault_hides_no_other(tmp_path: Path) -> None:
    text = (
        '[[species]]\nname = 5\nsoaked = "no"\n'
        + FRUITING
        + 'humidity_pct = { low = "x", high = 101, mark = "red" }\n'
        + "days = { low = 9, high = 4 }\nmist = true\n"
        + NEW.replace('title = "Blue"\n', "")
        + "flushes = [{ low = 2, high = 3 }, 7]\n"
    )
    faults = [str(f).split(": ")[1] for f in species_faults(_beside(tmp_path, text))]
    fruiting = 'species[2] "shiitake".stage[1] "fruiting"'
    assert sorted(faults) == sorted(
        [
            "species[1].name = 5",
            'species[1].soaked = "no"',
            f'{fruiting}.humidity_pct.low = "x"',
            f"{fruiting}.humidity_pct.high = 101",
            f'{fruiting}.humidity_pct.mark = "red"',
            f"{fruiting}.days",
            f"{fruiting}.mist = true",
            'species[3] "blue".title',
            'species[3] "blue".stage',
            'species[3] "blue".flushes[2] = 7',
        ]
    )


@pytest.mark.parametrize(
    ("written", "said"),
    [
        pytest.param(b"[[species]\n", "Mend that line", id="no TOML"),
        pytest.param(b"# \xff\n", "save it as UTF-8", id="no UTF-8"),
    ],
)
def test_what_is_no_toml(tmp_path: Path, written: bytes, said: str) -> None:
    (tmp_path / "species.toml").write_bytes(written)
    (fault,) = species_faults(tmp_path / "house.toml")
    assert said in fault.cure


def test_a_folder_of_that_name_is_named(tmp_path: Path) -> None:
    (tmp_path / "species.toml").mkdir()
    (fault,) = species_faults(tmp_path / "house.toml")
    assert "It can't be read" in fault.cure


# ------------------------------------------------------------------ of the shipped one


@pytest.mark.parametrize(
    ("figure", "said"),
    [
        pytest.param(
            "[{ low = 5 }, { low = 6 }]",
            'Say why the first view is used: reason = "...".',
            id="two views without a reason",
        ),
        pytest.param(
            "{ low = 5, mark = 'trade note' }",
            "Name the source, or mark it common practice.",
            id="no source",
        ),
    ],
)
def test_the_shipped_table_must_say_more(tmp_path: Path, figure: str, said: str) -> None:
    text = f"{STAGED}days = {figure}\n"
    assert species_faults(_beside(tmp_path, text)) == ()
    with pytest.raises(SettingsError) as refused:
        _read(tmp_path / "species.toml", None)
    assert [fault.cure for fault in refused.value.faults] == [said]


def test_memory_and_common_practice_need_no_source(tmp_path: Path) -> None:
    text = f"{STAGED}days = {{ low = 5, mark = 'from memory' }}\nlight_lux = {{ low = 5 }}\n"
    _beside(tmp_path, text)
    table = _read(tmp_path / "species.toml", None)
    fruiting = table.get("blue").stages[Stage.FRUITING]
    assert fruiting.days == Stated((View(5.0, None, "", Mark.MEMORY),))
    assert fruiting.light_lux == Stated((View(5.0, None, "", Mark.COMMON),))
    assert (table.own, table.sources) == (frozenset(), {})


# ------------------------------------------------------------------ the example


def _uncommented() -> str:
    """Return the example with every line that is TOML behind its # made real."""
    lines = EXAMPLE.read_text(encoding="utf-8").splitlines()
    bare = [line.removeprefix("# ") for line in lines if line.startswith("# ")]
    wanted = [line for line in bare if _is_setting(line)]
    return "\n".join(wanted)


def _is_setting(line: str) -> bool:
    try:
        return bool(tomllib.loads(line))
    except tomllib.TOMLDecodeError:
        return False


def test_the_example_changes_nothing_as_it_is() -> None:
    assert load_species(EXAMPLE.parent / "house.toml") == SpeciesTable(
        SHIPPED.species, {**SHIPPED.sources, YOURS: f"Your own figures, {EXAMPLE}"}
    )


def test_the_example_is_right_and_names_every_key(tmp_path: Path) -> None:
    text = _uncommented()
    table = _loaded(tmp_path, text)
    assert table.own == {"shiitake", "blue-oyster"}
    content = tomllib.loads(text)
    species = content["species"]
    stages = [stage for one in species for stage in one["stage"]]
    parts = (*species, *stages)
    figures = [value for part in parts for key, value in part.items() if key != "patience"]
    views = [v for f in figures if isinstance(f, dict) for v in f.get("views", [f])]
    assert set(content) == set(SpeciesFile.model_fields)
    assert {key for one in species for key in one} == set(SpeciesShape.model_fields)
    assert {key for stage in stages for key in stage} == set(StageShape.model_fields)
    assert {key for view in views for key in view} == set(ViewShape.model_fields)


def test_a_species_may_be_more_patient_than_is_usual(tmp_path: Path) -> None:
    text = """
        [[species]]
        name = "enoki"
        patience.humidity = { on_delay = "20 min", priority = "low" }
        patience.co2 = { deadband = 200 }
    """
    own = _loaded(tmp_path, text).species["enoki"].patience
    assert own == {
        "humidity": OwnPatience(on_delay=timedelta(minutes=20), priority=1),
        "co2": OwnPatience(deadband=200.0),
    }


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ('humidity = { on_delay = "10 h" }', 'humidity.on_delay = "10 h": Give 10 s to 6 h.'),
        ('humidity = { priority = "lower" }', "Write one of low, medium, high. Did you mean low?"),
        ("humidity = { on_dely = 3 }", "take it out. Did you mean on_delay?"),
        ("humdity = { deadband = 3 }", "take it out. Did you mean humidity?"),
        ("humidity = 3", 'such as patience.humidity = { on_delay = "10 min" }.'),
    ],
)
def test_faults_of_patience(written: str, said: str, tmp_path: Path) -> None:
    text = f'[[species]]\nname = "enoki"\n[species.patience]\n{written}\n'
    with pytest.raises(SettingsError) as raised:
        _loaded(tmp_path, text)
    print(raised.value)
    assert said in str(raised.value)


# ------------------------------------------------------------------ whatever stands there

WHOLE: dict[str, Any] = {
    "sources": {"club": "Notes"},
    "species": [
        {
            "name": "shiitake",
            "flushes": {"low": 2, "high": 3},
            "stage": [{"name": "fruiting", "days": {"reason": "r", "views": [{"low": 2}]}}],
        },
        {"name": "blue", "like": "grey-oyster", "notes": ["n"], "days_between": [{"high": 4}]},
    ],
}
KEYS = ["sources", "species", "name", "stage", "flushes", "views", "low", "high", "reason", "like"]
_keys = st.sampled_from(KEYS) | st.text(st.characters(exclude_categories=["Cs"]), max_size=5)
_leaves = (
    st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from(["shiitake", "pinning", "S00", "read"])
    | st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
    | st.just(date(2026, 1, 20))
)
_values = st.recursive(
    _leaves,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_keys, inner, max_size=4),
    max_leaves=15,
)


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    return value.isoformat() if isinstance(value, date) else repr(value)


def _spots(value: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner: list[tuple[Any, object]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return ([path] if path else []) + [s for k, v in inner for s in _spots(v, (*path, k))]


SPOTS = _spots(WHOLE)
_quick = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def _is_answered(folder: Path, text: str) -> None:
    path = _beside(folder, text)
    faults = species_faults(path)
    for fault in faults:
        assert "\n" not in str(fault)
        assert fault.cure.endswith((".", "?"))
        assert "Input " not in fault.cure
        assert "validat" not in fault.cure
    if not faults:
        assert load_species(path).get("shiitake").title


@_quick
@given(text=st.text(st.characters(exclude_categories=["Cs"]), max_size=80))
def test_any_text_is_answered(tmp_path: Path, text: str) -> None:
    _is_answered(tmp_path, text)


@_quick
@given(content=st.dictionaries(_keys, _values, max_size=4))
def test_any_content_is_answered(tmp_path: Path, content: dict[str, Any]) -> None:
    _is_answered(tmp_path, "\n".join(f"{_toml(k)} = {_toml(v)}" for k, v in content.items()))


@_quick
@given(spot=st.sampled_from(SPOTS), other=st.sampled_from(SPOTS), key=_keys, value=_values)
def test_good_content_changed_anywhere_is_answered(
    tmp_path: Path,
    spot: tuple[Any, ...],
    other: tuple[Any, ...],
    key: str,
    value: Any,  # noqa: ANN401 - any TOML value
) -> None:
    content = json.loads(json.dumps(WHOLE))
    place = content
    for part in spot[:-1]:
        place = place[part]
    place[spot[-1]] = value
    if isinstance(place, dict) and other != spot:
        place[key] = value
    _is_answered(tmp_path, "\n".join(f"{_toml(k)} = {_toml(v)}" for k, v in content.items()))


def test_what_is_changed_was_right(tmp_path: Path) -> None:
    text = "\n".join(f"{_toml(key)} = {_toml(value)}" for key, value in WHOLE.items())
    assert species_faults(_beside(tmp_path, text)) == ()
