"""Settings read again: what is taken over, what waits, and what brings the former back."""

import io
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import SettingsError
from chamberwatch.service.history import Vitals
from chamberwatch.settings import Put, SettingsFile, load
from chamberwatch.wiring.common import Occasion
from chamberwatch.wiring.machine import Machine
from chamberwatch.wiring.renewing import Read, Renewing

TEXT = '[mqtt]\nclient_id = "one"\n[[chamber]]\nname = "tent"\ntitle = "Tent"\n'


@dataclass
class House:
    """A settings file, and what takes it over."""

    file: Path
    wanted: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.file.write_text(TEXT, encoding="utf-8")
        self.renewing = Renewing(
            SettingsFile(self.file, {}),
            lambda: Read(load(self.file, {})),
            WallClock(),
            Occasion(io.StringIO(), "http://tent", lambda: Vitals(False, None, ())),
            lambda: self.wanted.append(1),
        )

    def rewrite(self, old: str, new: str) -> None:
        text = self.file.read_text(encoding="utf-8")
        assert old in text
        self.file.write_text(text.replace(old, new), encoding="utf-8")


@pytest.fixture
def house(tmp_path: Path) -> House:
    return House(tmp_path / "cw.toml")


@pytest.fixture
def machine(house: House) -> Iterator[Machine]:
    made = house.renewing.first(Read(load(house.file, {})))
    with closing(made.books):
        yield made


def test_before_the_first_there_is_no_next(house: House) -> None:
    assert house.renewing.next() is None


def test_what_is_as_it_was_makes_nothing_anew(house: House, machine: Machine) -> None:
    house.rewrite("[mqtt]", "# a comment\n[mqtt]")
    assert house.renewing.next() is None
    house.renewing.took("")
    assert machine.house.chamber("tent").title == "Tent"


def test_a_change_on_the_page_asks_to_be_taken_over(house: House, machine: Machine) -> None:
    house.renewing.change([Put("chamber", "tent", {"title": "Tub"})])
    assert house.wanted == [1]
    assert house.renewing.content()["chamber"] == [{"name": "tent", "title": "Tub"}]
    step = house.renewing.next()
    assert step is not None
    for make, title in ((step.new, "Tub"), (step.former, "Tent")):
        made = make()
        with closing(made.books):
            assert made.house.chamber("tent").title == title
    house.renewing.took("")
    assert house.renewing.next() is None
    assert machine.settings.chamber[0].title == "Tent"


def test_what_a_process_cannot_change_waits(house: House, machine: Machine) -> None:
    house.rewrite('"one"', '"two"')
    house.rewrite("[[chamber]]", "[web]\nport = 1\n[[chamber]]")
    assert house.renewing.next() is None
    house.renewing.took("")
    assert house.renewing.stand().waits == ("web.port", "mqtt.client_id")
    house.rewrite('"two"', '"one"')
    house.rewrite("port = 1\n", "")
    assert house.renewing.next() is None
    assert house.renewing.stand().waits == ()
    assert machine.settings.mqtt.client_id == "one"


@pytest.mark.usefixtures("machine")
def test_settings_at_fault_are_no_step(house: House) -> None:
    house.rewrite('title = "Tent"', "title = 3")
    with pytest.raises(SettingsError, match="Write a text"):
        house.renewing.next()
    house.renewing.took("why not")
    assert house.renewing.stand().trouble == "why not"
    house.rewrite("title = 3", 'title = "Tub"')
    house.renewing.read_again()
    assert house.wanted == [1]
    assert house.renewing.next() is not None
    house.renewing.took("")
    assert house.renewing.stand().trouble == ""


@pytest.mark.usefixtures("machine")
def test_what_could_not_be_made_is_tried_again_next_time(house: House) -> None:
    house.rewrite('title = "Tent"', 'title = "Tub"')
    assert house.renewing.next() is not None
    house.renewing.took("It could not be made.")
    assert house.renewing.next() is not None
