"""The tables as the newest schema has them; `migrations` makes them. See `summed_tables` too."""

from typing import Final

from sqlalchemy import (
    Column,
    ForeignKey,
    Index,
    PrimaryKeyConstraint,
    Table,
    UniqueConstraint,
    false,
    text,
)

from chamberwatch.storage.columns import Flag, FreeText, Real, Text, UtcTime, Whole
from chamberwatch.storage.making_tables import BY_KEY, METADATA, STRICT, may, must, number

MIGRATIONS: Final = Table(
    "migrations",
    METADATA,
    Column("name", Text, primary_key=True),
    must("applied", UtcTime),
    **BY_KEY,
)

COUNTERS: Final = Table(
    "counters",
    METADATA,
    Column("name", Text, primary_key=True),
    must("value", Whole),
    **BY_KEY,
)

# newest_before: no reading of the series lies at or after this time. It is rounded up to the
# hour, so it changes once an hour and costs no page in every commit.
SERIES: Final = Table(
    "series",
    METADATA,
    number(),
    must("sensor", Text),
    must("quantity", Text),
    must("newest_before", UtcTime),
    UniqueConstraint("sensor", "quantity"),
    **STRICT,
)

# Time comes first in the key: what arrives together lies together, so that a commit touches one
# page and not one for each series. raw: what the sensor said, where a correction changed it.
READINGS: Final = Table(
    "readings",
    METADATA,
    must("time", UtcTime),
    Column("series", Whole, ForeignKey("series.id"), nullable=False),
    must("value", Real),
    must("timed", Flag),
    may("raw", Real),
    PrimaryKeyConstraint("time", "series"),
    **BY_KEY,
)

UNDATED: Final = Table(
    "undated",
    METADATA,
    number(),
    may("boot", Text),
    must("sensor", Text),
    must("quantity", Text),
    must("value", Real),
    must("arrived_s", Real),
    **STRICT,
)

WATCHED: Final = Table(
    "watched",
    METADATA,
    must("sensor", Text),
    must("quantity", Text),
    must("side", Text),
    must("level", Text),
    must("active", Flag),
    may("turning_since", UtcTime),
    PrimaryKeyConstraint("sensor", "quantity", "side", "level"),
    **BY_KEY,
)

REMINDERS: Final = Table(
    "reminders",
    METADATA,
    number(),
    must("chamber", Text),
    must("call", Text),
    must("subject", Text),
    must("state", Text),
    must("active", Flag),
    must("priority", Whole),
    must("episode", Whole),
    may("since", UtcTime),
    may("moved", UtcTime),
    may("told", UtcTime),
    may("shelved_until", UtcTime),
    may("evidence_sensor", Text),
    may("evidence_quantity", Text),
    may("evidence_value", Real),
    may("evidence_low", Real),
    may("evidence_high", Real),
    may("evidence_trend_per_h", Real),
    may("evidence_since", UtcTime),
    Column("repeats", Whole, nullable=False, server_default=text("0")),
    may("out_until", UtcTime),
    Column("out_by", FreeText, nullable=False, server_default=text("''")),
    Column("out_why", FreeText, nullable=False, server_default=text("''")),
    UniqueConstraint("chamber", "call", "subject"),
    **STRICT,
)

MOVES: Final = Table(
    "moves",
    METADATA,
    number(),
    Column("reminder", Whole, ForeignKey("reminders.id"), nullable=False),
    must("episode", Whole),
    must("event", Text),
    must("before", Text),
    must("after", Text),
    must("time", UtcTime),
    must("cause", FreeText),
    may("evidence_sensor", Text),
    may("evidence_quantity", Text),
    may("evidence_value", Real),
    may("evidence_low", Real),
    may("evidence_high", Real),
    may("evidence_trend_per_h", Real),
    may("evidence_since", UtcTime),
    Index("moves_of_reminder", "reminder"),
    Index("moves_by_time", "time"),
    **STRICT,
)

OUTBOX: Final = Table(
    "outbox",
    METADATA,
    number(),
    must("reminder", Whole),
    must("episode", Whole),
    must("address", Text),
    must("title", FreeText),
    must("body", FreeText),
    must("priority", Whole),
    must("state", Text),
    must("created", UtcTime),
    must("next_try", UtcTime),
    must("tries", Whole),
    may("expires", UtcTime),
    must("again", Flag),
    must("error", FreeText),
    Column("kind", Text, nullable=False, server_default=text("'reminder'")),
    Column("chamber", Text, nullable=False, server_default=text("''")),
    may("sent", UtcTime),
    Index("outbox_by_state", "state", "next_try"),
    Index("outbox_by_time", "created"),
    **STRICT,
)

ACTIONS: Final = Table(
    "actions",
    METADATA,
    number(),
    must("chamber", Text),
    must("deed", Text),
    must("at", UtcTime),
    must("note", FreeText),
    must("recorded", UtcTime),
    must("via", Text),
    may("amount", Real),
    may("standing_g", Real),
    Column("advised", Flag, nullable=False, server_default=false()),
    may("corrects", Whole),
    Column("withdrawn", Flag, nullable=False, server_default=false()),
    Index("actions_by_time", "at"),
    # Of two corrections of one deed only one can hold.
    Index("actions_by_corrected", "corrects", unique=True),
    **STRICT,
)

CALIBRATIONS: Final = Table(
    "calibrations",
    METADATA,
    number(),
    must("sensor", Text),
    must("quantity", Text),
    must("slope", Real),
    must("offset", Real),
    must("at", UtcTime),
    must("who", FreeText),
    must("how", FreeText),
    must("recorded", UtcTime),
    Index("calibrations_of_sensor", "sensor", "quantity", "at"),
    **STRICT,
)

FOUND: Final = Table(
    "found",
    METADATA,
    number(),
    must("chamber", Text),
    must("kind", Text),
    must("start", UtcTime),
    must("end", UtcTime),
    may("action", Whole),
    may("confirmed", Flag),
    may("humidity_before_pct", Real),
    may("humidity_after_pct", Real),
    may("vapour_gain_g_per_m3", Real),
    may("co2_before_ppm", Real),
    may("co2_after_ppm", Real),
    may("held_s", Real),
    may("amount", Real),
    Index("found_in_chamber", "chamber", "start"),
    Index("found_by_time", "start"),
    **STRICT,
)

EXCHANGES: Final = Table(
    "exchanges",
    METADATA,
    number(),
    must("chamber", Text),
    must("start", UtcTime),
    must("end", UtcTime),
    must("vented", Flag),
    may("per_h", Real),
    may("low", Real),
    may("high", Real),
    may("r2", Real),
    may("end_ppm", Real),
    may("inlet_ppm", Real),
    must("inlet_measured", Flag),
    may("source_g_per_h", Real),
    must("refusal", FreeText),
    Index("exchanges_in_chamber", "chamber", "start"),
    **STRICT,
)

# What was told of batches; which fields are filled depends on the kind.
ENTRIES: Final = Table(
    "entries",
    METADATA,
    number(),
    must("batch", Whole),
    must("kind", Text),
    must("at", UtcTime),
    must("recorded", UtcTime),
    must("via", Text),
    must("note", FreeText),
    may("chamber", Text),
    may("shelf", Text),
    may("count", Whole),
    may("other", Whole),
    may("weight_g", Real),
    may("stage", Text),
    may("flush", Whole),
    must("sign", Text),
    may("corrects", Whole),
    Index("entries_of_batch", "batch"),
    **STRICT,
)

STARTS: Final = Table(
    "starts",
    METADATA,
    Column("entry", Whole, ForeignKey("entries.id"), primary_key=True, nullable=True),
    must("species", Text),
    must("container", Text),
    must("count", Whole),
    must("substrate", FreeText),
    must("strain", FreeText),
    must("spawn", FreeText),
    may("wet_g", Real),
    may("dry_g", Real),
    may("moisture_pct", Real),
    may("parent", Whole),
    may("split_from", Whole),
    **STRICT,
)

# A photo of a note; the pictures lie in files that are named by the digest.
PHOTOS: Final = Table(
    "photos",
    METADATA,
    number(),
    Column("entry", Whole, ForeignKey("entries.id"), nullable=False),
    must("digest", Text),
    must("width", Whole),
    must("height", Whole),
    must("small_width", Whole),
    must("small_height", Whole),
    must("stored", Whole),
    may("removed", UtcTime),
    Index("photos_of_entry", "entry"),
    **STRICT,
)

REJECTS: Final = Table(
    "rejects",
    METADATA,
    number(),
    must("topic", FreeText),
    must("time", UtcTime),
    must("reason", FreeText),
    must("excerpt", FreeText),
    **STRICT,
)

TEXTS: Final = Table(
    "texts",
    METADATA,
    Column("name", Text, primary_key=True),
    must("value", Text),
    **BY_KEY,
)

USED_LINKS: Final = Table(
    "used_links",
    METADATA,
    Column("digest", Text, primary_key=True),
    must("used", UtcTime),
    **BY_KEY,
)

ANSWERS: Final = Table(
    "answers",
    METADATA,
    Column("key", FreeText, primary_key=True),
    must("fingerprint", Text),
    must("status", Whole),
    must("body", FreeText),
    must("kept", UtcTime),
    **BY_KEY,
)

# Who may ask without a person at the page. The token itself is not kept, only its digest.
TOKENS: Final = Table(
    "tokens",
    METADATA,
    number(),
    must("name", FreeText),
    Column("digest", Text, nullable=False, unique=True),
    must("made", UtcTime),
    may("used", UtcTime),
    may("revoked", UtcTime),
    **STRICT,
)

# When a limit was expected to be reached, and what came of it.
FORETOLD: Final = Table(
    "foretold",
    METADATA,
    number(),
    must("chamber", Text),
    must("sensor", Text),
    must("quantity", Text),
    must("side", Text),
    must("limit", Real),
    must("at", UtcTime),
    must("earliest", UtcTime),
    must("likely", UtcTime),
    may("latest", UtcTime),
    must("told", Flag),
    may("came", UtcTime),
    must("outcome", Text),
    Index("foretold_in_chamber", "chamber", "at"),
    **STRICT,
)
