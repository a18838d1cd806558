"""The language that pages speak: English as it stands in templates and code, or a catalogue.

A catalogue is `texts/LANGUAGE/LC_MESSAGES/chamberwatch.mo`, as gettext has it. What a browser
asks for decides for one request (`Speaking`); what runs outside of any speaks English.

A text to be translated is written `_("...")` where it is said, and `marked("...")` where a table
holds it for later. Values go in by name, `%(name)s`; a per cent sign is written `%%`.
"""

from collections.abc import Iterable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from typing import Final

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

TEXTS: Final = Path(__file__).parent / "texts"
DOMAIN: Final = "chamberwatch"
ENGLISH: Final = "en"


@dataclass(frozen=True, slots=True)
class Language:
    """A language, and the texts in it.

    Attributes:
        tag: as in `<html lang>` (BCP 47), such as pt-br.
    """

    tag: str = ENGLISH
    texts: NullTranslations = field(default_factory=NullTranslations)


_SPOKEN: ContextVar[Language] = ContextVar("spoken", default=Language())  # noqa: B039 - frozen


def spoken() -> str:
    """Return the tag of the language spoken in this request."""
    return _SPOKEN.get().tag


def marked(text: str) -> str:
    """Return the text as it is: it stands in a table, and `_` says it later."""
    return text


def gettext(text: str, /, **values: object) -> str:
    """Return a text in the language spoken, with its values."""
    return found(text) % values


def ngettext(one: str, many: str, num: int, /, **values: object) -> str:
    """Return what is said of so many, with its values; `%(num)s` is the number."""
    return found_of(one, many, num) % {"num": num, **values}


def found(text: str) -> str:
    """Return a text as its catalogue has it, values not yet put in."""
    # Of nothing a catalogue would give its own head.
    return _SPOKEN.get().texts.gettext(text) if text else ""


def found_of(one: str, many: str, num: int) -> str:
    """Return the form for so many as its catalogue has it, values not yet put in."""
    return _SPOKEN.get().texts.ngettext(one, many, num)


def chosen_from(pairs: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return what a form offers, values as they are and their words in the language spoken."""
    return tuple((value, gettext(text)) for value, text in pairs)


_ = gettext


def languages_in(folder: Path) -> dict[str, Language]:
    """Return the languages that have a catalogue in a folder, English among them, by their tag."""
    there = {ENGLISH: Language()}
    for file in sorted(folder.glob(f"*/LC_MESSAGES/{DOMAIN}.mo")):
        tag = file.parent.parent.name.replace("_", "-").lower()
        with file.open("rb") as held:
            there[tag] = Language(tag, GNUTranslations(held))
    return there


def wanted(accepted: str) -> Iterator[str]:
    """Return what a browser reads, best first, each in general after its own kind (pt-br, pt).

    Args:
        accepted: the header Accept-Language (RFC 9110, 12.5.4).
    """
    ranked = []
    for each in accepted.lower().replace(" ", "").split(","):
        tag, *weight = each.split(";q=")
        try:
            ranked.append((float(weight[0]) if weight else 1.0, tag))
        except ValueError:
            continue
    for rank, tag in sorted(ranked, key=lambda pair: -pair[0]):
        if rank > 0:
            yield tag
            yield tag.split("-", 1)[0]


class Speaking:
    """Chooses the language for each request by what its browser reads."""

    def __init__(self, app: ASGIApp, folder: Path) -> None:
        """Read the catalogues that lie in a folder."""
        self._app = app
        self._there = languages_in(folder)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand a request on."""
        if scope["type"] == "http":
            accepted = Headers(scope=scope).get("accept-language", "")
            known = (self._there[tag] for tag in wanted(accepted) if tag in self._there)
            # Never taken back: each request has a context of its own, copied for the thread that
            # answers it, and a page about a fault is made after everything here has unwound.
            _SPOKEN.set(next(known, self._there[ENGLISH]))
        await self._app(scope, receive, send)
