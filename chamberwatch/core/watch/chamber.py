"""Chambers and the sensors that hang in them, as the grower declared them."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import time, timedelta

from chamberwatch.core.air.accuracy import DIGITAL, Accuracy
from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.band import CORE_BAND, HOME_BANDS, ROOM_BANDS, Band, Stage
from chamberwatch.core.growing.patience import PATIENCE, ROOM_PATIENCE, OwnPatience, Patience
from chamberwatch.core.growing.wants import Following
from chamberwatch.core.watch.device import Device
from chamberwatch.core.watch.reading import Place, Quantity


@dataclass(frozen=True, slots=True)
class Chamber:
    """One body of air.

    Attributes:
        name: short, used in addresses and topics.
        title: what a person calls it.
        stage: None for a room: it surrounds chambers, and nothing grows in its own air.
        volume_l: free air volume. [L]
        shelves: names of the shelves, top first.
        surrounding: name of the chamber this one stands in.
        air_changes_per_h: closed, as the grower states it; None: not known. [1/h]
        vent_air_changes_per_h: while it is vented, as stated. [1/h]
        wet_area_m2: walls, floor and trays that can stand wet, as stated. [m2]
        squeeze_g: water of one squeeze of the spray bottle. [g]
        cover_u_w_per_m2k: of the cover (ISO 6946); thin film by default. [W/(m2 K)]
        wet_at_most: surfaces wet for longer call for drying off.
        visits: local times at which the grower usually comes by.
        living_space: it stands where people live, without a duct to the outside: spores matter.
        shelf_holds: how many batches a shelf takes; None: not checked.
        open_at_most: how many open batches at once; None: as many as there is room for.
        outdoors: a room that is none: its air is as the weather has it, and is not judged.
        patience: what the grower asked for in place of the usual delays and deadbands.
        early: how long before a limit the grower wants to know; None: not before it is reached.
        following: what the batches that stand in it make of its band; None: none was ever
            recorded here, and a general band for the stated stage holds.
    """

    name: str
    title: str
    stage: Stage | None = None
    volume_l: float | None = None
    shelves: tuple[str, ...] = ()
    surrounding: str | None = None
    air_changes_per_h: float | None = None
    vent_air_changes_per_h: float | None = None
    wet_area_m2: float | None = None
    squeeze_g: float = 1.0
    cover_u_w_per_m2k: float = 3.8
    wet_at_most: timedelta = timedelta(hours=6)
    visits: tuple[time, ...] = (time(7, 30), time(18, 0), time(22, 0))
    living_space: bool = False
    shelf_holds: int | None = None
    open_at_most: int | None = None
    outdoors: bool = False
    patience: Mapping[Quantity, OwnPatience] = field(default_factory=dict)
    early: timedelta | None = None
    following: Following | None = None

    def band(self, quantity: Quantity, place: Place) -> Band | None:
        """Return the band that holds for a quantity at a place, None where nothing is judged."""
        if self.stage is None or place is Place.SURFACE:
            return None
        if place is Place.CORE:
            return CORE_BAND if quantity is Quantity.TEMPERATURE else None
        if self.following is not None:
            return self.following.band(quantity.value)
        return HOME_BANDS[self.stage].get(quantity.value)

    def limits(self, quantity: Quantity, place: Place) -> Band | None:
        """Return what a value is held against: what the crop wants, or what the room must not be.

        None where nothing is judged.
        """
        if self.stage is not None:
            return self.band(quantity, place)
        if self.outdoors or place is not Place.AIR:
            return None
        return ROOM_BANDS.get(quantity.value)

    def patience_for(self, quantity: Quantity) -> Patience | None:
        """Return how long and how far a quantity may be outside; None where it is never judged.

        The grower's own word comes before that of what grows here, and both before the usual.
        """
        usual = (PATIENCE if self.stage is not None else ROOM_PATIENCE).get(quantity.value)
        if usual is None:
            return None
        grown = self.following.patience(quantity.value, usual) if self.following else usual
        own = self.patience.get(quantity)
        return own.over(grown) if own is not None else grown

    def judged_by(self) -> Mapping[Quantity, Band]:
        """Return what decides how its air is judged; who says so is no part of that."""
        bands = ((quantity, self.band(quantity, Place.AIR)) for quantity in Quantity)
        return {each: replace(band, source="") for each, band in bands if band is not None}


@dataclass(frozen=True, slots=True)
class Sensor:
    """A device that reports.

    Attributes:
        name: short, unique.
        chamber: name of the chamber whose air it measures.
        place: air, core or surface.
        shelf: the shelf it hangs at, None for the middle of the chamber.
        unheard_after: silence longer than this calls for a look at it.
        quantities: what it reports.
        accuracy: what it is good for.
        co2_lag_s: time in which its CO2 follows 63 % of a step. [s]
        corrects_pressure: its CO2 is right at any altitude; else it is corrected here.
        battery_low_v: below this the battery wants changing; None: not known. [V]
    """

    name: str
    chamber: str
    place: Place = Place.AIR
    shelf: str | None = None
    unheard_after: timedelta = timedelta(minutes=5)
    quantities: tuple[Quantity, ...] = ()
    accuracy: Accuracy = DIGITAL
    co2_lag_s: float = 90.0
    corrects_pressure: bool = True
    battery_low_v: float | None = None

    def where(self) -> str:
        """Say in words where it hangs."""
        if self.place is not Place.AIR:
            return self.place.value
        return self.shelf or "air"


@dataclass(frozen=True, slots=True)
class House:
    """Everything the grower declared: chambers, sensors and the air pressure of the place.

    Attributes:
        chambers: by name, in the order of the settings file. In the daemon a live view: what
            each one follows changes with what stands in it.
        sensors: by name, in the order of the settings file.
        pressure_pa: of the site's altitude, used where no sensor reports pressure. [Pa]
        devices: what runs on timers of its own, in the order of the settings file.
    """

    chambers: Mapping[str, Chamber]
    sensors: Mapping[str, Sensor]
    pressure_pa: float = field(default=101_325.0)
    devices: tuple[Device, ...] = ()
    # Asked for with each look at a chamber: in a house of many a search through all would tell.
    _sensors_in: Mapping[str, tuple[Sensor, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        found: dict[str, tuple[Sensor, ...]] = {}
        for sensor in self.sensors.values():
            found[sensor.chamber] = (*found.get(sensor.chamber, ()), sensor)
        object.__setattr__(self, "_sensors_in", found)

    def chamber(self, name: str) -> Chamber:
        """Return the chamber of that name.

        Raises:
            UnknownNameError: no such chamber.
        """
        try:
            return self.chambers[name]
        except KeyError:
            known = ", ".join(self.chambers) or "none yet"
            raise UnknownNameError(f"There is no chamber “{name}”. Known: {known}.") from None

    def titles(self) -> dict[str, str]:
        """Return what a person calls each chamber, by its name."""
        return {name: chamber.title for name, chamber in self.chambers.items()}

    def sensors_in(self, chamber: str) -> tuple[Sensor, ...]:
        """Return the sensors of a chamber in the order they were declared."""
        return self._sensors_in.get(chamber, ())

    def around(self, chamber: str) -> tuple[str, ...]:
        """Return the names of the sensors of a chamber and of the room it stands in."""
        room = self.chamber(chamber).surrounding
        outside = () if room is None else self.sensors_in(room)
        return tuple(s.name for s in (*self.sensors_in(chamber), *outside))

    def sensor(self, name: str) -> Sensor:
        """Return the sensor of that name.

        Raises:
            UnknownNameError: no such sensor.
        """
        try:
            return self.sensors[name]
        except KeyError:
            known = ", ".join(self.sensors) or "none yet"
            raise UnknownNameError(f"There is no sensor “{name}”. Known: {known}.") from None

    def air_sensors(self, chamber: str) -> list[str]:
        """Return the names of the sensors that measure a chamber's air."""
        return [s.name for s in self.sensors_in(chamber) if s.place is Place.AIR]
