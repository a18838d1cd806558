"""Hearing what nobody claims, and writing whose it is into the settings."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from chamberwatch.clock import WallClock
from chamberwatch.core.errors import RefusedError
from chamberwatch.mqtt.guessing import Understanding
from chamberwatch.mqtt.listening import OpenEar
from chamberwatch.mqtt.topics import OwnTopics
from chamberwatch.mqtt.troubles import BrokerAddress
from chamberwatch.service.claiming import Claiming
from chamberwatch.service.listening import Listener
from chamberwatch.settings import Edit, Put, Settings
from chamberwatch.wiring.self_watch import address_of, own_topics


def open_ear(settings: Settings) -> OpenEar:
    """Return what hears everything on the broker; on real time, also in the demo."""
    return OpenEar(address_of(settings), own_topics(settings), WallClock())


class Changing(Protocol):
    """The settings file, as far as a sensor is put into it."""

    def content(self) -> Mapping[str, Any]:
        """Return what stands in it now."""
        ...

    def change(self, edits: Sequence[Edit]) -> None:
        """Change it, all at once or not at all.

        Raises:
            SettingsError: what would stand there is at fault.
            RefusedError: it can't be changed or written.
        """
        ...


class Ears:
    """What hears everything, kept while the parts are made anew for other settings.

    Else what was heard would be lost whenever somebody claims a sensor.
    """

    def __init__(self) -> None:
        """Begin with none."""
        self._of: tuple[BrokerAddress, OwnTopics] | None = None
        self._ear: OpenEar | None = None

    def of(self, settings: Settings) -> OpenEar:
        """Return what hears on the broker of the settings."""
        of = address_of(settings), own_topics(settings)
        if self._ear is None or of != self._of:
            if self._ear is not None:
                self._ear.stop()
            self._of, self._ear = of, open_ear(settings)
        return self._ear


def claiming_with(settings: Settings, editing: Changing | None, listener: Listener) -> Claiming:
    """Join what hears and what writes.

    Args:
        settings: say where the broker is; and which sensors there are, if nothing can be changed.
        editing: changes the settings; None: they can't be changed here.
        listener: hears.
    """

    def topics() -> Mapping[str, str]:
        if editing is None:
            return {sensor.name: sensor.topic for sensor in settings.sensor}
        return {each["name"]: each["topic"] for each in editing.content().get("sensor", ())}

    def put(name: str, entry: Mapping[str, Any]) -> None:
        if editing is None:
            raise RefusedError("The settings can't be changed here; there is no file of them.")
        editing.change([Put("sensor", name, entry)])

    return Claiming(listener, Understanding(), topics, put)
