"""The settings file of somebody who has none yet."""

import os
from pathlib import Path
from typing import Final

from chamberwatch.core.errors import Fault, SettingsError

FIRST: Final = """\
# Settings of chamberwatch, begun by itself. Most of it is set on the page, under Set-up, which
# writes it here; what you write here by hand is kept as it is. After a change by hand:
# chamberwatch check, then Set-up, “Read the settings again”.

[site]
# timezone = "Europe/Lisbon"   # for times of day in messages and on pages; UTC without it
# altitude_m = 120             # gives the air pressure where no sensor measures it

[mqtt]
# host = "127.0.0.1"           # the broker that your sensors speak to; these without it
# port = 1883
# username = "chamberwatch"    # its password never stands here: set CHAMBERWATCH_MQTT_PASSWORD

[web]
# host = "0.0.0.0"             # lets the home network in; needs a passcode (chamberwatch passcode)
# address = "http://tent.local:8642"   # what the links in a message start with
"""


def _ours_alone(path: str, flags: int) -> int:
    # Addresses of phones come to stand in it, and who knows one can write to that phone.
    return os.open(path, flags, 0o600)


def begin(path: Path) -> bool:
    """Make a settings file where there is none; tell whether one was made.

    Raises:
        SettingsError: there is none, and none can be made there.
    """
    if os.path.lexists(path):
        return False
    try:
        path.parent.mkdir(exist_ok=True)
        # "x": another one that starts at the same moment may have made it.
        with open(path, "x", encoding="utf-8", opener=_ours_alone) as file:
            file.write(FIRST)
    except FileExistsError:
        return False
    except PermissionError as error:
        cure = (
            "This account may not look for it there, or make it. Run the command as the one that "
            "runs chamberwatch (where it was installed as a service, with sudo in front), or give "
            "another file with --config."
        )
        raise SettingsError((Fault(str(path), "", "", cure),)) from error
    except OSError as error:
        cure = (
            f"There is no such file, and none can be made there ({error.strerror}). Give the "
            "right one with --config, or a folder that may be written."
        )
        raise SettingsError((Fault(str(path), "", "", cure),)) from error
    return True
