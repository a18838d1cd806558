"""Values as they stand in the cells of a table that is taken further, such as a CSV file."""

from datetime import UTC, datetime
from typing import Final

from chamberwatch.core.watch.reading import Quantity

TIME: Final = "time_utc"
SENSOR: Final = "sensor"
VALUES: Final[dict[Quantity, str]] = {
    Quantity.TEMPERATURE: "temperature_c",
    Quantity.HUMIDITY: "humidity_pct",
    Quantity.CO2: "co2_ppm",
    Quantity.PRESSURE: "pressure_pa",
    Quantity.BATTERY: "battery_v",
}
"""Columns of readings, each in the unit of `UNITS`."""

SENT: Final[dict[Quantity, str]] = {
    quantity: name.replace("_", "_sent_", 1) for quantity, name in VALUES.items()
}
"""What the sensor said, where a correction made something else of it."""

TIME_FROM: Final = "time_from"
FROM_SENSOR: Final = "sensor"
FROM_ARRIVAL: Final = "arrival"
"""Whose clock a time comes from: the message brought it, or it is when the message came."""

FORMULA: Final = (
    *("=", "+", "-", "@", "\t", "\r", "\n"),
    *("\N{FULLWIDTH EQUALS SIGN}", "\N{FULLWIDTH PLUS SIGN}"),
    *("\N{FULLWIDTH HYPHEN-MINUS}", "\N{FULLWIDTH COMMERCIAL AT}"),
)
"""What begins a formula, the wide signs of East Asian keyboards too."""


def utc_text(moment: datetime) -> str:
    """Return a moment in ISO 8601, in UTC; with a fraction of the second where it has one."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def plain_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: some reckon what they open.

    Source: OWASP, CSV Injection.
    """
    return f"'{text}" if text.startswith(FORMULA) else text
