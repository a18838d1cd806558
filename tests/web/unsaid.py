"""Finds English in templates that no catalogue would get to see.

A template is read as Jinja reads it and written out again as bare HTML: both ways of every `if`,
every value a dash, every text that goes through gettext gone. Letters that are left in what a
person reads, or hears read out, are a text that was forgotten.
"""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Final

from jinja2 import Environment, nodes

HUMAN: Final = frozenset(
    {"alt", "aria-label", "aria-description", "placeholder", "title", "label"}
)
"""Attributes that are shown or read out."""
TO_MACHINES: Final = frozenset({"style", "script", "code", "pre"})
VALUE: Final = "\N{FIGURE DASH}"
GETTEXT: Final = frozenset({"_", "gettext", "ngettext"})
LETTERS: Final = re.compile(r"[^\W\d_]{2,}")
WITHIN_A_TAG: Final = re.compile(r' aria-(invalid|describedby)="[^"]*"')
"""Macros put these together, apart from the tag they go into."""
A_PHRASE: Final = re.compile(r"^[A-Z][a-z]+\b|[a-z]{2,}[ ,:] ?[a-z]{2,}")
"""What a name or an address handed to a macro never looks like."""


def unsaid(environment: Environment, source: str) -> list[str]:
    """Return what is written in a template in English and not marked."""
    tree = environment.parse(source)
    reader = _Reader()
    reader.feed(WITHIN_A_TAG.sub("", "".join(_written(tree))))
    reader.close()
    handed = (text for text in _handed(tree) if A_PHRASE.search(text))
    return [*reader.found, *handed]


def _written(node: nodes.Node) -> Iterator[str]:
    """Write out a template, both ways of each condition one after the other."""
    if isinstance(node, nodes.TemplateData):
        yield node.data
    elif isinstance(node, nodes.Expr):
        yield from _shown(node)
    else:
        for child in node.iter_child_nodes():
            if not isinstance(child, nodes.Expr) or isinstance(node, nodes.Output):
                yield from _written(child)


def _shown(node: nodes.Expr) -> Iterator[str]:
    """Write what an expression may show: its own words, and a dash for what it looks up."""
    if isinstance(node, nodes.Const):
        yield str(node.value)
    elif isinstance(node, nodes.TemplateData):
        yield node.data
    elif parts := _ways(node):
        for each in parts:
            yield from _shown(each)
    else:
        yield VALUE


def _ways(node: nodes.Expr) -> list[nodes.Expr]:
    """Return what an expression shows one of, or one after the other."""
    found: list[nodes.Expr | None] = []
    match node:
        case nodes.CondExpr():
            found = [node.expr1, node.expr2]
        case nodes.Concat():
            found = [*node.nodes]
        case nodes.Or() | nodes.And() | nodes.Add():
            found = [node.left, node.right]
        case nodes.Filter():
            found = [node.node]
        case nodes.MarkSafeIfAutoescape() | nodes.MarkSafe():
            found = [node.expr]
        case _:
            pass
    return [each for each in found if each is not None]


def _handed(tree: nodes.Template) -> Iterator[str]:
    """Return texts handed to macros and put into variables, gettext's own apart."""
    for call in tree.find_all(nodes.Call):
        if not (isinstance(call.node, nodes.Name) and call.node.name in GETTEXT):
            for argument in call.args:
                yield from _bare(argument)
            for keyed in call.kwargs:
                yield from _bare(keyed.value)
    for put in tree.find_all(nodes.Assign):
        yield from _bare(put.node)


def _bare(node: nodes.Node) -> Iterator[str]:
    if isinstance(node, nodes.Const) and isinstance(node.value, str):
        yield node.value
    elif not (isinstance(node, nodes.Call)):
        for child in node.iter_child_nodes():
            yield from _bare(child)


class _Reader(HTMLParser):
    """Reads HTML as a person would: the texts, and the attributes that are shown."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._within: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in TO_MACHINES:
            self._within.append(tag)
        for name, value in attrs:
            if name in HUMAN and value and LETTERS.search(value):
                self.found.append(f'{name}="{value}"')

    def handle_endtag(self, tag: str) -> None:
        if self._within and self._within[-1] == tag:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        if not self._within and LETTERS.search(data):
            self.found.append(" ".join(data.split()))
