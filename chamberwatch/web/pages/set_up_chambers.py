"""Set-up: chambers and rooms, with a form for each."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError
from chamberwatch.core.watch.chamber import Chamber
from chamberwatch.settings import Edit, Put, TakeOut
from chamberwatch.web.desk import Desk, chamber_named, desk_of, editing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.gate import by_people
from chamberwatch.web.language import _, marked, ngettext
from chamberwatch.web.once import first_time
from chamberwatch.web.pages.buttons import mark
from chamberwatch.web.pages.chamber_form import (
    INSIDE,
    ROOMS,
    answers,
    asked,
    asked_of_room,
    held,
    told_of,
)
from chamberwatch.web.pages.faults import cures, in_one, written
from chamberwatch.web.pages.form import Typed, elsewhere, filled, free_name, typed
from chamberwatch.web.pages.growing.batch_state import stage_name
from chamberwatch.web.pages.set_up import SET_UP, chamber_address
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False, dependencies=[Depends(by_people)])

CHAMBERS: Final = f"{SET_UP}/chambers"
NEW: Final = f"{CHAMBERS}/new"
ROOM_ALONE: Final = "room_alone"
"""The field that says which questions were asked."""
UNTITLED: Final = marked("Write what you call it.")


@router.get(CHAMBERS)
def chambers(request: Request) -> Response:
    """List the chambers and rooms."""
    desk, figures = desk_of(request), figures_of(request)
    return page(
        "set_up_chambers.html",
        title=_("Chambers"),
        chambers=[(one, _in_short(desk, one, figures)) for one in desk.history.chambers()],
        editable=desk.editing is not None,
    )


def _in_short(desk: Desk, chamber: Chamber, figures: Figures) -> str:
    if chamber.outdoors:
        parts = [_("outdoors")]
    elif chamber.stage is None:
        parts = [_("a room; nothing grows in its own air")]
    else:
        parts = [stage_name(chamber.stage)]
    if chamber.volume_l:
        parts.append(figures.said(f"{chamber.volume_l:g} L"))
    if chamber.shelves:
        count = len(chamber.shelves)
        parts.append(ngettext("%(num)s shelf", "%(num)s shelves", count))
    if chamber.surrounding:
        around = chamber_named(desk, chamber.surrounding)
        parts.append(_("stands in %(chamber)s", chamber=around.title))
    return ", ".join(parts)


@router.get(NEW)
def new(request: Request, kind: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Ask for a chamber that is not there yet, or for the room around those that are."""
    desk = desk_of(request)
    if kind == "room":
        inside = {f"{INSIDE}{each.name}": "yes" for each in _roomless(desk)}
        return _form(desk, None, {"kind": "room", "once": mark(), ROOM_ALONE: "yes", **inside}, {})
    return _form(desk, None, {"kind": "fruiting", "once": mark()}, {})


@router.post(NEW)
def added(request: Request) -> Response:
    """Add a chamber."""
    desk, told = desk_of(request), typed(request)
    taken = [chamber.name for chamber in desk.history.chambers()]
    name = free_name(told.get("title", ""), "chamber", [*taken, "new"])
    if not told.get("title"):
        return _form(desk, None, told, {"title": _(UNTITLED)})

    def add() -> None:
        around = [Put("chamber", each, {"surrounding": name}) for each in _standing(desk, told)]
        editing_of(desk).change([Put("chamber", name, answers(told, {})), *around])

    try:
        first_time(desk, told.get("once") or mark(), add)
    except (SettingsError, RefusedError) as error:
        return _form(desk, None, told, _errors(error, name))
    return RedirectResponse(f"{SET_UP}?said={'room' if _alone(told) else 'chamber'}", 303)


def _alone(told: Typed) -> bool:
    """Tell whether the questions were those about a room."""
    return bool(told.get(ROOM_ALONE)) and told.get("kind") in ROOMS


def _roomless(desk: Desk) -> list[Chamber]:
    """Return the chambers that stand in no room yet."""
    return [
        chamber
        for chamber in desk.history.chambers()
        if chamber.stage is not None and chamber.surrounding is None
    ]


def _standing(desk: Desk, told: Typed) -> list[str]:
    """Return which of those were said to stand in a new room."""
    said = held(told) if _alone(told) else ()
    return [chamber.name for chamber in _roomless(desk) if chamber.name in said]


@router.get(f"{CHAMBERS}/{{name}}")
def one(request: Request, name: str) -> Response:
    """Ask for changes to a chamber."""
    desk = desk_of(request)
    return _form(desk, name, told_of(_written(desk, name)), {})


@router.post(f"{CHAMBERS}/{{name}}")
def changed(request: Request, name: str) -> Response:
    """Change a chamber."""
    desk, told = desk_of(request), typed(request)
    now = _written(desk, name)
    if not told.get("title"):
        return _form(desk, name, told, {"title": _(UNTITLED)})
    try:
        editing_of(desk).change([Put("chamber", name, answers(told, now))])
    except (SettingsError, RefusedError) as error:
        return _form(desk, name, told, _errors(error, name))
    return RedirectResponse(f"{SET_UP}?said=kept", 303)


def _errors(error: SettingsError | RefusedError, name: str) -> dict[str, str]:
    found = cures(error, "chamber", name)
    # The form asks for both in one question.
    for key in ("stage", "outdoors"):
        if key in found:
            found["kind"] = found.pop(key)
    return found


def _written(desk: Desk, name: str) -> Mapping[str, Any]:
    """Return what the file says of a chamber.

    Raises:
        UnknownNameError: nothing.
        RefusedError: settings can't be changed here.
    """
    missing = _("There is no chamber “%(name)s” in the settings file any more.", name=name)
    return written(editing_of(desk), "chamber", name, missing)


def _form(desk: Desk, name: str | None, told: Typed, errors: Mapping[str, str]) -> Response:
    rooms = [
        chamber
        for chamber in desk.history.chambers()
        if chamber.stage is None and chamber.name != name
    ]
    alone = name is None and _alone(told)
    parts = asked_of_room(_roomless(desk)) if alone else asked(rooms)
    every = [each for part in parts.values() for each in part]
    title = _("The room around it") if alone else _("A new chamber")
    return page(
        "set_up_chamber.html",
        NOT_VALID if errors else 200,
        title=title if name is None else f"{told.get('title') or name}",
        known_as=name,
        alone=alone,
        address=NEW if name is None else chamber_address(name),
        once=told.get("once") or mark(),
        parts={key: filled(fields, told, errors) for key, fields in parts.items()},
        wrong=bool(errors),
        whole=elsewhere(every, errors),
        open_more=any(each.name in errors for each in parts.get("more", ())),
    )


# ------------------------------------------------------------------ taking one out


@router.get(f"{CHAMBERS}/{{name}}/remove")
def leaving(request: Request, name: str) -> Response:
    """Ask whether a chamber shall go, and say what goes with it."""
    return _asking(desk_of(request), name)


@router.post(f"{CHAMBERS}/{{name}}/remove")
def left(request: Request, name: str) -> Response:
    """Take a chamber out, with its sensors and devices; a second tap finds it gone."""
    desk = desk_of(request)
    entries = editing_of(desk).content().get("chamber", ())
    if all(entry.get("name") != name for entry in entries):
        return RedirectResponse(f"{SET_UP}?said=gone", 303)
    if why := _still_in_use(desk, name):
        return _asking(desk, name, why)
    try:
        editing_of(desk).change(list(_taking_out(editing_of(desk).content(), name)))
    except (SettingsError, RefusedError) as error:
        return _asking(desk, name, in_one(error))
    return RedirectResponse(f"{SET_UP}?said=gone", 303)


def _taking_out(content: Mapping[str, Any], name: str) -> Iterator[Edit]:
    for kind in ("sensor", "device"):
        for entry in content.get(kind, ()):
            if entry.get("chamber") == name:
                yield TakeOut("sensor" if kind == "sensor" else "device", entry["name"])
    for entry in content.get("chamber", ()):
        if entry.get("surrounding") == name:
            yield Put("chamber", entry["name"], {"surrounding": None})
    yield TakeOut("chamber", name)


def _still_in_use(desk: Desk, name: str) -> str:
    growing = desk.growing
    standing = (
        [b for b in growing.record.batches().values() if b.chamber == name and b.ended is None]
        if growing is not None
        else []
    )
    if not standing:
        return ""
    count = len(standing)
    return ngettext(
        "A batch still stands in it. Move or finish what grows there first, under Growing.",
        "%(num)s batches still stand in it. Move or finish what grows there first, under Growing.",
        count,
    )


def _asking(desk: Desk, name: str, why_not: str = "") -> Response:
    _written(desk, name)
    chamber = chamber_named(desk, name)
    content = editing_of(desk).content()
    around = [
        entry.get("title") or entry["name"]
        for entry in content.get("chamber", ())
        if entry.get("surrounding") == name
    ]
    return page(
        "set_up_remove.html",
        NOT_VALID if why_not else 200,
        title=_("Take %(chamber)s out", chamber=chamber.title),
        chamber=chamber,
        address=f"{chamber_address(name)}/remove",
        back=chamber_address(name),
        sensors=_names(content.get("sensor", ()), name),
        devices=_names(content.get("device", ()), name),
        around=around,
        why_not=why_not or _still_in_use(desk, name),
    )


def _names(entries: Sequence[Mapping[str, Any]], chamber: str) -> list[str]:
    return [str(entry["name"]) for entry in entries if entry.get("chamber") == chamber]
