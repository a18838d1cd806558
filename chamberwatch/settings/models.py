"""The shape of the settings file. Checks that need one entry stand here, the others in `cross`."""

import re
from collections.abc import Iterator
from datetime import timedelta
from functools import cache
from ipaddress import ip_address
from typing import Annotated, Final, Literal, Self
from urllib.parse import urlsplit
from zoneinfo import available_timezones

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SecretStr,
    Strict,
    StrictBool,
    field_validator,
    model_validator,
)

from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.watch.chamber import Chamber, House, Sensor
from chamberwatch.core.watch.reading import Place, Quantity
from chamberwatch.core.watch.units import SCALES
from chamberwatch.settings.duration import length

NAME: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,40}")

Length = Annotated[timedelta, BeforeValidator(length)]
# Without Strict, true would be taken for 1 and "120" for 120.
Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict()]


@cache
def zones() -> frozenset[str]:
    """Return every time zone there is; a look at the whole disk tree of them, so kept."""
    return frozenset(available_timezones())


def _openable(address: str) -> bool:
    """Tell whether links can begin with an address: scheme, host, perhaps port and path."""
    try:
        parts = urlsplit(address)
        port = parts.port
    except ValueError:
        return False
    whole = parts.scheme in ("http", "https") and bool(parts.hostname) and port != 0
    return whole and re.search(r"[\s?#@]", address) is None


def _name(text: str) -> str:
    if not NAME.fullmatch(text):
        raise ValueError("Use small letters, digits and hyphens, such as tent or tent-2.")
    return text


Name = Annotated[str, BeforeValidator(lambda v: _name(v) if isinstance(v, str) else v)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class SiteSettings(_Part):
    """Where the house stands."""

    timezone: str = "UTC"
    altitude_m: Number = Field(default=0.0, ge=-430.0, le=6000.0)

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, zone: str) -> str:
        if zone not in zones():
            raise ValueError("Write a zone such as Europe/Lisbon.")
        return zone


class DatabaseSettings(_Part):
    """Where everything is kept."""

    url: str = "sqlite:///chamberwatch.db"
    commit_every: Length = timedelta(seconds=30)

    @field_validator("url")
    @classmethod
    def _sqlite(cls, url: str) -> str:
        if not url.startswith("sqlite:///") or url == "sqlite:///":
            raise ValueError(
                "Write sqlite:/// and a file name, such as sqlite:///chamberwatch.db."
            )
        return url

    @field_validator("commit_every")
    @classmethod
    def _soon(cls, every: timedelta) -> timedelta:
        if every > timedelta(minutes=10):
            raise ValueError("Give 10 min at the most: so much may be lost in a power cut.")
        return every


class MqttSettings(_Part):
    """The broker."""

    host: str = "127.0.0.1"
    port: Whole = Field(default=1883, ge=1, le=65535)
    username: str | None = None
    password: SecretStr | None = None
    tls: StrictBool = False
    ca_file: str | None = None
    client_id: str = Field(default="chamberwatch", min_length=1, max_length=23)
    window: Whole = Field(default=15, ge=1, le=65535)


class WebSettings(_Part):
    """The page."""

    host: str = "127.0.0.1"
    port: Whole = Field(default=8642, ge=0, le=65535)
    address: str | None = None

    @field_validator("host")
    @classmethod
    def _loopback(cls, host: str) -> str:
        try:
            near = host == "localhost" or ip_address(host).is_loopback
        except ValueError:
            near = False
        if not near:
            raise ValueError(
                "Only this machine may open the page for now, since no passcode can be set yet: "
                "write 127.0.0.1."
            )
        return host

    @field_validator("address")
    @classmethod
    def _full_address(cls, address: str | None) -> str | None:
        if address is not None and not _openable(address):
            raise ValueError("Write a full address, such as http://tent.local:8642.")
        return address.rstrip("/") if address else address


class NotifySettings(_Part):
    """One person's phone."""

    name: Name = "phone"
    to: SecretStr


class ChamberSettings(_Part):
    """One body of air."""

    name: Name
    title: str = ""
    volume_l: Number | None = Field(default=None, gt=0.0, le=100_000.0)
    shelves: tuple[Name, ...] = Field(default=(), max_length=24)
    stage: Stage | None = None
    surrounding: str | None = None

    @model_validator(mode="after")
    def _shelves_differ(self) -> Self:
        if len(set(self.shelves)) < len(self.shelves):
            raise ValueError("Two shelves have the same name; give each its own.")
        taken = {place.value for place in Place} & set(self.shelves)
        if taken:
            raise ValueError(f"A shelf can't be called {taken.pop()}; that is a place already.")
        return self


class ReadSettings(_Part):
    """Where a quantity stands in a message."""

    at: str = ""
    unit: str | None = None


class TimeSettings(_Part):
    """Where the time stands in a message."""

    at: str


class SensorSettings(_Part):
    """One sensor."""

    name: Name
    chamber: str
    place: str = "air"
    topic: str = Field(min_length=1, max_length=400)
    payload: Literal["json", "number", "senml"] = "json"
    unheard_after: Length = timedelta(minutes=5)
    reads: dict[Quantity, ReadSettings] = Field(min_length=1)
    time: TimeSettings | None = None

    @field_validator("topic")
    @classmethod
    def _filter(cls, topic: str) -> str:
        levels = topic.split("/")
        stray = any(c in level and level != c for level in levels for c in "+#")
        if stray or "#" in levels[:-1] or "\0" in topic:
            raise ValueError(
                "A + stands for one whole level and a # only for the end, as in tent/+/climate."
            )
        return topic

    @model_validator(mode="after")
    def _payload_fits(self) -> Self:
        wrong = list(self._misfits())
        if wrong:
            raise ValueError(" ".join(wrong))
        return self

    def _misfits(self) -> Iterator[str]:
        if self.payload == "number" and len(self.reads) != 1:
            yield "A number is one quantity: read one, or use a topic for each."
        if self.time is not None and self.payload != "json":
            yield "Only json takes a time of its own here; senml brings its own."
        if self.time is not None and not _pointer(self.time.at):
            yield f'time.at "{self.time.at}" is no pointer (RFC 6901); write it like /time.'
        for quantity, read in self.reads.items():
            if read.unit is not None and read.unit not in SCALES[quantity]:
                known = ", ".join(SCALES[quantity])
                yield f'{quantity} can\'t be in "{read.unit}"; write one of {known}.'
            if self.payload == "json" and not _pointer(read.at):
                yield f'{quantity}: "{read.at}" is no pointer (RFC 6901); write /{quantity}.'
            if self.payload == "senml" and not read.at:
                yield f"{quantity}: name its SenML record in `at`."


def _pointer(text: str) -> bool:
    return text.startswith("/") and re.search(r"~(?![01])", text) is None


class Settings(_Part):
    """Everything in the file."""

    site: SiteSettings = SiteSettings()
    database: DatabaseSettings = DatabaseSettings()
    mqtt: MqttSettings = MqttSettings()
    web: WebSettings = WebSettings()
    notify: tuple[NotifySettings, ...] = ()
    chamber: tuple[ChamberSettings, ...] = ()
    sensor: tuple[SensorSettings, ...] = ()

    def house(self) -> House:
        """Return what was declared in the words of the core."""
        chambers = {
            c.name: Chamber(
                c.name, c.title or c.name, c.stage, c.volume_l, c.shelves, c.surrounding
            )
            for c in self.chamber
        }
        sensors = {s.name: _sensor(s) for s in self.sensor}
        return House(chambers, sensors, pressure_at_altitude_pa(self.site.altitude_m))


def _sensor(settings: SensorSettings) -> Sensor:
    places = {place.value for place in Place}
    on_shelf = settings.place not in places
    return Sensor(
        settings.name,
        settings.chamber,
        Place.AIR if on_shelf else Place(settings.place),
        settings.place if on_shelf else None,
        settings.unheard_after,
        tuple(settings.reads),
    )
