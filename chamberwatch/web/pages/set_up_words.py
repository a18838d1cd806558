"""What the set-up pages say once something is done."""

from typing import Final

from chamberwatch.web.language import marked

SAID: Final = {
    "kept": marked("Kept in the settings file. It holds from now on."),
    "chamber": marked("The chamber is kept. It holds from now on; a sensor in it comes next."),
    "room": marked(
        "The room is kept. What hangs in it counts from now on; a sensor in it comes next."
    ),
    "gone": marked("Taken out of the settings file. What was recorded stays in the database."),
    "again": marked("The settings were read again."),
}
"""Only these words can be called up by an address."""
