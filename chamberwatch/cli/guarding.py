"""Whether the network may come in: only where a passcode is set."""

from pathlib import Path
from typing import Final

from chamberwatch.core.errors import Fault
from chamberwatch.service.admission import PASSCODE_NAME
from chamberwatch.settings import Settings
from chamberwatch.storage.book import kept_text

NO_PASSCODE: Final = (
    "This lets the network in, and no passcode is set. Set one with `chamberwatch passcode "
    "--config {config}`, or write 127.0.0.1."
)


def unguarded(settings: Settings, config: Path) -> tuple[Fault, ...]:
    """Return the fault of a host that the network reaches while no passcode is set.

    Raises:
        StorageError: the database can't be read.
    """
    if settings.web.near or kept_text(settings.database.url, PASSCODE_NAME):
        return ()
    cure = NO_PASSCODE.format(config=config)
    return (Fault(str(config), "web.host", f'"{settings.web.host}"', cure),)
