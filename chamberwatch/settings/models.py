"""The shape of the settings file. Checks that need one entry stand here, the others in `cross`.

Chambers, sensors and devices have modules of their own.
"""

import re
from datetime import timedelta
from functools import cache
from ipaddress import ip_address
from pathlib import Path
from typing import Final
from urllib.parse import SplitResult, quote, urlsplit
from zoneinfo import available_timezones

from pydantic import Field, SecretStr, StrictBool, field_validator

from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.shown_in import ShownIn, TemperatureUnit, WeightUnit
from chamberwatch.core.watch.chamber import House
from chamberwatch.settings.backups import BackupSettings, KeepRaw
from chamberwatch.settings.chambers import ChamberSettings
from chamberwatch.settings.cross import OUT
from chamberwatch.settings.devices import DeviceSettings
from chamberwatch.settings.rotation import RotationSettings
from chamberwatch.settings.sensors import SensorSettings
from chamberwatch.settings.sign_of_life import SignOfLifeSettings
from chamberwatch.settings.speaking import SpeakingSettings
from chamberwatch.settings.values import Length, Name, Number, Part, Whole, web_address
from chamberwatch.settings.wired import WiredSettings

FILE: Final = "sqlite:///"
SERVER: Final = "postgresql+psycopg://"
EXAMPLE: Final = f"{SERVER}chamberwatch@server.home/chamberwatch"
PREFIX: Final = re.compile(r"[\w.-]+(?:/[\w.-]+)*", re.ASCII)


@cache
def zones() -> frozenset[str]:
    """Return every time zone there is; a look at the whole disk tree of them, so kept.

    A machine has two more, its own and none, which no browser knows by these names.
    """
    return frozenset(available_timezones()) - {"localtime", "Factory"}


def _openable(address: str) -> bool:
    """Tell whether links can begin with an address: scheme, host, perhaps port and path."""
    return web_address(address) and re.search(r"[\s?#@]", address) is None


class SiteSettings(Part):
    """Where the house stands, and how its people like to read figures."""

    timezone: str = "UTC"
    altitude_m: Number = Field(default=0.0, ge=-430.0, le=6000.0)
    temperature: TemperatureUnit = TemperatureUnit.CELSIUS
    weight: WeightUnit = WeightUnit.GRAM

    def shown_in(self) -> ShownIn:
        """Return the units in which pages show temperatures and weights."""
        return ShownIn(self.temperature, self.weight)

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, zone: str) -> str:
        if zone not in zones():
            raise ValueError("Write a zone such as Europe/Lisbon.")
        return zone


def server_parts(url: str) -> SplitResult:
    """Return the parts of a server's address.

    Raises:
        ValueError: it has none, with the cure.
    """
    try:
        parts = urlsplit(url)
        _ = parts.port
    except ValueError:
        raise ValueError(f"Write it like {EXAMPLE}.") from None
    return parts


class DatabaseSettings(Part):
    """Where everything is kept."""

    url: str = "sqlite:///chamberwatch.db"
    password: SecretStr | None = None
    files: str | None = None
    commit_every: Length = timedelta(seconds=30)
    keep_raw: KeepRaw = timedelta(days=366)

    @property
    def on_server(self) -> bool:
        """Tell whether it lies on a server, and not in a file."""
        return self.url.startswith(SERVER)

    @property
    def address(self) -> str:
        """Return where it is and how to enter; to be opened, never to be shown."""
        if not self.on_server or self.password is None:
            return self.url
        role, _, place = self.url.removeprefix(SERVER).rpartition("@")
        return f"{SERVER}{role}:{quote(self.password.get_secret_value(), safe='')}@{place}"

    @property
    def folder(self) -> Path:
        """Return where what belongs to it lies that is no table: photos."""
        return Path(self.files or ".") if self.on_server else self.nearby.parent

    @property
    def nearby(self) -> Path:
        """Return what lies on the disk here that has to be written: the file, or the folder."""
        if self.on_server:
            return self.folder / "photos"
        return Path(self.url.removeprefix(FILE))

    @field_validator("url")
    @classmethod
    def _openable(cls, url: str) -> str:
        named = url.startswith(FILE) and url != FILE
        if url.startswith(SERVER):
            named = bool(server_parts(url).path.strip("/"))
        if not named:
            raise ValueError(
                "Write sqlite:/// and a file name, such as sqlite:///chamberwatch.db; or the "
                f"address of a PostgreSQL database, such as {EXAMPLE}."
            )
        return url

    @field_validator("commit_every")
    @classmethod
    def _soon(cls, every: timedelta) -> timedelta:
        if every > timedelta(minutes=10):
            raise ValueError("Give 10 min at the most: so much may be lost in a power cut.")
        return every


class MqttSettings(Part):
    """The broker."""

    host: str = "127.0.0.1"
    port: Whole = Field(default=1883, ge=1, le=65535)
    username: str | None = None
    password: SecretStr | None = None
    wired_username: str | None = None
    wired_password: SecretStr | None = None
    tls: StrictBool = False
    ca_file: str | None = None
    client_id: str = Field(default="chamberwatch", min_length=1, max_length=23)
    window: Whole = Field(default=15, ge=1, le=65535)
    out: str = Field(default=OUT, max_length=100)

    @field_validator("out")
    @classmethod
    def _topic(cls, out: str) -> str:
        if out and not PREFIX.fullmatch(out):
            raise ValueError(
                "Write a topic such as chamberwatch or house/chamberwatch: letters, digits, "
                "hyphens, dots and underscores between slashes; or nothing, to be silent."
            )
        return out


class WebSettings(Part):
    """The page."""

    host: str = "127.0.0.1"
    port: Whole = Field(default=8642, ge=0, le=65535)
    address: str | None = None

    @property
    def near(self) -> bool:
        """Tell whether only this machine can come in."""
        return self.host == "localhost" or ip_address(self.host).is_loopback

    @property
    def from_here(self) -> str:
        """Return the host by which this machine itself reaches the pages."""
        everywhere = self.host != "localhost" and ip_address(self.host).is_unspecified
        return "localhost" if everywhere else self.host

    @field_validator("host")
    @classmethod
    def _in_numbers(cls, host: str) -> str:
        try:
            usable = host == "localhost" or not ip_address(host).is_multicast
        except ValueError:
            usable = False
        if not usable:
            raise ValueError(
                "Write an address of this machine in numbers: 127.0.0.1 for this machine only, "
                "0.0.0.0 for the home network too."
            )
        return host

    @field_validator("address")
    @classmethod
    def _full_address(cls, address: str | None) -> str | None:
        if address is not None and not _openable(address):
            raise ValueError("Write a full address, such as http://tent.local:8642.")
        return address.rstrip("/") if address else address


class NotifySettings(SpeakingSettings):
    """One person's phone."""

    name: Name = "phone"
    to: SecretStr
    pictures: StrictBool = True


class Settings(Part):
    """Everything in the file."""

    site: SiteSettings = SiteSettings()
    database: DatabaseSettings = DatabaseSettings()
    backup: BackupSettings = BackupSettings()
    mqtt: MqttSettings = MqttSettings()
    web: WebSettings = WebSettings()
    notify: tuple[NotifySettings, ...] = ()
    sign_of_life: SignOfLifeSettings | None = None
    chamber: tuple[ChamberSettings, ...] = ()
    sensor: tuple[SensorSettings, ...] = ()
    device: tuple[DeviceSettings, ...] = ()
    wired: tuple[WiredSettings, ...] = ()
    rotation: tuple[RotationSettings, ...] = ()

    def house(self) -> House:
        """Return what was declared in the words of the core."""
        return House(
            chambers={c.name: c.chamber() for c in self.chamber},
            sensors={s.name: s.sensor() for s in self.sensor},
            pressure_pa=pressure_at_altitude_pa(self.site.altitude_m),
            devices=tuple(d.device() for d in self.device),
        )
