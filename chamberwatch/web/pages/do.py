"""Links of messages: opening one shows and asks, its button does it, once."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated, Final

from fastapi import APIRouter, Path, Request, Response

from chamberwatch.core.errors import ImpossibleMoveError, LinkError, RefusedError
from chamberwatch.core.watch.action import Deed
from chamberwatch.core.watch.reminder import State
from chamberwatch.service.ports import Answering
from chamberwatch.service.views import ReminderNow
from chamberwatch.web import words
from chamberwatch.web.access import KeptLinks, OldLinkError, digest
from chamberwatch.web.desk import Desk, desk_of
from chamberwatch.web.language import _, marked
from chamberwatch.web.rendering import page

router = APIRouter(include_in_schema=False)

VIA = "link"
LATER: Final = timedelta(minutes=30)
GONE, BAD, CONFLICT = 410, 400, 409

DEEDS: Final = {
    Answering.MISTED: Deed.MISTED,
    Answering.VENTED: Deed.VENTED,
    Answering.REFILLED: Deed.REFILLED,
}
BUTTONS: Final = {
    Answering.SEEN: marked("Seen"),
    Answering.MISTED: marked("Misted"),
    Answering.VENTED: marked("Vented"),
    Answering.REFILLED: marked("Refilled"),
    Answering.LATER: marked("Not for half an hour"),
}
DONE: Final = {
    Answering.SEEN: marked("Noted: seen."),
    Answering.MISTED: marked("Noted: misted just now."),
    Answering.VENTED: marked("Noted: vented just now."),
    Answering.REFILLED: marked("Noted: refilled just now."),
    Answering.LATER: marked(
        "Put off for half an hour. It will be asked again then if it is still so."
    ),
}
USED: Final = marked(
    "This link has already done its work; it works once. Nothing was done a second time."
)

Token = Annotated[str, Path(max_length=600)]


@dataclass(frozen=True, slots=True)
class Link:
    """An opened link and the reminder it belongs to, as that stands now."""

    answering: Answering
    episode: int
    shown: ReminderNow

    @property
    def moved_on(self) -> bool:
        """Tell whether what the message told of is over."""
        reminder = self.shown.reminder
        return reminder.episode != self.episode or reminder.state is State.NORMAL

    @property
    def pointless(self) -> bool:
        """Tell whether the button has nothing left to do: a deed is a fact at any time."""
        return self.moved_on and self.answering not in DEEDS


def _opened(request: Request, token: str) -> Link:
    """Read a link.

    Raises:
        LinkError: altered; `OldLinkError`: too old, used, or about a reminder that is gone.
    """
    desk = desk_of(request)
    links: KeptLinks = request.app.state.links
    number, episode, answering = links.opened(token, desk.clock.now())
    with desk.books.read() as book:
        if book.kept.link_used(digest(token)):
            raise OldLinkError(_(USED))
    for shown in desk.history.reminders(None):
        if shown.reminder.id == number:
            return Link(answering, episode, shown)
    raise OldLinkError(_("The reminder this link belongs to is not kept any more."))


def _closed(exc: LinkError) -> Response:
    old = isinstance(exc, OldLinkError)
    title = _("This link is spent") if old else _("This link is damaged")
    return page("error.html", GONE if old else BAD, title=title, detail=str(exc))


def _asking(desk: Desk, link: Link) -> Response:
    now, reminder = desk.clock.now(), link.shown.reminder
    return page(
        "do.html",
        title=link.shown.title,
        body=link.shown.body,
        moved_on=link.moved_on,
        pointless=link.pointless,
        chamber=reminder.chamber,
        moved=words.moment(reminder.moved, now, desk.zone) if reminder.moved else "",
        button=_(BUTTONS[link.answering]),
        done="",
    )


@router.get("/do/{token}")
def ask(request: Request, token: Token) -> Response:
    """Show what the reminder says now, and one button. Nothing is changed by looking."""
    desk = desk_of(request)
    try:
        return _asking(desk, _opened(request, token))
    except LinkError as exc:
        return _closed(exc)


@router.post("/do/{token}")
def do(request: Request, token: Token) -> Response:
    """Do what the link says, once."""
    desk = desk_of(request)
    try:
        link = _opened(request, token)
        if link.pointless:
            return _asking(desk, link)
        with desk.books.write() as book:
            if not book.kept.use_link(digest(token), desk.clock.now()):
                raise OldLinkError(_(USED))
        _act(desk, link)
    except LinkError as exc:
        return _closed(exc)
    except (RefusedError, ImpossibleMoveError) as exc:
        return page("error.html", CONFLICT, title=_("Nothing was changed"), detail=str(exc))
    return page(
        "do.html",
        title=link.shown.title,
        body="",
        moved_on=False,
        pointless=False,
        chamber=link.shown.reminder.chamber,
        moved="",
        button="",
        done=_(DONE[link.answering]),
    )


def _act(desk: Desk, link: Link) -> None:
    reminder = link.shown.reminder
    match link.answering:
        case Answering.SEEN:
            desk.logbook.seen(reminder.id, link.episode, VIA)
        case Answering.LATER:
            desk.logbook.shelve(reminder.id, LATER, VIA)
        case Answering.MISTED | Answering.VENTED | Answering.REFILLED:
            deed = DEEDS[link.answering]
            desk.logbook.act(reminder.chamber, deed, None, "", VIA)
