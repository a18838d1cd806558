"""What do you see? First which batch, then which sign, then what it likely comes from."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Final

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.batch import Batch, EntryKind
from chamberwatch.core.growing.sign_table import BAG_IT, SIGNS
from chamberwatch.core.growing.sign_words import source_words
from chamberwatch.core.growing.signs import Cause, Finding, Seen, Sign, Speaks
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.told import Telling
from chamberwatch.web import words
from chamberwatch.web.desk import Desk, desk_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.given import Id
from chamberwatch.web.language import _, marked
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.growing.batch_state import state_words
from chamberwatch.web.pages.said import VIA, Once
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

SAID: Final = {
    "noted": marked("Noted to the batch, with what the air has to say."),
    "twice": marked("That was sent before; it was noted once."),
}

SPEAKS: Final = {
    Speaks.FOR: marked("The air speaks for it"),
    Speaks.AGAINST: marked("The air speaks against it"),
    Speaks.UNHEARD: marked("The air can't tell"),
}

BESIDE: Final = (
    (
        marked(
            "Opening a chamber full of ripe caps? Wear a close-fitting "
            "particle mask (FFP2 or N95): spores harm lungs."
        )
    ),
)


@dataclass(frozen=True, slots=True)
class Choice:
    """A batch to choose: its number, what it is, where on the shelf it stands."""

    number: int
    title: str
    where: str


@dataclass(frozen=True, slots=True)
class Place:
    """A chamber and the batches in it."""

    title: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """A likely cause.

    Attributes:
        title: in a few words.
        speaks: what the air has to say to it: a word for its look.
        verdict: the same in words; empty where nobody asked the air.
        air: what the air did, in a sentence.
        why: how it comes to that.
        do: what to do.
        source: who says so.
    """

    title: str
    speaks: str
    verdict: str
    air: str
    why: str
    do: str
    source: str


@router.get("/look")
def look(
    request: Request,
    batch: Annotated[Id | None, Query()] = None,
    sign: Annotated[str, Query(max_length=60)] = "",
    general: Annotated[bool, Query()] = False,
    said: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """Lead from what is seen to what it comes from."""
    desk, growing, figures = desk_of(request), growing_of(request), figures_of(request)
    if batch is None and not (general or sign):
        return _which_batch(growing)
    of_batch = None if batch is None else _found(growing, batch)
    if not sign:
        return _which_sign(growing, of_batch, _(SAID.get(said, "")))
    if batch is None or of_batch is None:
        return _in_general(_sign(sign), figures)
    return _seen(
        desk, growing, of_batch, growing.looking.look(batch, sign, desk.clock.now()), figures
    )


@router.post("/look")
def looked(
    request: Request,
    batch: Annotated[Id, Form()],
    sign: Annotated[str, Form(max_length=60)],
    once: Once,
    note: Annotated[str, Form(max_length=400)] = "",
) -> Response:
    """Note a sign to its batch, with what the air has to say to it."""
    desk, growing = desk_of(request), growing_of(request)

    def do() -> None:
        seen = growing.looking.look(batch, sign, desk.clock.now())
        kept = " ".join(part for part in (note.strip(), growing.looking.note_of(seen)) if part)
        telling = Telling(EntryKind.LOOKED, seen.at, kept, sign=seen.sign.name)
        growing.record.tell(batch, telling, VIA)

    said = "noted" if first_time(desk, once, do) else "twice"
    return RedirectResponse(f"/look?batch={batch}&said={said}", status_code=303)


def _found(growing: Growing, number: int) -> Batch:
    return growing.record.batch(number)


def _sign(name: str) -> Sign:
    try:
        return SIGNS[name]
    except KeyError:
        raise UnknownNameError(
            _("There is no sign “%(name)s”. Choose one of the drawings.", name=name)
        ) from None


# ------------------------------------------------------------------ three steps


def _which_batch(growing: Growing) -> Response:
    return page("look.html", title=_("What do you see?"), step="batch", places=_places(growing))


def _places(growing: Growing) -> tuple[Place, ...]:
    """Return the batches that live, by chamber; those in none come last."""
    titles = growing.standing.house.titles()
    order = {name: number for number, name in enumerate(titles)}
    living = [b for b in growing.record.batches().values() if b.ended is None]
    living.sort(key=lambda b: (order.get(b.chamber or "", len(order)), b.chamber or "", b.id))
    return tuple(
        Place(
            titles.get(name, name) if name else _("In no chamber"),
            tuple(Choice(b.id, _named(growing, b), _standing(b)) for b in each),
        )
        for name, each in groupby(living, key=lambda b: b.chamber or "")
    )


def _named(growing: Growing, batch: Batch) -> str:
    return growing.table.known(batch.start.species).title


def _standing(batch: Batch) -> str:
    flush = _(", flush %(flush)s", flush=batch.flush) if batch.flush else ""
    shelf = f", {batch.shelf}" if batch.shelf else ""
    return f"{state_words(batch)}{flush}{shelf}"


def _which_sign(growing: Growing, batch: Batch | None, said: str) -> Response:
    signs = tuple(SIGNS.values()) if batch is None else growing.looking.signs(batch.id)
    return page(
        "look.html",
        title=_("What do you see?"),
        step="sign",
        batch=batch,
        named=_named(growing, batch) if batch else "",
        signs=signs,
        said=said,
    )


def _in_general(sign: Sign, figures: Figures) -> Response:
    reasons = [_reason(cause, None, figures) for cause in sign.causes]
    return _causes(sign, reasons, batch=None, named="", when="")


def _seen(desk: Desk, growing: Growing, batch: Batch, seen: Seen, figures: Figures) -> Response:
    reasons = [_reason(each.cause, each, figures) for each in seen.findings]
    when = words.moment(seen.at, desk.clock.now(), desk.zone)
    return _causes(seen.sign, reasons, batch=batch, named=_named(growing, batch), when=when)


def _causes(
    sign: Sign, reasons: Sequence[Reason], *, batch: Batch | None, named: str, when: str
) -> Response:
    return page(
        "look.html",
        title=sign.title,
        step="causes",
        sign=sign,
        reasons=reasons,
        batch=batch,
        named=named,
        when=when,
        once=mark(),
        cautions=tuple(_cautions(sign)),
    )


def _cautions(sign: Sign) -> Iterator[str]:
    if sign.contamination:
        yield BAG_IT
    yield from BESIDE


def _reason(cause: Cause, found: Finding | None, figures: Figures) -> Reason:
    return Reason(
        title=cause.title,
        speaks=found.speaks.name.lower() if found else "",
        verdict=_(SPEAKS[found.speaks]) if found else "",
        air=figures.said(found.words) if found else "",
        why=figures.said(cause.why),
        do=figures.said(cause.do),
        source=source_words(cause.source, cause.mark),
    )
