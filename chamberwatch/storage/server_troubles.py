"""What the troubles of a database server mean for the person who runs it."""

from typing import Final

import sqlalchemy.exc as sql_errors

from chamberwatch.core.errors import StorageError

HELD: Final = "55P03"
_AGAIN: Final = "; the daemon tries again by itself, a command has to be run again."
_AWAY: Final = "08000"
_NO_ENTRY: Final = "28P01"
_NOT_THERE: Final = "3D000"
_FULL_UP: Final = "53300"
_BETWEEN: Final = "57P03"
_HELD_UP: Final = (
    "is held by another program, or by a job of ours that takes too long. Close other programs "
    "that have it open" + _AGAIN
)
_DAMAGED: Final = (
    "is damaged. Stop chamberwatch and put the last backup of the server in its place."
)

# By SQLSTATE, else by its class: https://www.postgresql.org/docs/current/errcodes-appendix.html
CURES: Final[dict[str, str]] = {
    _AWAY: (
        "can't be reached. Look whether the server runs and whether the network is there" + _AGAIN
    ),
    "08": "was lost. Look whether the server runs and whether the network is there" + _AGAIN,
    "25006": (
        "can't be written: its server takes no changes. Look whether it is a standby, and at its "
        "default_transaction_read_only."
    ),
    _NO_ENTRY: (
        "does not let us in: the role or its password is wrong. The role stands in database.url; "
        "the password comes from CHAMBERWATCH_DATABASE_PASSWORD, a systemd credential named "
        "database_password, or ~/.pgpass."
    ),
    "28": (
        "does not let us in. Give this role and this machine a line in the server's pg_hba.conf, "
        "and reload the server."
    ),
    _NOT_THERE: (
        "is not there. Make it on the server: createdb --owner=ROLE NAME, with the names that "
        "database.url has."
    ),
    "3F000": (
        "has no schema in which this role may keep things. Make it the owner: ALTER SCHEMA public "
        "OWNER TO ROLE; if there is none, CREATE SCHEMA public first."
    ),
    "40001": _HELD_UP,
    "40P01": _HELD_UP,
    "42501": (
        "may not be used by this role. Make it the owner: ALTER DATABASE NAME OWNER TO ROLE, and "
        "ALTER SCHEMA public OWNER TO ROLE."
    ),
    "53100": "can't grow: the disk of its server is full. Make room on it.",
    "53200": "can't be used: its server is out of memory. Look at the server's log.",
    _FULL_UP: (
        "takes no more connections. Close other programs that use the server, or raise its "
        "max_connections."
    ),
    HELD: _HELD_UP,
    "57014": _HELD_UP,
    "57": "is between an end and a start of its server" + _AGAIN,
    "58": "can't be read or written. Look at the disk of its server and at the server's log.",
    "XX001": _DAMAGED,
    "XX002": _DAMAGED,
}
_ODD: Final = "can't be used. Look at the log, and at that of its server."

# What is said before a server has let us in comes without a code.
_WITHOUT_PASSWORD: Final = "no password supplied"  # noqa: S105 - words of the driver
_AT_THE_DOOR: Final[tuple[tuple[str, str], ...]] = (
    ("password authentication failed", _NO_ENTRY),
    ("pg_hba.conf", "28000"),
    ("authentication failed", "28000"),
    ("remaining connection slots", _FULL_UP),
    ("too many c", _FULL_UP),
    ("the database system is", _BETWEEN),
    ("role ", _NO_ENTRY),
    ("database ", _NOT_THERE),
)

# These speak of a fault in our own code, not of the server; they go on as they are.
_OURS: Final = (
    sql_errors.IntegrityError,
    sql_errors.ProgrammingError,
    sql_errors.InterfaceError,
    sql_errors.DataError,
)


class ServerAwayError(StorageError):
    """The server can't be reached just now; a moment later it may."""


def explain(name: str, secret: str, trouble: BaseException) -> StorageError | None:
    """Return a trouble as a text that says what to do; None: it is a fault in our own code.

    Args:
        name: of the database, without its password.
        secret: its password, of which nothing must be said; empty: there is none.
        trouble: from the library, or from the driver itself.
    """
    own = getattr(trouble, "orig", None) or trouble
    said = " ".join(str(own).split())
    code = getattr(own, "sqlstate", None) or _at_the_door(said)
    cure = CURES.get(code) or CURES.get(code[:2])
    if cure is None and isinstance(trouble, _OURS):
        return None
    if secret:
        said = said.replace(secret, "***")
    away = code.startswith(("08", "57P0"))
    kind = ServerAwayError if away else StorageError
    return kind(f"The database {name} {cure or _ODD} ({said})")


def held(name: str) -> StorageError:
    """Return that it was not had in time."""
    return StorageError(f"The database {name} {CURES[HELD]}")


def _at_the_door(said: str) -> str:
    if _WITHOUT_PASSWORD in said:
        return _NO_ENTRY
    refused = said.partition("FATAL:")[2]
    return next((code for words, code in _AT_THE_DOOR if words in refused), _AWAY)
