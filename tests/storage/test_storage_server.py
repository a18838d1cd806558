"""A database on a server: its shape, its locks and its troubles."""

import re
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager, nullcontext
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, exc, select
from sqlalchemy.engine import make_url

from chamberwatch.core.errors import StorageError
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.service.books import Span
from chamberwatch.storage.book import SqlBooks, kept_text, open_books
from chamberwatch.storage.looking import look_at
from chamberwatch.storage.making_tables import METADATA
from chamberwatch.storage.migrations import STEPS, migrate
from chamberwatch.storage.place import place_of
from chamberwatch.storage.server import Server, server_of
from chamberwatch.storage.server_alone import DAEMON, TRIES, TRY_EVERY_S, Keeper
from chamberwatch.storage.server_troubles import ServerAwayError
from chamberwatch.storage.tables import MIGRATIONS
from chamberwatch.storage.whole import begin_whole
from tests.servers import GUARDED, PASSWORD, TestServer, needs_server

pytestmark = needs_server

T0 = datetime(2025, 3, 1, 12, 0, tzinfo=UTC)
RH = Quantity.HUMIDITY
TAKE = "SELECT pg_advisory_lock(%s, hashtext('public'))"
EVER = Span(T0 - timedelta(days=9), T0 + timedelta(days=9))


@pytest.fixture
def kind() -> str:
    """All of this is about servers."""
    return "postgresql"


@pytest.fixture
def place(server: TestServer) -> Server:
    return server_of(make_url(server.url()))


@contextmanager
def emptied(server: TestServer) -> Iterator[str]:
    """Give the address of a database with nothing in it, and leave nothing odd."""
    yield server.emptied()
    server.emptied()


def reading(second: int, sensor: str = "top") -> Reading:
    return Reading(T0 + timedelta(seconds=second), sensor, RH, 90.0)


# ---------------------------------------------------------------- its shape


def test_a_new_one_has_the_newest_schema_and_all_steps_behind_it(server: TestServer) -> None:
    with emptied(server) as url:
        open_books(url, T0).close()
        books = open_books(url, T0 + timedelta(days=1))
        with books._reader.begin() as connection:
            kept = connection.execute(select(MIGRATIONS)).all()
        books.close()
        assert sorted(kept) == sorted((name, T0) for name, _ in STEPS)
        tables = {name for name, *_ in server.shape()["columns"]}
    assert tables == set(METADATA.tables)


def test_values_have_the_types_that_hold_them(books: SqlBooks, server: TestServer) -> None:
    kinds = {(table, column): (kind, order) for table, column, kind, _, _, order in
             server.shape()["columns"]}  # fmt: skip
    assert {kind for kind, _ in kinds.values()} == {
        "bigint", "integer", "double precision", "boolean", "text",
    }  # fmt: skip
    # In the order of their bytes, as in a file, and not in that of a language.
    assert {order for kind, order in kinds.values() if kind == "text"} == {"C"}
    assert kinds["readings", "time"] == ("bigint", None)
    narrow = {column for (_, column), (kind, _) in kinds.items() if kind == "integer"}
    assert narrow == {"number", "within", "below", "above"}
    # Seconds since 1970 do not fit into four bytes for long.
    assert kinds["summaries", "start_s"] == kinds["unsummed", "start_s"] == ("bigint", None)


def test_a_later_step_is_taken_there_too(server: TestServer) -> None:
    def more(connection: Connection) -> None:
        assert connection.dialect.name == "postgresql"
        connection.exec_driver_sql("CREATE TABLE later (a BIGINT)")

    def fails(connection: Connection) -> None:
        connection.exec_driver_sql("CREATE TABLE half (a BIGINT)")
        raise RuntimeError("power")

    with emptied(server) as url:
        books = open_books(url, T0)
        steps = (*STEPS, ("more", more))
        assert not begin_whole(books._writer, T0)
        assert migrate(books._writer, T0, steps) == ("more",)
        assert migrate(books._writer, T0, steps) == ()
        with pytest.raises(RuntimeError, match="power"):
            migrate(books._writer, T0, (*steps, ("half", fails)))
        books.close()
        assert server.run("SELECT to_regclass('later')::text, to_regclass('half')") == [
            ("later", None)
        ]
        with pytest.raises(StorageError, match="newer chamberwatch: it has been through “more”"):
            open_books(url, T0)


def test_one_that_can_not_be_made_whole_stays_empty(server: TestServer) -> None:
    with emptied(server) as url:
        writer = place_of(url).writer(5.0)

        def break_off() -> None:
            with writer.begin() as connection:
                METADATA.create_all(connection)
                raise RuntimeError("power")

        with pytest.raises(RuntimeError, match="power"):
            break_off()
        writer.dispose()
        assert server.shape()["columns"] == []
        assert not place_of(url).there(5.0)


def test_one_of_another_program_is_left_alone(server: TestServer) -> None:
    with emptied(server) as url:
        server.run("CREATE TABLE photographs (id integer)")
        before = server.shape()
        with pytest.raises(StorageError, match="belongs to another program"):
            open_books(url, T0)
        assert server.shape() == before


@pytest.mark.parametrize("encoding", ["LATIN1", "SQL_ASCII"])
def test_one_that_has_no_room_for_all_words_is_refused(server: TestServer, encoding: str) -> None:
    server.run(f"CREATE DATABASE narrow TEMPLATE template0 ENCODING '{encoding}' LOCALE 'C'")
    with pytest.raises(StorageError, match="createdb --encoding=UTF8") as caught:
        open_books(server.url(database="narrow"), T0)
    server.run("DROP DATABASE narrow WITH (FORCE)")
    assert f"keeps texts in {encoding}" in str(caught.value)


# ---------------------------------------------------------------- its connections


@pytest.mark.parametrize(
    ("writing", "level", "only_read"),
    [(True, "read committed", "off"), (False, "repeatable read", "on")],
)
def test_every_connection_is_set_up_as_promised(
    server: TestServer, url: str, writing: bool, level: str, only_read: str
) -> None:
    # Whoever looks after the server may have thought speed the greater good.
    server.run("ALTER ROLE keeper SET synchronous_commit = off")
    books = open_books(url, T0, wait_s=1.25)
    with (books._writer if writing else books._reader).begin() as connection:
        found = {
            name: connection.exec_driver_sql(f"SHOW {name}").scalar_one()
            for name in ("transaction_isolation", "transaction_read_only", "synchronous_commit",
                         "lock_timeout")
        }  # fmt: skip
    books.close()
    server.run("ALTER ROLE keeper RESET synchronous_commit")
    assert found == {
        "transaction_isolation": level,
        "transaction_read_only": only_read,
        "synchronous_commit": "on",
        "lock_timeout": "1250ms",
    }


def test_a_stricter_promise_of_the_server_holds(server: TestServer, url: str) -> None:
    server.run("ALTER ROLE keeper SET synchronous_commit = remote_apply")
    with closing(open_books(url, T0)) as books, books._reader.begin() as connection:
        found = connection.exec_driver_sql("SHOW synchronous_commit").scalar_one()
    server.run("ALTER ROLE keeper RESET synchronous_commit")
    assert found == "remote_apply"


def test_another_process_waits_its_turn_and_then_says_so(books: SqlBooks, url: str) -> None:
    other = open_books(url, T0, wait_s=0.05)
    with books.write() as book:
        with pytest.raises(StorageError, match="Close other programs"), other.write():
            pytest.fail("two writers at once")
        book.kept.keep_text("name", "value")
    with other.write() as book:
        assert book.kept.text("name") == "value"
    other.close()


def test_more_readers_than_there_are_connections_wait_and_then_say_so(url: str) -> None:
    books = open_books(url, T0, wait_s=0.05)
    open_now = [books._reader.connect() for _ in range(16)]
    with pytest.raises(StorageError, match="takes too long"), books.read():
        pytest.fail("there was one more")
    for connection in open_now:
        connection.close()
    with books.read() as book:
        assert book.readings.count() == 0
    books.close()


# ---------------------------------------------------------------- troubles


@pytest.mark.parametrize(
    ("code", "cure"),
    [
        pytest.param("53100", "the disk of its server is full. Make room", id="disk full"),
        pytest.param("53200", "out of memory", id="out of memory"),
        pytest.param("53300", "takes no more connections", id="too many connections"),
        pytest.param("25006", "can't be written", id="read only"),
        pytest.param("40001", "tries again", id="serialization"),
        pytest.param("40P01", "tries again", id="deadlock"),
        pytest.param("55P03", "takes too long", id="lock not had"),
        pytest.param("57014", "takes too long", id="cancelled"),
        pytest.param("57P01", "an end and a start", id="shutting down"),
        pytest.param("58030", "Look at the disk of its server", id="disk broken"),
        pytest.param("XX001", "last backup of the server", id="damaged"),
        pytest.param("42501", "ALTER DATABASE NAME OWNER", id="no right"),
        pytest.param("3F000", "CREATE SCHEMA public", id="no schema"),
        pytest.param("08006", "was lost", id="lost"),
        pytest.param("XX000", "Look at the log", id="nobody foresaw it"),
    ],
)
def test_every_trouble_says_what_to_do(books: SqlBooks, code: str, cure: str) -> None:
    raises = f"DO $$ BEGIN RAISE EXCEPTION 'odd' USING ERRCODE = '{code}'; END $$"

    def write() -> None:
        with books.write() as book:
            book.kept.keep_text("name", "value")
            book.readings._connection.exec_driver_sql(raises)

    with pytest.raises(StorageError, match=cure) as caught:
        write()
    assert str(caught.value).startswith(f"The database {books.place} ")
    with books.read() as book:
        assert book.kept.text("name") is None


def test_a_fault_of_our_own_is_no_trouble_of_the_server(books: SqlBooks) -> None:
    with pytest.raises(exc.ProgrammingError), books.read() as book:
        book.readings._connection.exec_driver_sql("SELECT * FROM nowhere")


@pytest.fixture
def closed_doors(server: TestServer) -> Iterator[TestServer]:
    server.run("CREATE ROLE crowded LOGIN CONNECTION LIMIT 0")
    server.run("CREATE ROLE stranger LOGIN; GRANT USAGE ON SCHEMA public TO PUBLIC")
    server.run(f"GRANT ALL ON SCHEMA public TO {GUARDED}")
    yield server
    server.run(f"REVOKE ALL ON SCHEMA public FROM {GUARDED}")
    server.run("DROP ROLE crowded; DROP ROLE stranger")


@pytest.mark.parametrize(
    ("role", "database", "cure"),
    [
        pytest.param(f"{GUARDED}:wrong-secret", "house", "or its password is wrong", id="wrong"),
        pytest.param(GUARDED, "house", "or its password is wrong", id="no password"),
        pytest.param("nobody-knows", "house", "The role stands in database.url", id="no role"),
        pytest.param("keeper", "castle", "createdb --owner=ROLE NAME", id="no database"),
        pytest.param("crowded", "house", "takes no more connections", id="too many"),
        pytest.param("shut-out", "house", "pg_hba.conf", id="not let in"),
        pytest.param("stranger", "house", "ALTER SCHEMA public OWNER TO", id="not the owner"),
    ],
)
def test_who_is_not_let_in_hears_what_to_do(
    closed_doors: TestServer, role: str, database: str, cure: str
) -> None:
    closed_doors.emptied()
    # As a server has it from its beginning.
    closed_doors.run("GRANT USAGE ON SCHEMA public TO PUBLIC")
    with pytest.raises(StorageError, match=cure) as caught:
        open_books(closed_doors.url(role, database), T0)
    assert not isinstance(caught.value, ServerAwayError)
    assert "wrong-secret" not in f"{caught.value!r}{caught.value}{caught.value.__cause__!r}"
    if role != "stranger":
        assert re.search(cure, place_of(closed_doors.url(role, database)).look(1.0).trouble)
    closed_doors.emptied()


def test_the_password_opens_and_is_in_no_text(
    closed_doors: TestServer, caplog: pytest.LogCaptureFixture
) -> None:
    closed_doors.emptied()
    closed_doors.run(f"GRANT ALL ON SCHEMA public TO {GUARDED}")
    bare = make_url(closed_doors.url(GUARDED))
    url = bare.set(password=PASSWORD).render_as_string(hide_password=False)
    books = open_books(url, T0)
    with books.write() as book:
        book.kept.keep_text("name", "value")
    shown = f"{books.place} {books.place!r} {books._writer} {books._writer.url!r}"
    books.close()
    with pytest.raises(StorageError) as closed, books.read():
        pytest.fail("it was closed")
    closed_doors.run(f"DROP OWNED BY {GUARDED}")
    for text in (shown, str(closed.value), caplog.text):
        assert PASSWORD not in text
        assert make_url(url).render_as_string(hide_password=False).split(":")[2] not in text
    closed_doors.emptied()


@pytest.mark.parametrize(
    "url",
    ["postgresql+psycopg2://u:hush@h/d", "postgresql+psycopg://u:hush@h"],
)
def test_an_address_that_can_not_be_used_shows_how_to_write_one(url: str) -> None:
    with pytest.raises(StorageError, match=r"Write it like postgresql\+psycopg://") as caught:
        place_of(url)
    assert "hush" not in str(caught.value)


def test_without_its_driver_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "chamberwatch.storage.server", None)
    with pytest.raises(StorageError, match=r"pip install 'chamberwatch\[postgres\]'"):
        place_of("postgresql+psycopg://h/d")


# ---------------------------------------------------------------- the server goes and comes


def cut_off(server: TestServer, name: str = "%") -> None:
    server.run(
        "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE "
        "pid <> pg_backend_pid() AND datname = current_database() AND application_name LIKE %s",
        name,
    )


def test_what_is_cut_off_midway_leaves_nothing_and_the_next_goes_on(
    books: SqlBooks, server: TestServer
) -> None:
    def write() -> None:
        with books.write() as book:
            book.readings.add([reading(0)])
            cut_off(server)
            book.readings.add([reading(1)])

    with pytest.raises(StorageError, match="between an end and a start"):
        write()
    with books.write() as book:
        assert book.readings.add([reading(1)]) == 1
    with books.read() as book:
        assert book.readings.within(["top"], RH, EVER, 9) == [reading(1)]


def test_what_was_cut_off_while_nobody_looked_is_not_noticed(
    books: SqlBooks, server: TestServer
) -> None:
    with books.write() as book, books.read():
        book.readings.add([reading(0)])
    cut_off(server)
    with books.read() as book:
        assert book.readings.count() == 1
    with books.write() as book:
        assert book.readings.add([reading(0), reading(1)]) == 1


def test_a_server_that_breaks_down_and_comes_again(books: SqlBooks, server: TestServer) -> None:
    with books.write() as book:
        book.readings.add([reading(0)])
    server.stop("immediate")
    for opening in (books.read, books.write):
        with pytest.raises(ServerAwayError, match="Look whether the server runs"), opening():
            pytest.fail("nobody is there")
    assert "can't be reached" in books.place.look(1.0).trouble
    server.start()
    with books.write() as book:
        assert book.readings.add([reading(0), reading(1)]) == 1


def test_a_daemon_waits_for_a_server_that_starts_later(server: TestServer, place: Server) -> None:
    server.stop()
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == 3:
            server.start()

    place.await_it(wait)
    assert len(waited) == 3
    server.stop()
    with pytest.raises(ServerAwayError):
        place.await_it(waited.append, 4.0)
    server.start()
    assert waited[3:] == [2.0, 2.0]


# ---------------------------------------------------------------- one daemon


def test_a_second_daemon_is_kept_off_until_the_first_has_left(place: Server) -> None:
    second = place.alone(pytest.fail)
    wait_for(lambda: not place.taken())
    with place.alone(pytest.fail), pytest.raises(StorageError) as kept_off, second:
        pytest.fail("two daemons at once")
    assert str(kept_off.value) == (
        f"Another chamberwatch runs with this database ({place}). Stop it first."
    )
    with place.alone(pytest.fail):
        assert place.taken()


@pytest.mark.parametrize(
    ("tries", "taken"),
    [(1, True), (TRIES, True), (TRIES + 1, False)],
    ids=["soon", "at the last try", "never"],
)
def test_one_that_was_killed_is_waited_for(
    server: TestServer, place: Server, tries: int, taken: bool
) -> None:
    """The server may still think for a moment that it lives."""
    first = ExitStack()
    first.enter_context(keeper(place, []).alone())
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        if len(waited) == tries:
            first.close()
            wait_for(lambda: holders(server) == 0)

    refused = nullcontext() if taken else pytest.raises(StorageError, match="Stop it first")
    with first, refused, keeper(place, []).alone(wait):
        assert taken
    assert waited == [TRY_EVERY_S] * min(tries, TRIES)


def keeper(place: Server, lost: list[str], given_s: float = 120.0) -> Keeper:
    return Keeper(str(place), place.single, place.explained, lost.append, 0.02, given_s)


def holders(server: TestServer) -> int:
    found = server.run(
        "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND granted AND classid = %s",
        DAEMON,
    )
    return int(found[0][0])


def wait_for(condition: Any, deadline_s: float = 90.0) -> None:  # noqa: ANN401 - any question
    pause, left = threading.Event(), round(deadline_s / 0.02)
    while not condition():
        left -= 1
        assert left > 0
        pause.wait(0.02)


@pytest.mark.parametrize("how", ["cut off", "restarted"])
def test_the_lock_is_taken_again(server: TestServer, place: Server, how: str) -> None:
    lost: list[str] = []
    with keeper(place, lost).alone():
        assert holders(server) == 1
        if how == "cut off":
            cut_off(server)
        else:
            server.stop("immediate")
            server.start()
        wait_for(lambda: holders(server) == 1)
        with pytest.raises(StorageError, match="Stop it first"), place.alone(pytest.fail):
            pytest.fail("two daemons at once")
    wait_for(lambda: holders(server) == 0)
    assert lost == []


def test_a_session_of_our_own_that_was_cut_off_does_not_keep_us_out(
    server: TestServer, place: Server
) -> None:
    lost: list[str] = []
    ours = keeper(place, lost)
    # The network broke: we let go of a connection of which the server knows nothing yet.
    left_over = place.single(5.0, ours._name).connect()
    with ours.alone():
        assert ours._connection is not None
        ours._connection.invalidate()
        ours._connection = None
        wait_for(lambda: ours._connection is not None)
        wait_for(lambda: holders(server) == 1)
        asked = "SELECT count(*) FROM pg_stat_activity WHERE application_name = %s"
        wait_for(lambda: server.run(asked, ours._name) == [(1,)])
    assert lost == []
    with pytest.raises(exc.OperationalError):
        left_over.exec_driver_sql("SELECT 1")
    left_over.close()


def test_another_one_that_came_in_meanwhile_is_told_of(server: TestServer, place: Server) -> None:
    lost: list[str] = []
    first = keeper(place, lost, given_s=0.1)
    other = place.single(20.0, "another").connect()
    with first.alone(), ThreadPoolExecutor(1) as pool:
        # It stands in line, and so it is the first when the server lets go.
        waits = pool.submit(other.exec_driver_sql, TAKE, (DAEMON,))
        wait_for(lambda: server.run("SELECT 1 FROM pg_locks WHERE NOT granted"))
        cut_off(server, first._name)
        waits.result(20.0)
        wait_for(lambda: lost)
    other.close()
    (said,) = lost
    assert said == (
        f"Another chamberwatch took this database ({place}) while its server was away. Stop one "
        "of the two."
    )


# ---------------------------------------------------------------- looking


def test_a_look_beside_a_writer(books: SqlBooks, url: str) -> None:
    with books.write() as book:
        book.readings.add([reading(3)])
        book.kept.keep_text("name", "value")
        assert books.place.look(1.0).newest is None
    found = books.place.look(1.0)
    assert (found.file, found.there, found.on_server, found.trouble) == (
        str(books.place), True, True, "",
    )  # fmt: skip
    assert (found.steps_missing, found.damage, found.newest) == (0, "", reading(3))
    assert kept_text(url, "name") == "value"
    with look_at(url) as look, look.read() as book:
        assert book.readings.count() == 1
    with look_at(url) as look, pytest.raises(StorageError, match="written"), look.write() as book:
        book.kept.keep_text("a", "b")


def test_a_look_at_an_empty_one_makes_nothing(server: TestServer) -> None:
    with emptied(server) as url:
        assert kept_text(url, "name") is None
        found = place_of(url).look(1.0)
        assert (found.there, found.on_server, found.trouble) == (False, True, "")
        with pytest.raises(StorageError, match="is not there yet"), look_at(url):
            pytest.fail("there is nothing")
        assert server.shape()["columns"] == []


def test_an_old_one_stays_old(server: TestServer) -> None:
    with emptied(server) as url:
        open_books(url, T0).close()
        server.run("DELETE FROM migrations WHERE name = %s", STEPS[-1][0])
        assert place_of(url).look(1.0).steps_missing == 1
        with pytest.raises(StorageError, match="older version"), look_at(url):
            pytest.fail("it is old")
