"""The settings file: read once at the door, every fault named with its cure."""

from chamberwatch.settings.backups import BackupSettings
from chamberwatch.settings.chambers import ChamberSettings
from chamberwatch.settings.devices import DeviceSettings
from chamberwatch.settings.duration import duration
from chamberwatch.settings.editing import Edit, Put, SetKeys, TakeOut
from chamberwatch.settings.keeping import SettingsFile
from chamberwatch.settings.loading import check, load, moved_to
from chamberwatch.settings.models import (
    DatabaseSettings,
    MqttSettings,
    NotifySettings,
    Settings,
    SiteSettings,
    WebSettings,
)
from chamberwatch.settings.rotation import RotationSettings, rotation_faults
from chamberwatch.settings.secretless import copies
from chamberwatch.settings.sensors import (
    AccuracySettings,
    ReadSettings,
    SensorSettings,
    TimeSettings,
)
from chamberwatch.settings.sign_of_life import SignOfLifeSettings
from chamberwatch.settings.speaking import AwaySettings, SpeakingSettings, WindowSettings
from chamberwatch.settings.species import load_species, shipped_species, species_faults
from chamberwatch.settings.wired import WiredSettings

__all__ = [
    "AccuracySettings",
    "AwaySettings",
    "BackupSettings",
    "ChamberSettings",
    "DatabaseSettings",
    "DeviceSettings",
    "Edit",
    "MqttSettings",
    "NotifySettings",
    "Put",
    "ReadSettings",
    "RotationSettings",
    "SensorSettings",
    "SetKeys",
    "Settings",
    "SettingsFile",
    "SignOfLifeSettings",
    "SiteSettings",
    "SpeakingSettings",
    "TakeOut",
    "TimeSettings",
    "WebSettings",
    "WindowSettings",
    "WiredSettings",
    "check",
    "copies",
    "duration",
    "load",
    "load_species",
    "moved_to",
    "rotation_faults",
    "shipped_species",
    "species_faults",
]
