"""How the schema came to be, step by step. A step that was released is never changed again."""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Final

from sqlalchemy import Connection, Engine, insert, inspect, select

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.tables import MIGRATIONS

Step = Callable[[Connection], None]
BeforeStep = Callable[[str], None]


def nobody_hears(_: str) -> None:
    """Say nothing of a step."""


UNFINISHED_MOVE: Final = "unfinished_move"
"""Name of a table that stands in a database until a move into it has come to its end."""


def _run(connection: Connection, statements: Sequence[str]) -> None:
    for statement in statements:
        connection.exec_driver_sql(statement)


def first_tables(connection: Connection) -> None:
    """Make everything that the first version keeps."""
    _run(connection, (*_OF_THE_AIR, *_OF_REMINDERS, *_OF_PEOPLE))


_OF_THE_AIR: Final = (
    """CREATE TABLE counters (
        name TEXT NOT NULL PRIMARY KEY, value INTEGER NOT NULL) STRICT, WITHOUT ROWID""",
    """CREATE TABLE series (
        id INTEGER PRIMARY KEY, sensor TEXT NOT NULL, quantity TEXT NOT NULL,
        newest_before INTEGER NOT NULL, UNIQUE (sensor, quantity)) STRICT""",
    """CREATE TABLE readings (
        time INTEGER NOT NULL, series INTEGER NOT NULL REFERENCES series (id),
        value REAL NOT NULL, timed INTEGER NOT NULL,
        PRIMARY KEY (time, series)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE undated (
        id INTEGER PRIMARY KEY, boot TEXT, sensor TEXT NOT NULL, quantity TEXT NOT NULL,
        value REAL NOT NULL, arrived_s REAL NOT NULL) STRICT""",
    """CREATE TABLE watched (
        sensor TEXT NOT NULL, quantity TEXT NOT NULL, side TEXT NOT NULL, level TEXT NOT NULL,
        active INTEGER NOT NULL, turning_since INTEGER,
        PRIMARY KEY (sensor, quantity, side, level)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE rejects (
        id INTEGER PRIMARY KEY, topic TEXT NOT NULL, time INTEGER NOT NULL,
        reason TEXT NOT NULL, excerpt TEXT NOT NULL) STRICT""",
)

_OF_REMINDERS: Final = (
    """CREATE TABLE reminders (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, call TEXT NOT NULL, subject TEXT NOT NULL,
        state TEXT NOT NULL, active INTEGER NOT NULL, priority INTEGER NOT NULL,
        episode INTEGER NOT NULL, since INTEGER, moved INTEGER, told INTEGER,
        shelved_until INTEGER, evidence_sensor TEXT, evidence_quantity TEXT, evidence_value REAL,
        evidence_low REAL, evidence_high REAL, evidence_trend_per_h REAL, evidence_since INTEGER,
        UNIQUE (chamber, call, subject)) STRICT""",
    """CREATE TABLE moves (
        id INTEGER PRIMARY KEY, reminder INTEGER NOT NULL REFERENCES reminders (id),
        episode INTEGER NOT NULL, event TEXT NOT NULL, before TEXT NOT NULL,
        after TEXT NOT NULL, time INTEGER NOT NULL, cause TEXT NOT NULL) STRICT""",
    "CREATE INDEX moves_of_reminder ON moves (reminder)",
    """CREATE TABLE outbox (
        id INTEGER PRIMARY KEY, reminder INTEGER NOT NULL, episode INTEGER NOT NULL,
        address TEXT NOT NULL, title TEXT NOT NULL, body TEXT NOT NULL, priority INTEGER NOT NULL,
        state TEXT NOT NULL, created INTEGER NOT NULL, next_try INTEGER NOT NULL,
        tries INTEGER NOT NULL, expires INTEGER, again INTEGER NOT NULL,
        error TEXT NOT NULL) STRICT""",
    "CREATE INDEX outbox_by_state ON outbox (state, next_try)",
)

_OF_PEOPLE: Final = (
    """CREATE TABLE actions (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, deed TEXT NOT NULL, at INTEGER NOT NULL,
        note TEXT NOT NULL, recorded INTEGER NOT NULL, via TEXT NOT NULL) STRICT""",
    "CREATE INDEX actions_by_time ON actions (at)",
    """CREATE TABLE texts (
        name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID""",
    """CREATE TABLE used_links (
        digest TEXT NOT NULL PRIMARY KEY, used INTEGER NOT NULL) STRICT, WITHOUT ROWID""",
    """CREATE TABLE answers (
        key TEXT NOT NULL PRIMARY KEY, fingerprint TEXT NOT NULL, status INTEGER NOT NULL,
        body TEXT NOT NULL, kept INTEGER NOT NULL) STRICT, WITHOUT ROWID""",
)


def what_the_air_tells(connection: Connection) -> None:
    """Add corrections of sensors, amounts of deeds, and what was found in the readings."""
    _run(connection, _OF_CORRECTIONS)
    _run(connection, _OF_FINDINGS)


_OF_CORRECTIONS: Final = (
    "ALTER TABLE readings ADD COLUMN raw REAL",
    """CREATE TABLE calibrations (
        id INTEGER PRIMARY KEY, sensor TEXT NOT NULL, quantity TEXT NOT NULL, slope REAL NOT NULL,
        offset REAL NOT NULL, at INTEGER NOT NULL, who TEXT NOT NULL, how TEXT NOT NULL,
        recorded INTEGER NOT NULL) STRICT""",
    "CREATE INDEX calibrations_of_sensor ON calibrations (sensor, quantity, at)",
)

_OF_FINDINGS: Final = (
    "ALTER TABLE actions ADD COLUMN amount REAL",
    "ALTER TABLE actions ADD COLUMN standing_g REAL",
    "ALTER TABLE actions ADD COLUMN advised INTEGER DEFAULT 0 NOT NULL",
    """CREATE TABLE found (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, kind TEXT NOT NULL,
        start INTEGER NOT NULL, "end" INTEGER NOT NULL, action INTEGER, confirmed INTEGER,
        humidity_before_pct REAL, humidity_after_pct REAL, vapour_gain_g_per_m3 REAL,
        co2_before_ppm REAL, co2_after_ppm REAL, held_s REAL, amount REAL) STRICT""",
    "CREATE INDEX found_in_chamber ON found (chamber, start)",
    """CREATE TABLE exchanges (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, start INTEGER NOT NULL,
        "end" INTEGER NOT NULL, vented INTEGER NOT NULL, per_h REAL, low REAL, high REAL, r2 REAL,
        end_ppm REAL, inlet_ppm REAL, inlet_measured INTEGER NOT NULL, source_g_per_h REAL,
        refusal TEXT NOT NULL) STRICT""",
    "CREATE INDEX exchanges_in_chamber ON exchanges (chamber, start)",
)


def what_grows(connection: Connection) -> None:
    """Add what is told of batches."""
    _run(connection, _OF_BATCHES)


_OF_BATCHES: Final = (
    """CREATE TABLE entries (
        id INTEGER PRIMARY KEY, batch INTEGER NOT NULL, kind TEXT NOT NULL, at INTEGER NOT NULL,
        recorded INTEGER NOT NULL, via TEXT NOT NULL, note TEXT NOT NULL, chamber TEXT,
        shelf TEXT, count INTEGER, other INTEGER, weight_g REAL, stage TEXT, flush INTEGER,
        sign TEXT NOT NULL, corrects INTEGER) STRICT""",
    "CREATE INDEX entries_of_batch ON entries (batch)",
    """CREATE TABLE starts (
        entry INTEGER PRIMARY KEY REFERENCES entries (id), species TEXT NOT NULL,
        container TEXT NOT NULL, count INTEGER NOT NULL, substrate TEXT NOT NULL,
        strain TEXT NOT NULL, spawn TEXT NOT NULL, wet_g REAL, dry_g REAL, moisture_pct REAL,
        parent INTEGER, split_from INTEGER) STRICT""",
)


def what_can_be_trusted(connection: Connection) -> None:
    """Add the readings behind each move, repeats, reasons, what was foretold, and who may ask."""
    _run(connection, _OF_TRUST)


_OF_TRUST: Final = (
    "ALTER TABLE moves ADD COLUMN evidence_sensor TEXT",
    "ALTER TABLE moves ADD COLUMN evidence_quantity TEXT",
    "ALTER TABLE moves ADD COLUMN evidence_value REAL",
    "ALTER TABLE moves ADD COLUMN evidence_low REAL",
    "ALTER TABLE moves ADD COLUMN evidence_high REAL",
    "ALTER TABLE moves ADD COLUMN evidence_trend_per_h REAL",
    "ALTER TABLE moves ADD COLUMN evidence_since INTEGER",
    "CREATE INDEX moves_by_time ON moves (time)",
    "ALTER TABLE reminders ADD COLUMN repeats INTEGER DEFAULT 0 NOT NULL",
    "ALTER TABLE reminders ADD COLUMN out_until INTEGER",
    "ALTER TABLE reminders ADD COLUMN out_by TEXT DEFAULT '' NOT NULL",
    "ALTER TABLE reminders ADD COLUMN out_why TEXT DEFAULT '' NOT NULL",
    "ALTER TABLE outbox ADD COLUMN kind TEXT DEFAULT 'reminder' NOT NULL",
    "ALTER TABLE outbox ADD COLUMN chamber TEXT DEFAULT '' NOT NULL",
    "ALTER TABLE outbox ADD COLUMN sent INTEGER",
    "CREATE INDEX outbox_by_time ON outbox (created)",
    """CREATE TABLE tokens (
        id INTEGER PRIMARY KEY, name TEXT NOT NULL, digest TEXT NOT NULL UNIQUE,
        made INTEGER NOT NULL, used INTEGER, revoked INTEGER) STRICT""",
    """CREATE TABLE foretold (
        id INTEGER PRIMARY KEY, chamber TEXT NOT NULL, sensor TEXT NOT NULL,
        quantity TEXT NOT NULL, side TEXT NOT NULL, "limit" REAL NOT NULL, at INTEGER NOT NULL,
        earliest INTEGER NOT NULL, likely INTEGER NOT NULL, latest INTEGER, told INTEGER NOT NULL,
        came INTEGER, outcome TEXT NOT NULL) STRICT""",
    "CREATE INDEX foretold_in_chamber ON foretold (chamber, at)",
)


def what_readings_came_to(connection: Connection) -> None:
    """Add summaries of readings; those of before are summed up bit by bit while it runs."""
    _run(connection, _OF_SUMMARIES)


_OF_SUMMARIES: Final = (
    """CREATE TABLE summaries (
        length_s INTEGER NOT NULL, start_s INTEGER NOT NULL, quantity INTEGER NOT NULL,
        sensor INTEGER NOT NULL, number INTEGER NOT NULL, least REAL NOT NULL,
        total REAL NOT NULL, most REAL NOT NULL, within INTEGER NOT NULL,
        below INTEGER NOT NULL, above INTEGER NOT NULL,
        PRIMARY KEY (length_s, start_s, quantity, sensor)) STRICT, WITHOUT ROWID""",
    "CREATE TABLE summed_sensors (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT",
    """CREATE TABLE unsummed (
        start_s INTEGER PRIMARY KEY, touched INTEGER NOT NULL,
        counting INTEGER NOT NULL) STRICT""",
    """CREATE TABLE late (
        time INTEGER NOT NULL, series INTEGER NOT NULL REFERENCES series (id),
        value REAL NOT NULL, PRIMARY KEY (time, series)) STRICT, WITHOUT ROWID""",
    """CREATE TABLE held (
        sensor TEXT NOT NULL, quantity TEXT NOT NULL, since INTEGER NOT NULL, low REAL, high REAL,
        PRIMARY KEY (sensor, quantity, since)) STRICT, WITHOUT ROWID""",
)


def photos_of_notes(connection: Connection) -> None:
    """Add photos."""
    _run(connection, _OF_PHOTOS)


_OF_PHOTOS: Final = (
    """CREATE TABLE photos (
        id INTEGER PRIMARY KEY, entry INTEGER NOT NULL REFERENCES entries (id),
        digest TEXT NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
        small_width INTEGER NOT NULL, small_height INTEGER NOT NULL, stored INTEGER NOT NULL,
        removed INTEGER) STRICT""",
    "CREATE INDEX photos_of_entry ON photos (entry)",
)


def what_was_put_right(connection: Connection) -> None:
    """Add deeds that stand in for others, and the index a log of everything is read by."""
    _run(connection, _OF_MENDING)


_OF_MENDING: Final = (
    "ALTER TABLE actions ADD COLUMN corrects INTEGER",
    "ALTER TABLE actions ADD COLUMN withdrawn INTEGER DEFAULT 0 NOT NULL",
    "CREATE UNIQUE INDEX actions_by_corrected ON actions (corrects)",
    "CREATE INDEX found_by_time ON found (start)",
)

# In order; a new step goes to the end. No server has been through these: databases there begin
# with the newest schema, so a step to come must hold on both kinds (`connection.dialect.name`).
STEPS: Final[tuple[tuple[str, Step], ...]] = (
    ("first tables", first_tables),
    ("what the air tells", what_the_air_tells),
    ("what grows", what_grows),
    ("what can be trusted", what_can_be_trusted),
    ("what readings came to", what_readings_came_to),
    ("photos of notes", photos_of_notes),
    ("what was put right", what_was_put_right),
)


def applied(connection: Connection) -> frozenset[str]:
    """Return the names of the steps that a database has behind it; none of a new one.

    Raises:
        StorageError: it holds tables, but none of ours, or not all that was to be moved there.
    """
    names = frozenset(inspect(connection).get_table_names())
    if not names:
        return frozenset()
    if UNFINISHED_MOVE in names:
        raise StorageError(
            "A move into this database was begun and did not end; what is there is not whole. "
            "Move again with chamberwatch move-database --start-over, or go on with the file."
        )
    if MIGRATIONS.name not in names:
        raise StorageError(
            "This database belongs to another program. Name one of chamberwatch's own, or one "
            "that is new."
        )
    return frozenset(connection.execute(select(MIGRATIONS.c.name)).scalars())


def check(done: frozenset[str], steps: Sequence[tuple[str, Step]] = STEPS) -> None:
    """Refuse a database from the future.

    Raises:
        StorageError: it has steps behind it that this version does not know.
    """
    unknown = ", ".join(f"“{name}”" for name in sorted(done - {name for name, _ in steps}))
    if unknown:
        raise StorageError(
            f"This database was written by a newer chamberwatch: it has been through {unknown}."
            " Install that version again, or go back to a backup made before it."
        )


def missing(done: frozenset[str], steps: Sequence[tuple[str, Step]] = STEPS) -> tuple[str, ...]:
    """Return the names of the steps that a database has yet to take; all of a new one."""
    return tuple(name for name, _ in steps if name not in done)


def migrate(
    writer: Engine,
    now: datetime,
    steps: Sequence[tuple[str, Step]] = STEPS,
    before_step: BeforeStep = nobody_hears,
) -> tuple[str, ...]:
    """Take the steps that are missing, each in one transaction with its record.

    Args:
        writer: an engine whose transactions hold the write lock from their first line.
        now: kept as the time of the steps.
        steps: what there is to take.
        before_step: told the name of each step that is about to be taken.

    Returns:
        The names of the steps taken here, in order.
    """
    return tuple(
        name for name, step in steps if _take(writer, now, steps, (name, step), before_step)
    )


def _take(
    writer: Engine,
    now: datetime,
    steps: Sequence[tuple[str, Step]],
    this: tuple[str, Step],
    told: BeforeStep,
) -> bool:
    name, step = this
    # Looked up inside the lock: another process may have taken this step a moment ago.
    with writer.begin() as connection:
        done = applied(connection)
        check(done, steps)
        if name in done:
            return False
        told(name)
        if not done:
            connection.exec_driver_sql(
                """CREATE TABLE IF NOT EXISTS migrations (
            name TEXT NOT NULL PRIMARY KEY, applied INTEGER NOT NULL) STRICT, WITHOUT ROWID"""
            )
        step(connection)
        connection.execute(insert(MIGRATIONS).values(name=name, applied=now))
    return True
