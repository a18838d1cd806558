"""One daemon for one database: a lock beside the file, held for as long as it runs."""

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chamberwatch.core.errors import StorageError


@contextmanager
def alone_with(path: Path) -> Iterator[None]:
    """Keep other daemons off a database until the block is left.

    The kernel lets go of the lock at any kind of end, a kill or a power cut included, so what is
    left of the lock's file never keeps a new start off.

    Args:
        path: of the database; its folder is there.

    Raises:
        StorageError: another daemon runs with it, or the lock can't be made.
    """
    # resolve: two names of one database must not make two locks.
    lock = path.resolve().with_name(f"{path.resolve().name}.lock")
    try:
        file = lock.open("ab")
    except OSError as exc:
        raise StorageError(
            f"The lock {lock} can't be written ({exc.strerror}). Give the account that runs "
            "chamberwatch the right to write in that folder."
        ) from exc
    with file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as exc:
            raise StorageError(
                f"Another chamberwatch runs with this database ({path}). Stop it first."
            ) from exc
        except OSError as exc:
            raise StorageError(
                f"The lock {lock} can't be taken ({exc.strerror}). Put the database on a disk of "
                "this machine, not on a network drive."
            ) from exc
        yield
