"""Changing a settings file as a careful person would: the text, with all else in it left alone.

Text goes in and text comes out. Whatever was made is read again and held against what was meant;
a file that is written in a way this can't follow is refused, never half changed.
"""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from typing import Any, Final, Literal

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, InlineTable, Table, Trivia

from chamberwatch.core.errors import RefusedError
from chamberwatch.settings.loading import named
from chamberwatch.settings.pieces import Piece, end_of_content, pieces

Kind = Literal["chamber", "sensor", "notify", "device", "rotation"]
Section = Literal["site", "web", "mqtt"]
Content = Mapping[str, Any]
"""Keys and what is to stand there: text, truth, number, list, or a further mapping for a part such
as `reads`. None takes the key out. What is not named stays as it is."""

NAMED_BY: Final[Mapping[str, str]] = {"rotation": "species"}
"""The key that names an entry, where that is not `name`."""

BY_HAND: Final = (
    "This file is written in a way that can't be changed from here. Change it by hand: write each "
    "chamber, sensor and address as a section of its own, such as [[{root}]]."
)


@dataclass(frozen=True, slots=True)
class Put:
    """Set keys of the entry of that name; there is none: it is added at the end of its list."""

    kind: Kind
    name: str
    content: Content


@dataclass(frozen=True, slots=True)
class TakeOut:
    """Take out the entry of that name, with the comments inside it."""

    kind: Kind
    name: str


@dataclass(frozen=True, slots=True)
class SetKeys:
    """Set keys of a section, which is added if it isn't there."""

    section: Section
    content: Content


Edit = Put | TakeOut | SetKeys


def edited(text: str, edits: Sequence[Edit]) -> str:
    """Return a settings file with changes made to it, one after the other.

    Args:
        text: of a file that is sound TOML.
        edits: the changes.

    Raises:
        RefusedError: an entry isn't there, or the file can't be changed from here.
    """
    for edit in edits:
        text = _proven(text, edit)
    return text


def applied(content: Content, edit: Edit) -> dict[str, Any]:
    """Return what a file should hold after a change.

    Raises:
        RefusedError: an entry isn't there.
    """
    made = dict(content)
    match edit:
        case SetKeys(section, keys):
            made[section] = _merged(made.get(section, {}), keys)
        case Put(kind, name, keys):
            entries = list(made.get(kind, ()))
            at = _place(entries, kind, name)
            if at is None:
                entries.append(_merged({_name_key(kind): name}, keys))
            else:
                entries[at] = _merged(entries[at], keys)
            made[kind] = entries
        case TakeOut(kind, name):
            entries = list(made.get(kind, ()))
            del entries[_found(entries, kind, name)]
            made[kind] = entries
            if not entries:
                del made[kind]
    return made


# ------------------------------------------------------------------ what should come out


def _merged(now: Content, keys: Content) -> dict[str, Any]:
    made = dict(now)
    for key, value in keys.items():
        if value is None:
            made.pop(key, None)
        elif isinstance(value, Mapping):
            before = made.get(key)
            part = _merged(before if isinstance(before, Mapping) else {}, value)
            made[key] = part
            if value and not part:  # all that was in it was taken out
                del made[key]
        else:
            made[key] = value
    return made


def _name_key(kind: str) -> str:
    return NAMED_BY.get(kind, "name")


def _place(entries: Sequence[Any], kind: str, name: str) -> int | None:
    """Return which entry has a name; addresses without one are named as the loader does it."""
    known = named(entries, None) if kind == "notify" else entries
    key = _name_key(kind)
    names = [entry.get(key) if isinstance(entry, dict) else None for entry in known]
    return names.index(name) if name in names else None


def _found(entries: Sequence[Any], kind: str, name: str) -> int:
    at = _place(entries, kind, name)
    if at is None:
        raise RefusedError(
            f"There is no [[{kind}]] “{name}” in the settings file any more. Look at how it "
            "stands now."
        )
    return at


# ------------------------------------------------------------------ the text


def _proven(text: str, edit: Edit) -> str:
    """Make one change, and read again what came out.

    Raises:
        RefusedError: it is not what was meant.
    """
    before = tomllib.loads(text)
    root = edit.section if isinstance(edit, SetKeys) else edit.kind
    try:
        wanted = applied(before, edit)
        made = _like(text, _changed(text, before, edit))
        if tomllib.loads(made) == wanted:
            return made
    except (TOMLKitError, LookupError, TypeError, ValueError):
        pass
    raise RefusedError(BY_HAND.format(root=root))


def _like(model: str, text: str) -> str:
    """Write line ends as the file does."""
    return text.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in model else text


def _changed(text: str, before: Content, edit: Edit) -> str:
    cut = pieces(text if text.endswith("\n") or not text else f"{text}\n")
    if isinstance(edit, SetKeys):
        now = before.get(edit.section, {})
        at = next((i for i, p in enumerate(cut) if p.root == edit.section), None)
        if at is None:
            return _joined(
                [*cut, Piece(_written(edit.section, _merged({}, edit.content), listed=False))]
            )
        cut[at] = _with_keys(cut[at], now, edit.content)
        return _joined(cut)
    entries = before.get(edit.kind, ())
    own = [i for i, p in enumerate(cut) if p.root == edit.kind and p.listed]
    if isinstance(edit, TakeOut):
        return _joined(_without(cut, own[_found(entries, edit.kind, edit.name)]))
    number = _place(entries, edit.kind, edit.name)
    if number is None:
        fresh = Piece(
            _written(
                edit.kind, _merged({_name_key(edit.kind): edit.name}, edit.content), listed=True
            )
        )
        return _joined(_behind(cut, own[-1] if own else None, fresh))
    cut[own[number]] = _with_keys(cut[own[number]], entries[number], edit.content)
    return _joined(cut)


def _behind(cut: list[Piece], last: int | None, fresh: Piece) -> list[Piece]:
    """Put a piece behind the last of its kind, or at the end where there is none."""
    if last is None:
        return [*cut, fresh]
    # Only the last piece of a file has something left behind its content.
    text = cut[last].text
    end = end_of_content(text)
    parts = (replace(cut[last], text=text[:end]), fresh, Piece(text[end:]))
    return [*cut[:last], *parts, *cut[last + 1 :]]


def _joined(cut: Sequence[Piece]) -> str:
    return "".join(piece.text for piece in cut)


def _without(cut: list[Piece], at: int) -> list[Piece]:
    """Take a piece out; comments that stand before its header may speak of others, and stay."""
    text = cut[at].text
    kept = next(
        place for place, line in _lines(text) if line.strip() and not line.lstrip().startswith("#")
    )
    after = text[end_of_content(text) :]
    before = text[:kept] if text[:kept].strip() else ""
    cut[at] = replace(cut[at], text=before + after)
    return cut


def _lines(text: str) -> Iterator[tuple[int, str]]:
    place = 0
    for line in text.splitlines(keepends=True):
        yield place, line
        place += len(line)


def _with_keys(piece: Piece, now: Content, keys: Content) -> Piece:
    text = piece.text
    # What goes, goes last: the header of a part vanishes with the last that stood below it.
    for path, value in sorted(_leaves((), now, keys), key=lambda leaf: leaf[1] is None):
        text = _with_leaf(text, piece, path, value)
    return replace(piece, text=text)


def _leaves(
    path: tuple[str, ...], now: Content, keys: Content
) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield what has to change, each with where it stands."""
    for key, value in keys.items():
        here = (*path, key)
        before = now.get(key)
        after = _merged(now, {key: value}).get(key)
        if isinstance(before, Mapping) and isinstance(after, Mapping):
            yield from _leaves(here, before, value)
        elif not _same(before, after):
            yield here, after


def _same(before: object, value: object) -> bool:
    return before == value and isinstance(before, bool) == isinstance(value, bool)


def _with_leaf(text: str, piece: Piece, path: Sequence[str], value: object) -> str:
    document = tomlkit.parse(text)
    top = document[piece.root]
    entry: Any = top[0] if piece.listed else top
    place = entry
    for part in path[:-1]:
        place = place[part]
    key = path[-1]
    if value is None:
        del place[key]
    elif key in place or isinstance(place, InlineTable):
        place[key] = _item(value)
    elif isinstance(value, dict):
        end = end_of_content(text)
        return (
            text[:end]
            + _written(".".join((piece.root, *path)), value, listed=False).lstrip("\n")
            + text[end:]
        )
    else:
        at = _end_of_keys(document, place, text)
        return text[:at] + _assignment(key, value) + text[at:]
    return document.as_string()


def _end_of_keys(document: tomlkit.TOMLDocument, table: Table, text: str) -> int:
    """Return where a further key of a table goes: after its last one and what explains that."""
    body = table.value.body
    own = [i for i, (key, item) in enumerate(body) if key and not _has_header(item)]
    at = own[-1] + 1 if own else 0
    while at < len(body) and isinstance(body[at][1], Comment) and body[at][1].trivia.indent:
        at += 1
    mark = next(f"#{n}#" for n in count() if f"#{n}#" not in text)
    body.insert(at, (None, Comment(Trivia("", "", mark, "\n"))))
    return document.as_string().index(mark)


def _has_header(item: object) -> bool:
    return isinstance(item, AoT | Table)


# ------------------------------------------------------------------ how values are written


def _written(header: str, content: Content, *, listed: bool) -> str:
    """Write a section with an empty line before it, and its parts below it."""
    own = {k: v for k, v in content.items() if not isinstance(v, Mapping)}
    parts = {k: v for k, v in content.items() if isinstance(v, Mapping)}
    head = f"[[{header}]]" if listed else f"[{header}]"
    # A header that only holds parts is left out, as a person would.
    bare = not own and parts and not listed
    lines = "" if bare else f"{head}\n" + "".join(_assignment(k, v) for k, v in own.items())
    below = "".join(
        _written(f"{header}.{key}", part, listed=False).lstrip("\n") for key, part in parts.items()
    )
    return f"\n{lines}{below}"


def _assignment(key: str, value: object) -> str:
    return f"{tomlkit.key(key).as_string()} = {_item(value).as_string()}\n"


def _item(value: object) -> Any:  # noqa: ANN401 - an item of any kind
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        table.update({key: _item(each) for key, each in value.items()})
        return table
    if isinstance(value, Sequence) and not isinstance(value, str):
        array = tomlkit.array()
        array.extend(_item(each) for each in value)
        return array
    return tomlkit.item(value)
