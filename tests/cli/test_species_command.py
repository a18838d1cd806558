"""`species` and `check`, as a person types them."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from chamberwatch.cli import main
from chamberwatch.settings import shipped_species

Run = Callable[..., tuple[int, str, str]]

OWN = """
[sources]
club = "Notes of our club [2nd ed.]"
[[species]]
name = "shiitake"
[[species.stage]]
name = "fruiting"
humidity_pct = { low = 91, high = 95, source = "club", mark = "read", note = "[bold]fog[/bold]" }
[[species]]
name = "blue-oyster"
like = "grey-oyster"
"""


@pytest.fixture(params=[80, 120], ids=["80 columns", "120 columns"])
def columns(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    columns: int,
) -> Run:
    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("COLUMNS", str(columns))
        monkeypatch.chdir(tmp_path)
        monkeypatch.delenv("CHAMBERWATCH_CONFIG", raising=False)
        monkeypatch.setattr(sys, "argv", ["chamberwatch", *words])
        with pytest.raises(SystemExit) as left:
            main()
        code = left.value.code
        shown = capsys.readouterr()
        return code if isinstance(code, int) else 0, shown.out, shown.err

    return typed


@pytest.fixture
def own(tmp_path: Path) -> Path:
    (tmp_path / "species.toml").write_text(OWN, encoding="utf-8")
    return tmp_path / "house.toml"


def _section(shown: str, head: str) -> str:
    """Return what stands below a heading, blanks taken together."""
    return " ".join(shown.split(f"\n{head}\n")[1].split("\n\n")[0].split())


def test_all_of_them_without_a_settings_file(run: Run, columns: int) -> None:
    code, shown, _ = run("species")
    assert code == 0
    lines = shown.splitlines()
    assert max(map(len, lines)) <= columns
    words = set(shown.split())
    for name, one in shipped_species().species.items():
        assert name in words
        assert set(one.title.split()) | set(one.latin.split()) <= words
    (shiitake,) = (line for line in lines if line.startswith("shiitake "))
    assert shiitake.endswith(" 35-70 10-21  60-80 up to 1000 3-6     50-100")
    (reishi,) = (line for line in lines if line.startswith("reishi "))
    assert reishi.endswith(" 10-20 21-27  90-95 up to 2000 2       5-20")


def test_one_of_them_with_its_sources(run: Run, columns: int) -> None:
    code, shown, _ = run("species", "shiitake")
    assert code == 0
    assert max(map(len, shown.splitlines())) <= columns
    assert shown.startswith("Shiitake (shiitake), Lentinula edodes\n")
    fruiting = _section(shown, "Fruiting")
    for said in (
        "temperature 10-21 °C S00, read in a copy: cold strains or 16-27 °C S00, read in a copy",
        "warm strains first because: strains for the cold",
        "humidity 60-80 % S00, read in a copy or 80-85 % suppliers, trade note",
        "harm below 50 % common practice",
        "CO2 up to 1000 ppm S00, read in a copy harm above 2000 ppm common practice",
        "days 5-8 S00, read in a copy",
        "shown, never alarmed on: air changes 4-8 /h S00, read in a copy light 500-2000 lx",
    ):
        assert said in fruiting
    crop = _section(shown, "The crop")
    assert "days between 14-21 S00, read in a copy efficiency 50-100 %" in crop
    assert "soak between flushes common practice pick when the cap is two thirds open" in crop
    sources = _section(shown, "Sources")
    assert "S00 Stamets, Growing Gourmet and Medicinal Mushrooms" in sources
    assert "SC83" not in sources


@pytest.mark.parametrize(
    ("name", "stage", "said", "there"),
    [
        pytest.param(
            "shiitake", "Pinning", "at home 90-100 % the home limit is what", True, id="95"
        ),
        pytest.param("shiitake", "Fruiting", "home limit", False, id="60 to 80"),
        pytest.param(
            "grey-oyster",
            "Fruiting",
            "at home 85-95 % the home limit is what",
            True,
            id="too narrow",
        ),
        pytest.param(
            "phoenix-oyster",
            "Pinning",
            "at home < 1000 ppm the home limit is what",
            True,
            id="co2",
        ),
        pytest.param("shiitake", "Colonisation", "home limit", False, id="a sealed bag"),
        pytest.param("shiitake", "Colonisation", "neither is judged", True, id="its own air"),
        pytest.param("reishi", "Antler", "4 to 8 h a day (S00)", True, id="light in words"),
        pytest.param("button", "Case run", "light none needed SC83", True, id="dark"),
        pytest.param("pink-oyster", "Fruiting", "harm outside 10-34 °C", True, id="both"),
        pytest.param("reishi", "Antler", "or from 1000 ppm suppliers", True, id="from"),
        pytest.param("wine-cap", "Sources", "Missouri 2007 University", True, id="of a note"),
    ],
)
def test_what_is_told_of_a_stage(run: Run, name: str, stage: str, said: str, there: bool) -> None:
    _, shown, _ = run("species", name)
    assert (said in _section(shown, stage)) is there


def test_own_figures_come_first_as_they_are_written(run: Run, own: Path) -> None:
    _, shown, _ = run("species", "shiitake", "--config", str(own))
    fruiting = _section(shown, "Fruiting")
    assert "humidity 91-95 % club, read: [bold]fog[/bold] or 60-80 % S00" in fruiting
    assert "first because: your own figure at home 90-100 %" in fruiting
    assert "club Notes of our club [2nd ed.]" in _section(shown, "Sources")
    _, listed, _ = run("species", "--config", str(own))
    assert "\nshiitake * " in listed
    assert "\nblue-oyster * " in listed
    assert "\ngrey-oyster " in listed
    assert "* with figures of your own" in listed


@pytest.mark.parametrize(
    ("name", "said"),
    [
        pytest.param(
            "shitake", "There is no species “shitake”. Did you mean shiitake?\n", id="near"
        ),
        pytest.param("zzz", "Known: grey-oyster, phoenix-oyster, ", id="far"),
    ],
)
def test_an_unknown_name(run: Run, name: str, said: str) -> None:
    code, shown, wrong = run("species", name)
    assert (code, shown) == (1, "")
    assert said in wrong


def test_faults_of_the_own_file(run: Run, own: Path, tmp_path: Path) -> None:
    (tmp_path / "species.toml").write_text('[[species]]\nname = "shiitake"\nlatn = "L"\n')
    own.write_text('[site]\ntimezone = "UTC"\n')
    said = f'{tmp_path / "species.toml"}: species[1] "shiitake".latn = "L": There is no such key; '
    code, _, wrong = run("species", "--config", str(own))
    assert code == 2
    assert wrong.startswith(said)
    code, _, wrong = run("check", "--config", str(own))
    assert code == 2
    assert wrong.splitlines() == [
        f"{said}take it out. Did you mean latin?",
        f"1 fault in {tmp_path / 'species.toml'}.",
    ]
    own.write_text("[sight]\n")
    code, _, wrong = run("check", "--config", str(own))
    assert wrong.splitlines()[-2:] == [
        f"1 fault in {own}.",
        f"1 fault in {tmp_path / 'species.toml'}.",
    ]


def test_check_counts_what_is_your_own(run: Run, own: Path) -> None:
    own.write_text('[site]\ntimezone = "UTC"\n')
    code, shown, _ = run("check", "--config", str(own))
    assert code == 0
    said = "species.toml is fine: 2 species of your own (blue-oyster, shiitake)."
    assert shown.splitlines()[1] == said
    (own.parent / "species.toml").unlink()
    _, shown, _ = run("check", "--config", str(own))
    assert "species" not in shown
