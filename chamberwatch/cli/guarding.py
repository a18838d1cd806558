"""Whether the network may come in: only where a passcode is set."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from chamberwatch.core.errors import Fault
from chamberwatch.service.admission import PASSCODE_NAME
from chamberwatch.settings import Settings
from chamberwatch.storage.book import kept_text

BEHIND_A_PROXY: Final = (
    "web.address begins with https, so a proxy seems to stand before this machine, and no "
    "passcode is set: whoever reaches the proxy may open everything. Set one: chamberwatch "
    "passcode --config {config}"
)
NO_PASSCODE: Final = (
    "This lets the network in, and no passcode is set. Set one with `chamberwatch passcode "
    "--config {config}`, or write 127.0.0.1."
)


def open_through_a_proxy(settings: Settings, config: Path) -> Iterator[str]:
    """Yield a warning where a proxy is stated and no passcode is set: it speaks for anybody.

    Raises:
        StorageError: the database can't be read.
    """
    over_tls = urlsplit(settings.web.address or "").scheme == "https"
    if over_tls and not kept_text(settings.database.address, PASSCODE_NAME):
        yield BEHIND_A_PROXY.format(config=config)


def unguarded(settings: Settings, config: Path) -> tuple[Fault, ...]:
    """Return the fault of a host that the network reaches while no passcode is set.

    Raises:
        StorageError: the database can't be read.
    """
    if settings.web.near or kept_text(settings.database.address, PASSCODE_NAME):
        return ()
    cure = NO_PASSCODE.format(config=config)
    return (Fault(str(config), "web.host", f'"{settings.web.host}"', cure),)
