"""What is wanted of a species each week: what is taken, and what is said of what isn't."""

from pathlib import Path

import pytest

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.rotation.plan import Wanted
from chamberwatch.core.growing.species import Species, SpeciesTable, Wants
from chamberwatch.settings import check, load, rotation_faults, shipped_species

OYSTER = '[[rotation]]\nspecies = "grey-oyster"\n'
DRY = "batch_dry_g = 350\n"
KG = "kg_per_week = [0.4, 0.6]\n"

NO_FIGURES = Species(
    "sealed-only", "Sealed only", "", {Stage.COLONISATION: Wants(Stage.COLONISATION)}
)

A_RANGE = "Write low and high, such as [0.4, 0.6], or one number."
NO_KEY = "There is no such key; take it out."
A_NAME = "Write the name of a species as it is listed, such as grey-oyster."
LIMITS = "Give 0.01 to 100."


def _written(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _lines(folder: Path, text: str) -> list[str]:
    path = _written(folder, text)
    return [str(fault).removeprefix(f"{path}: ") for fault in check(path, {})]


@pytest.mark.parametrize(
    ("written", "kg"),
    [
        pytest.param("[0.4, 0.6]", (0.4, 0.6), id="a range"),
        pytest.param("[1, 1]", (1.0, 1.0), id="a range of one weight"),
        pytest.param("0.5", (0.5, 0.5), id="one number"),
        pytest.param("100", (100.0, 100.0), id="a whole number, the most there is"),
    ],
)
def test_a_wish_is_handed_on(tmp_path: Path, written: str, kg: tuple[float, float]) -> None:
    settings = load(_written(tmp_path, f"{OYSTER}kg_per_week = {written}\n{DRY}"), {})
    assert [wish.wanted() for wish in settings.rotation] == [Wanted("grey-oyster", kg, 350.0)]


def test_nothing_is_wanted_by_itself(tmp_path: Path) -> None:
    assert load(_written(tmp_path, ""), {}).rotation == ()


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        *(
            pytest.param(
                f"{OYSTER}kg_per_week = {written}\n{DRY}",
                [f"rotation[1].kg_per_week = {written}: {cure}"],
                id=written,
            )
            for written, cure in (
                ("[0.6, 0.4]", "low 0.6 is above high 0.4; swap them."),
                ("[0, 0.4]", LIMITS),
                ("[0.009, 0.4]", LIMITS),
                ("[0.4, 100.1]", LIMITS),
                ("-1", LIMITS),
                ("nan", LIMITS),
                ("inf", LIMITS),
                ("[0.4]", A_RANGE),
                ("[0.1, 0.2, 0.3]", A_RANGE),
                ("true", A_RANGE),
                ('"0.4 kg"', A_RANGE),
            )
        ),
        pytest.param(
            OYSTER,
            [
                "rotation[1].kg_per_week: Add it; it is needed.",
                "rotation[1].batch_dry_g: Add it; it is needed.",
            ],
            id="nothing but a name",
        ),
        pytest.param(
            OYSTER + KG + "batch_dry_g = 3\n",
            ["rotation[1].batch_dry_g = 3: Give 10 or more."],
            id="a crumb",
        ),
        pytest.param(
            OYSTER + KG + DRY + "batch_wet_g = 900\n",
            [
                f"rotation[1].batch_wet_g = 900: {NO_KEY} Did you mean batch_dry_g?",
            ],
            id="a key misspelt",
        ),
        pytest.param(
            OYSTER.replace("grey-oyster", "Grey oyster") + KG + DRY,
            [
                f'rotation[1].species = "Grey oyster": {A_NAME}',
            ],
            id="a title for a name",
        ),
        pytest.param(
            (OYSTER + KG + DRY) * 2,
            ['rotation.species = "grey-oyster": Two want this species; make them one.'],
            id="twice",
        ),
        pytest.param(
            '[rotation]\nspecies = "grey-oyster"\n',
            ["rotation: Write each as a section of its own that begins with [[rotation]]."],
            id="one bracket too few",
        ),
        pytest.param(
            "rotation = [5]\n",
            ["rotation[1] = 5: Write each as a section of its own that begins with [[rotation]]."],
            id="a number for a wish",
        ),
    ],
)
def test_faults_of_a_wish(tmp_path: Path, text: str, lines: list[str]) -> None:
    assert _lines(tmp_path, text) == lines


def test_a_wish_beside_the_species_there_are(tmp_path: Path) -> None:
    names = ("grey-oyster", "gray-oyster", "zzz", "sealed-only")
    text = "".join(f'[[rotation]]\nspecies = "{name}"\n{KG}{DRY}' for name in names)
    text += '[[rotation]]\nspecies = "king-oyster"\nkg_per_week = 100\nbatch_dry_g = 10\n'
    path = _written(tmp_path, text)
    shipped = shipped_species()
    known = {name: shipped.get(name) for name in ("grey-oyster", "king-oyster")}
    known["sealed-only"] = NO_FIGURES
    faults = rotation_faults(load(path, {}), SpeciesTable(known, {}), path)
    lines = [str(fault).removeprefix(f"{path}: ") for fault in faults]
    known_words = "Known: grey-oyster, king-oyster, sealed-only."
    assert lines[:2] == [
        'rotation[2].species = "gray-oyster": There is no such species. Did you mean grey-oyster?',
        f'rotation[3].species = "zzz": There is no such species. {known_words}',
    ]
    unfit, flood = lines[2:]
    assert flood.startswith("rotation[5].kg_per_week = [100, 100]: ")
    assert flood.endswith("and a plan takes 100. Wish for less, or make larger batches.")
    assert unfit.startswith(
        'rotation[4].species = "sealed-only": No rotation can be planned for Sealed only: '
    )
