"""The settings file: read once at the door, every fault named with its cure."""

from chamberwatch.settings.chambers import ChamberSettings
from chamberwatch.settings.devices import DeviceSettings
from chamberwatch.settings.duration import duration
from chamberwatch.settings.loading import check, load
from chamberwatch.settings.models import (
    DatabaseSettings,
    MqttSettings,
    NotifySettings,
    Settings,
    SiteSettings,
    WebSettings,
)
from chamberwatch.settings.rotation import RotationSettings, rotation_faults
from chamberwatch.settings.sensors import (
    AccuracySettings,
    ReadSettings,
    SensorSettings,
    TimeSettings,
)
from chamberwatch.settings.sign_of_life import SignOfLifeSettings
from chamberwatch.settings.speaking import AwaySettings, SpeakingSettings, WindowSettings
from chamberwatch.settings.species import load_species, shipped_species, species_faults

__all__ = [
    "AccuracySettings",
    "AwaySettings",
    "ChamberSettings",
    "DatabaseSettings",
    "DeviceSettings",
    "MqttSettings",
    "NotifySettings",
    "ReadSettings",
    "RotationSettings",
    "SensorSettings",
    "Settings",
    "SignOfLifeSettings",
    "SiteSettings",
    "SpeakingSettings",
    "TimeSettings",
    "WebSettings",
    "WindowSettings",
    "check",
    "duration",
    "load",
    "load_species",
    "rotation_faults",
    "shipped_species",
    "species_faults",
]
