"""One daemon for one database: a lock beside the file, held for as long as it runs."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chamberwatch.core.errors import StorageError


def _lock_of(path: Path) -> Path:
    # resolve: two names of one database must not make two locks.
    return path.resolve().with_name(f"{path.resolve().name}.lock")


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
    lock = _lock_of(path)
    try:
        file = lock.open("ab")
    except OSError as exc:
        raise StorageError(
            f"The lock {lock} can't be written ({exc.strerror}). Give the account that runs "
            "chamberwatch the right to write in that folder."
        ) from exc
    with file:
        if os.geteuid() == 0:
            # A command that root runs must not leave a lock that the service can't open.
            folder = lock.parent.stat()
            os.fchown(file.fileno(), folder.st_uid, folder.st_gid)
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


def is_taken(path: Path) -> bool:
    """Tell whether a daemon runs with a database, or a command that keeps daemons off it.

    Args:
        path: of the database; neither it nor its folder need be there.

    Raises:
        StorageError: the lock can't be looked at.
    """
    lock = _lock_of(path)
    try:
        # Shared, and only for a moment: two who look don't take each other for a daemon.
        with lock.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except FileNotFoundError:
        return False
    except BlockingIOError:
        return True
    except OSError as exc:
        raise StorageError(
            f"The lock {lock} can't be looked at ({exc.strerror}). Ask with the right to read in "
            "that folder: where it was installed, sudo chamberwatch."
        ) from exc
    return False
