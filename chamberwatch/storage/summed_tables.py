"""The tables of what readings came to, and of what is yet to be summed up."""

from typing import Final

from sqlalchemy import Column, ForeignKey, Integer, PrimaryKeyConstraint, Table

from chamberwatch.storage.columns import Flag, Real, Text, UtcTime, Whole
from chamberwatch.storage.making_tables import BY_KEY, METADATA, STRICT, may, must, number

# What readings came to, see `core.review.summary`. Time comes before quantity and sensor in the
# key, as in the readings: what is summed up together lies together. Times and lengths are whole
# seconds here, which take half the room of microseconds. Counts are narrow: a server makes another
# type of the sum of wide ones.
SUMMARIES: Final = Table(
    "summaries",
    METADATA,
    must("length_s", Whole),
    must("start_s", Whole),
    must("quantity", Whole),
    must("sensor", Whole),
    must("number", Integer),
    must("least", Real),
    must("total", Real),
    must("most", Real),
    must("within", Integer),
    must("below", Integer),
    must("above", Integer),
    PrimaryKeyConstraint("length_s", "start_s", "quantity", "sensor"),
    **BY_KEY,
)

SUMMED_SENSORS: Final = Table(
    "summed_sensors",
    METADATA,
    number(),
    Column("name", Text, nullable=False, unique=True),
    **STRICT,
)

# Quarter-hours within what is summed up whose summaries are not right: answered from readings.
# touched: counts what has changed in one since, so that nothing is lost while it is reckoned.
# counting: only how many lay within the band is wrong; all else that is kept of it is right, and
# so it is in the longer stretches that it lies in.
UNSUMMED: Final = Table(
    "unsummed",
    METADATA,
    Column("start_s", Whole, primary_key=True, nullable=True, autoincrement=False),
    must("touched", Whole),
    must("counting", Flag),
    **STRICT,
)

# Readings that came for a time of which the readings were dropped: to be added to its summaries.
LATE: Final = Table(
    "late",
    METADATA,
    must("time", UtcTime),
    Column("series", Whole, ForeignKey("series.id"), nullable=False),
    must("value", Real),
    PrimaryKeyConstraint("time", "series"),
    **BY_KEY,
)

# What readings of a sensor were held against, each from a time on.
HELD: Final = Table(
    "held",
    METADATA,
    must("sensor", Text),
    must("quantity", Text),
    must("since", UtcTime),
    may("low", Real),
    may("high", Real),
    PrimaryKeyConstraint("sensor", "quantity", "since"),
    **BY_KEY,
)
