"""Steps of the schema: taken once, in order, whole or not at all."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, select

from chamberwatch.core.errors import StorageError
from chamberwatch.storage.book import SqlBooks
from chamberwatch.storage.engine import make_writer
from chamberwatch.storage.making_tables import METADATA
from chamberwatch.storage.migrations import STEPS, Step, applied, migrate
from chamberwatch.storage.tables import MIGRATIONS
from tests.servers import only_files

T0 = datetime(2025, 3, 1, 12, 0, tzinfo=UTC)


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[Engine]:
    engine = make_writer(tmp_path / "steps.db", 1.0)
    yield engine
    engine.dispose()


def makes(name: str) -> Step:
    def step(connection: Connection) -> None:
        connection.exec_driver_sql(f"CREATE TABLE {name} (x INTEGER) STRICT")

    return step


def fails(connection: Connection) -> None:
    connection.exec_driver_sql("CREATE TABLE half (x INTEGER) STRICT")
    connection.exec_driver_sql("INSERT INTO half VALUES (1)")
    raise RuntimeError("power")


def tables(engine: Engine) -> set[str]:
    with engine.begin() as connection:
        return set(
            connection.exec_driver_sql(
                "SELECT name FROM sqlite_schema WHERE type = 'table'"
            ).scalars()
        )


def test_steps_are_taken_once_and_in_order(writer: Engine) -> None:
    one, two = ("one", makes("first")), ("two", makes("second"))
    assert migrate(writer, T0, (one,)) == ("one",)
    assert migrate(writer, T0 + timedelta(days=1), (one, two)) == ("two",)
    assert migrate(writer, T0, (one, two)) == ()
    assert tables(writer) == {"migrations", "first", "second"}
    with writer.begin() as connection:
        kept = connection.execute(select(MIGRATIONS).order_by(MIGRATIONS.c.applied)).all()
    assert [tuple(row) for row in kept] == [("one", T0), ("two", T0 + timedelta(days=1))]


def test_a_step_that_fails_leaves_nothing_and_can_be_taken_again(writer: Engine) -> None:
    one, two = ("one", makes("first")), ("two", fails)
    with pytest.raises(RuntimeError, match="power"):
        migrate(writer, T0, (one, two))
    assert tables(writer) == {"migrations", "first"}
    with writer.begin() as connection:
        assert applied(connection) == {"one"}
    assert migrate(writer, T0, (one, ("two", makes("half")))) == ("two",)


def test_a_first_step_that_fails_leaves_an_empty_file(writer: Engine) -> None:
    with pytest.raises(RuntimeError, match="power"):
        migrate(writer, T0, (("one", fails),))
    assert tables(writer) == set()


def test_steps_of_a_newer_version_are_not_passed_over(writer: Engine) -> None:
    migrate(writer, T0, (("one", makes("first")), ("next year", makes("second"))))
    with pytest.raises(StorageError, match="“next year”"):
        migrate(writer, T0, (("one", makes("first")),))


def test_step_names_are_unique() -> None:
    assert len({name for name, _ in STEPS}) == len(STEPS)


def shape(engine: Engine) -> dict[str, object]:
    """Return all that matters of a schema, whatever words it was made with."""
    found: dict[str, object] = {}
    with engine.begin() as connection:

        def ask(question: str) -> list[tuple[object, ...]]:
            return sorted((tuple(row) for row in connection.exec_driver_sql(question)), key=repr)

        for _, name, _, _, without_rowid, strict in ask("PRAGMA table_list"):
            if str(name).startswith("sqlite_"):
                continue
            indexes = [
                (unique, origin, [column for *_, column in ask(f"PRAGMA index_info('{index}')")])
                for _, index, unique, origin, _ in ask(f"PRAGMA index_list('{name}')")
            ]
            found[str(name)] = (
                ("strict", strict, "without rowid", without_rowid),
                [column[1:] for column in ask(f"PRAGMA table_info('{name}')")],
                sorted(indexes, key=repr),
                ask(f"PRAGMA foreign_key_list('{name}')"),
            )
    return found


@only_files("on a server there is no history of steps to compare")
def test_the_steps_lead_to_the_tables_that_the_code_works_with(
    books: SqlBooks, writer: Engine
) -> None:
    METADATA.create_all(writer)
    stepped, declared = shape(books._writer), shape(writer)
    assert stepped.keys() == declared.keys()
    for name, expected in declared.items():
        assert stepped[name] == expected, name


@only_files("strict tables are SQLite's")
def test_every_table_is_strict(books: SqlBooks) -> None:
    with books._writer.begin() as connection:
        rows = connection.exec_driver_sql("PRAGMA table_list").all()
    assert {row[1]: row[5] for row in rows if not row[1].startswith("sqlite_")} == dict.fromkeys(
        METADATA.tables, 1
    )
