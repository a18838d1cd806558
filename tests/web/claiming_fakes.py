"""A desk whose pages hear what a test says, and write into a settings file that is none."""

from dataclasses import dataclass, field, replace

from fastapi import FastAPI

from chamberwatch.mqtt.guessing import Understanding
from chamberwatch.service.claiming import Claiming
from chamberwatch.settings import Put
from chamberwatch.web.app import create_app
from tests.listeners import Ear, topics_of
from tests.web.desk_fakes import Played, dry_tent
from tests.web.editing_fakes import FakeEditing


@dataclass
class Hearing:
    """A desk, its ear and its settings."""

    played: Played = field(default_factory=dry_tent)
    ear: Ear = field(default_factory=Ear)
    editing: FakeEditing = field(default_factory=FakeEditing)

    def __post_init__(self) -> None:
        self.editing.now = {"sensor": [{"name": "tent-top", "topic": "tent/top"}]}
        claiming = Claiming(
            self.ear,
            Understanding(),
            lambda: topics_of(self.editing.content()),
            lambda name, entry: self.editing.change([Put("sensor", name, entry)]),
        )
        self.played.desk = replace(self.played.desk, claiming=claiming)

    def app(self) -> FastAPI:
        """Return the application."""
        return create_app(self.played.desk)
