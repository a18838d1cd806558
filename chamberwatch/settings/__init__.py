"""The settings file: read once at the door, every fault named with its cure."""

from chamberwatch.settings.duration import duration
from chamberwatch.settings.loading import check, load
from chamberwatch.settings.models import (
    ChamberSettings,
    DatabaseSettings,
    MqttSettings,
    NotifySettings,
    ReadSettings,
    SensorSettings,
    Settings,
    SiteSettings,
    TimeSettings,
    WebSettings,
)

__all__ = [
    "ChamberSettings",
    "DatabaseSettings",
    "MqttSettings",
    "NotifySettings",
    "ReadSettings",
    "SensorSettings",
    "Settings",
    "SiteSettings",
    "TimeSettings",
    "WebSettings",
    "check",
    "duration",
    "load",
]
