"""Points the settings at the broker of this machine: with TLS and its authority, or without.

    use_tls.py SETTINGS [AUTHORITY]

Run by install.sh with the Python of the new version, as the service's own user. Says "changed"
where it changed anything; a broker on another machine is left as it is.
"""

import os
import sys
from pathlib import Path
from typing import Final

from chamberwatch.core.errors import ChamberwatchError
from chamberwatch.settings import SetKeys, SettingsFile

HERE: Final = ("127.0.0.1", "localhost", "::1")
PLAIN_PORT: Final = 1883
TLS_PORT: Final = 8883


def point(settings: Path, authority: str | None) -> bool:
    """Point the settings at the broker of this machine; tell whether they changed.

    Raises:
        ChamberwatchError: they can't be changed; the text says what to do.
    """
    file = SettingsFile(settings, os.environ)
    before = settings.read_bytes()
    if file.content().get("mqtt", {}).get("host", HERE[0]) not in HERE:
        return False
    port = PLAIN_PORT if authority is None else TLS_PORT
    keys = {"port": port, "tls": authority is not None, "ca_file": authority}
    file.change([SetKeys("mqtt", keys)])
    return settings.read_bytes() != before


def main() -> None:
    """Do it, and say what came of it."""
    settings, *authority = sys.argv[1:]
    try:
        changed = point(Path(settings), authority[0] if authority else None)
    except ChamberwatchError as error:
        sys.exit(str(error))
    sys.stdout.write("changed\n" if changed else "as it was\n")


if __name__ == "__main__":
    main()
