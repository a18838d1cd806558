"""The settings file without what only its owner may know, to be kept where others may find it."""

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from chamberwatch.settings.loading import read_text
from chamberwatch.settings.species import OWN_FILE

NOTE: Final = (
    "# A copy, kept with a backup. Passwords and addresses were taken out: fill them in\n"
    "# before you use it.\n"
)
GONE: Final = ""


def without_secrets(text: str) -> str | None:
    """Return a settings file with every address taken out that may hold a secret.

    All else stays letter for letter, comments too, but for those that hold a secret key or an
    address.

    Args:
        text: TOML; it need not be right in any other way.

    Returns:
        None: it is no TOML, so it can't be told what is secret in it.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError:
        return None
    _empty_secrets(document)
    _without_remarks(document)
    kept = "".join(
        line for line in tomlkit.dumps(document).splitlines(keepends=True) if not _secret(line)
    )
    return NOTE + kept


def copies(config: Path) -> Mapping[str, str]:
    """Return what is kept of the settings with a backup, by the ends of the names there.

    What can't be read is left out: a backup without it is better than none.

    Args:
        config: the settings file; species of the grower's own lie beside it.
    """
    found: dict[str, str] = {}
    with suppress(OSError, UnicodeDecodeError):
        if (text := without_secrets(read_text(config)[0])) is not None:
            found[".toml"] = text
    with suppress(OSError, UnicodeDecodeError):
        found[".species.toml"] = read_text(config.with_name(OWN_FILE))[0]
    return found


def _empty_secrets(item: object) -> None:
    """Take out each value that may hold a secret, wherever it stands, and what is said behind it.

    The file may be at fault just now, so that a key is not trusted to be written rightly.
    """
    if isinstance(item, list):
        for each in item:
            _empty_secrets(each)
    if not isinstance(item, dict):
        return
    for key, value in item.items():
        if isinstance(value, str) and (_is_password(key) or _is_address(key, value)):
            item[key] = GONE
            item[key].trivia.comment = ""
        else:
            _empty_secrets(value)


def _is_password(key: str) -> bool:
    return key.lower().endswith("password")


def _is_address(key: str, value: str) -> bool:
    """Tell whether a value leads elsewhere; a file, and the page's own address, do not."""
    return "://" in value and not value.startswith("sqlite:") and key != "address"


def _without_remarks(item: object) -> None:
    """Take out what was remarked behind a value and holds an address."""
    trivia = getattr(item, "trivia", None)
    if trivia is not None and "://" in trivia.comment:
        trivia.comment = ""
    inner = item.values() if isinstance(item, dict) else item if isinstance(item, list) else ()
    for each in inner:
        _without_remarks(each)


def _secret(line: str) -> bool:
    """Tell whether a comment holds a key that would be secret, commented out for a while."""
    bare = line.lstrip()
    words = bare.lstrip("# \t").replace(" ", "")
    key, sets, _ = words.partition("=")
    told = (bool(sets) and (key in {"to", "url"} or _is_password(key))) or "://" in words
    return bare.startswith("#") and told
