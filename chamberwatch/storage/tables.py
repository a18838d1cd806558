"""The tables as the newest schema has them; `migrations` makes them."""

from typing import Any, Final

from sqlalchemy import (
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from chamberwatch.storage.columns import Flag, FreeText, Real, UtcTime, Whole

METADATA: Final = MetaData()

STRICT: Final[dict[str, Any]] = {"sqlite_strict": True}
# Where the key is the natural one, the rows lie in its order and need no second tree.
BY_KEY: Final[dict[str, Any]] = {"sqlite_strict": True, "sqlite_with_rowid": False}


def _must(name: str, kind: Any) -> Column[Any]:  # noqa: ANN401 - any column type
    return Column(name, kind, nullable=False)


def _may(name: str, kind: Any) -> Column[Any]:  # noqa: ANN401 - any column type
    return Column(name, kind, nullable=True)


# No autoincrement: ids are handed out by counting up, and the newest rows are never removed.
def _number() -> Column[int]:
    return Column("id", Integer, primary_key=True, nullable=True)


MIGRATIONS: Final = Table(
    "migrations",
    METADATA,
    Column("name", Text, primary_key=True),
    _must("applied", UtcTime),
    **BY_KEY,
)

COUNTERS: Final = Table(
    "counters",
    METADATA,
    Column("name", Text, primary_key=True),
    _must("value", Whole),
    **BY_KEY,
)

# newest_before: no reading of the series lies at or after this time. It is rounded up to the
# hour, so it changes once an hour and costs no page in every commit.
SERIES: Final = Table(
    "series",
    METADATA,
    _number(),
    _must("sensor", Text),
    _must("quantity", Text),
    _must("newest_before", UtcTime),
    UniqueConstraint("sensor", "quantity"),
    **STRICT,
)

# Time comes first in the key: what arrives together lies together, so that a commit touches one
# page and not one for each series. raw: what the sensor said, where a correction changed it.
READINGS: Final = Table(
    "readings",
    METADATA,
    _must("time", UtcTime),
    Column("series", Integer, ForeignKey("series.id"), nullable=False),
    _must("value", Real),
    _must("timed", Flag),
    _may("raw", Real),
    PrimaryKeyConstraint("time", "series"),
    **BY_KEY,
)

UNDATED: Final = Table(
    "undated",
    METADATA,
    _number(),
    _may("boot", Text),
    _must("sensor", Text),
    _must("quantity", Text),
    _must("value", Real),
    _must("arrived_s", Real),
    **STRICT,
)

WATCHED: Final = Table(
    "watched",
    METADATA,
    _must("sensor", Text),
    _must("quantity", Text),
    _must("side", Text),
    _must("level", Text),
    _must("active", Flag),
    _may("turning_since", UtcTime),
    PrimaryKeyConstraint("sensor", "quantity", "side", "level"),
    **BY_KEY,
)

REMINDERS: Final = Table(
    "reminders",
    METADATA,
    _number(),
    _must("chamber", Text),
    _must("call", Text),
    _must("subject", Text),
    _must("state", Text),
    _must("active", Flag),
    _must("priority", Integer),
    _must("episode", Integer),
    _may("since", UtcTime),
    _may("moved", UtcTime),
    _may("told", UtcTime),
    _may("shelved_until", UtcTime),
    _may("evidence_sensor", Text),
    _may("evidence_quantity", Text),
    _may("evidence_value", Real),
    _may("evidence_low", Real),
    _may("evidence_high", Real),
    _may("evidence_trend_per_h", Real),
    _may("evidence_since", UtcTime),
    Column("repeats", Integer, nullable=False, server_default=text("0")),
    _may("out_until", UtcTime),
    Column("out_by", FreeText, nullable=False, server_default=text("''")),
    Column("out_why", FreeText, nullable=False, server_default=text("''")),
    UniqueConstraint("chamber", "call", "subject"),
    **STRICT,
)

MOVES: Final = Table(
    "moves",
    METADATA,
    _number(),
    Column("reminder", Integer, ForeignKey("reminders.id"), nullable=False),
    _must("episode", Integer),
    _must("event", Text),
    _must("before", Text),
    _must("after", Text),
    _must("time", UtcTime),
    _must("cause", FreeText),
    _may("evidence_sensor", Text),
    _may("evidence_quantity", Text),
    _may("evidence_value", Real),
    _may("evidence_low", Real),
    _may("evidence_high", Real),
    _may("evidence_trend_per_h", Real),
    _may("evidence_since", UtcTime),
    Index("moves_of_reminder", "reminder"),
    Index("moves_by_time", "time"),
    **STRICT,
)

OUTBOX: Final = Table(
    "outbox",
    METADATA,
    _number(),
    _must("reminder", Integer),
    _must("episode", Integer),
    _must("address", Text),
    _must("title", FreeText),
    _must("body", FreeText),
    _must("priority", Integer),
    _must("state", Text),
    _must("created", UtcTime),
    _must("next_try", UtcTime),
    _must("tries", Integer),
    _may("expires", UtcTime),
    _must("again", Flag),
    _must("error", FreeText),
    Column("kind", Text, nullable=False, server_default=text("'reminder'")),
    Column("chamber", Text, nullable=False, server_default=text("''")),
    _may("sent", UtcTime),
    Index("outbox_by_state", "state", "next_try"),
    Index("outbox_by_time", "created"),
    **STRICT,
)

ACTIONS: Final = Table(
    "actions",
    METADATA,
    _number(),
    _must("chamber", Text),
    _must("deed", Text),
    _must("at", UtcTime),
    _must("note", FreeText),
    _must("recorded", UtcTime),
    _must("via", Text),
    _may("amount", Real),
    _may("standing_g", Real),
    Column("advised", Flag, nullable=False, server_default=text("0")),
    Index("actions_by_time", "at"),
    **STRICT,
)

CALIBRATIONS: Final = Table(
    "calibrations",
    METADATA,
    _number(),
    _must("sensor", Text),
    _must("quantity", Text),
    _must("slope", Real),
    _must("offset", Real),
    _must("at", UtcTime),
    _must("who", FreeText),
    _must("how", FreeText),
    _must("recorded", UtcTime),
    Index("calibrations_of_sensor", "sensor", "quantity", "at"),
    **STRICT,
)

FOUND: Final = Table(
    "found",
    METADATA,
    _number(),
    _must("chamber", Text),
    _must("kind", Text),
    _must("start", UtcTime),
    _must("end", UtcTime),
    _may("action", Integer),
    _may("confirmed", Flag),
    _may("humidity_before_pct", Real),
    _may("humidity_after_pct", Real),
    _may("vapour_gain_g_per_m3", Real),
    _may("co2_before_ppm", Real),
    _may("co2_after_ppm", Real),
    _may("held_s", Real),
    _may("amount", Real),
    Index("found_in_chamber", "chamber", "start"),
    **STRICT,
)

EXCHANGES: Final = Table(
    "exchanges",
    METADATA,
    _number(),
    _must("chamber", Text),
    _must("start", UtcTime),
    _must("end", UtcTime),
    _must("vented", Flag),
    _may("per_h", Real),
    _may("low", Real),
    _may("high", Real),
    _may("r2", Real),
    _may("end_ppm", Real),
    _may("inlet_ppm", Real),
    _must("inlet_measured", Flag),
    _may("source_g_per_h", Real),
    _must("refusal", FreeText),
    Index("exchanges_in_chamber", "chamber", "start"),
    **STRICT,
)

# What was told of batches; which fields are filled depends on the kind.
ENTRIES: Final = Table(
    "entries",
    METADATA,
    _number(),
    _must("batch", Integer),
    _must("kind", Text),
    _must("at", UtcTime),
    _must("recorded", UtcTime),
    _must("via", Text),
    _must("note", FreeText),
    _may("chamber", Text),
    _may("shelf", Text),
    _may("count", Integer),
    _may("other", Integer),
    _may("weight_g", Real),
    _may("stage", Text),
    _may("flush", Integer),
    _must("sign", Text),
    _may("corrects", Integer),
    Index("entries_of_batch", "batch"),
    **STRICT,
)

STARTS: Final = Table(
    "starts",
    METADATA,
    Column("entry", Integer, ForeignKey("entries.id"), primary_key=True, nullable=True),
    _must("species", Text),
    _must("container", Text),
    _must("count", Integer),
    _must("substrate", FreeText),
    _must("strain", FreeText),
    _must("spawn", FreeText),
    _may("wet_g", Real),
    _may("dry_g", Real),
    _may("moisture_pct", Real),
    _may("parent", Integer),
    _may("split_from", Integer),
    **STRICT,
)

REJECTS: Final = Table(
    "rejects",
    METADATA,
    _number(),
    _must("topic", FreeText),
    _must("time", UtcTime),
    _must("reason", FreeText),
    _must("excerpt", FreeText),
    **STRICT,
)

TEXTS: Final = Table(
    "texts",
    METADATA,
    Column("name", Text, primary_key=True),
    _must("value", Text),
    **BY_KEY,
)

USED_LINKS: Final = Table(
    "used_links",
    METADATA,
    Column("digest", Text, primary_key=True),
    _must("used", UtcTime),
    **BY_KEY,
)

ANSWERS: Final = Table(
    "answers",
    METADATA,
    Column("key", FreeText, primary_key=True),
    _must("fingerprint", Text),
    _must("status", Integer),
    _must("body", FreeText),
    _must("kept", UtcTime),
    **BY_KEY,
)

# Who may ask without a person at the page. The token itself is not kept, only its digest.
TOKENS: Final = Table(
    "tokens",
    METADATA,
    _number(),
    _must("name", FreeText),
    Column("digest", Text, nullable=False, unique=True),
    _must("made", UtcTime),
    _may("used", UtcTime),
    _may("revoked", UtcTime),
    **STRICT,
)

# When a limit was expected to be reached, and what came of it.
FORETOLD: Final = Table(
    "foretold",
    METADATA,
    _number(),
    _must("chamber", Text),
    _must("sensor", Text),
    _must("quantity", Text),
    _must("side", Text),
    _must("limit", Real),
    _must("at", UtcTime),
    _must("earliest", UtcTime),
    _must("likely", UtcTime),
    _may("latest", UtcTime),
    _must("told", Flag),
    _may("came", UtcTime),
    _must("outcome", Text),
    Index("foretold_in_chamber", "chamber", "at"),
    **STRICT,
)
