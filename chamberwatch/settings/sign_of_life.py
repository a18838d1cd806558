"""A call to an address of the grower's, so that somebody notices when the watcher is silent."""

import re
from datetime import timedelta
from typing import Annotated, Final
from urllib.parse import urlsplit

from pydantic import SecretStr, field_validator

from chamberwatch.settings.values import Length, Part, between, web_address

SHORTEST, LONGEST = timedelta(minutes=1), timedelta(hours=24)
URL_CURE: Final = (
    "Write a whole address, such as https://watch.example/a-word-of-mine: http or https, no "
    "spaces, and nothing with an @ before the host."
)
Every = Annotated[Length, between(SHORTEST, LONGEST, "Give 1 min at least and 24 h at the most.")]


class SignOfLifeSettings(Part):
    """Where a sign of life goes, and how often."""

    url: SecretStr
    every: Every = timedelta(minutes=5)

    @field_validator("url")
    @classmethod
    def _whole(cls, url: SecretStr) -> SecretStr:
        if not _callable(url.get_secret_value()):
            raise ValueError(URL_CURE)
        return url


def _callable(address: str) -> bool:
    """Tell whether an address can be asked for: scheme, host, perhaps port, path and query."""
    if not web_address(address) or "@" in urlsplit(address).netloc:
        return False
    return re.fullmatch(r"[!-~]+", address) is not None
