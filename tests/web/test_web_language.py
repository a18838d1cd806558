"""The texts of the pages: all are marked, gathered, and said in the language a browser reads."""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from fastapi.testclient import TestClient

from chamberwatch.web import language
from chamberwatch.web.app import create_app
from chamberwatch.web.language import languages_in, wanted
from chamberwatch.web.rendering import templates
from tests.texts import TEMPLATE, WEB, as_written, bring_up_to_date, gathered, of_code
from tests.web.desk_fakes import dry_tent, health
from tests.web.unsaid import VALUE, unsaid

NOT_ENGLISH = {
    "_airchart.html": {f"{VALUE} g/kg"},  # a unit
    "base.html": {"chamberwatch", f"{VALUE} · chamberwatch"},  # a name
}
"""What stays as it is in every language, and why."""


@pytest.mark.parametrize("file", sorted(WEB.rglob("*.html")), ids=lambda file: file.name)
def test_a_template_holds_no_english_that_is_not_marked(file: Path) -> None:
    found = unsaid(templates(), file.read_text(encoding="utf-8"))
    assert set(found) == NOT_ENGLISH.get(file.name, set())


@pytest.mark.parametrize(
    ("source", "found"),
    [
        pytest.param("<p>Look here</p>", ["Look here"], id="text"),
        pytest.param('<p>{{ _("Look here") }}</p>', [], id="marked"),
        pytest.param("<p>{% trans %}Look here{% endtrans %}</p>", [], id="marked as a block"),
        pytest.param('<a title="Look">x</a>', ['title="Look"'], id="attribute"),
        pytest.param('<a class="look" href="/look">{{ x }}</a>', [], id="for machines"),
        pytest.param('{{ "here" if x else _("there") }}', ["here" + VALUE], id="one of two ways"),
        pytest.param("{% if x %}here{% else %}{{ y }}{% endif %}", ["here" + VALUE], id="if"),
        pytest.param('{{ x or "none" }}', [VALUE + "none"], id="instead of nothing"),
        pytest.param('{{ x ~ " of " ~ y }}', [f"{VALUE} of {VALUE}"], id="put together"),
        pytest.param('{{ field(x, "name", "Look here") }}', ["Look here"], id="to a macro"),
        pytest.param('{{ field(x, label="Look") }}', ["Look"], id="to a macro, by name"),
        pytest.param('{% set x = "Look here" %}', ["Look here"], id="into a variable"),
        pytest.param("<code>look --here</code><p>{{ x }}</p>", [], id="a command"),
        pytest.param('{{ "look" | upper }}', ["look"], id="through a filter"),
    ],
)
def test_english_is_found(source: str, found: list[str]) -> None:
    assert unsaid(templates(), source) == found


def test_the_template_of_catalogues_is_up_to_date() -> None:
    """If not: python -m tests.texts."""
    assert TEMPLATE.read_text(encoding="utf-8") == as_written(gathered())


def test_every_text_takes_its_values() -> None:
    for message in gathered():
        for text in message.id if isinstance(message.id, tuple) else (message.id,):
            assert str(text) % defaultdict(int) is not None


SENTENCE = re.compile(r"[A-Z][a-z]+ [a-z]+.*|[a-z]+( [a-z]+){2,}.*")
FOR_MACHINES = re.compile(r"[<\[]|%[sd]|max-age")


def _bare(tree: ast.AST) -> Iterator[str]:
    """Yield texts of a module that go through no mark; what the log and the API say apart."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        if isinstance(node, ast.Call) and ast.unparse(node.func).startswith(
            ("_", "log.", "ma", "ng")
        ):
            continue
        if isinstance(node, ast.keyword) and node.arg == "description":
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value
        yield from _bare(node)


def test_pages_say_no_sentence_that_is_not_marked() -> None:
    found = {
        f"{file.relative_to(WEB)}: {text}"
        for file in (WEB / "pages").rglob("*.py")
        for text in _bare(ast.parse(file.read_text(encoding="utf-8")))
        if SENTENCE.match(text) and not FOR_MACHINES.search(text)
    }
    assert found == set()


@pytest.mark.parametrize(
    ("accepted", "tags"),
    [
        pytest.param("da", ["da", "da"], id="one"),
        pytest.param("pt-BR,pt;q=0.9", ["pt-br", "pt", "pt", "pt"], id="country first"),
        pytest.param("en;q=0.5, da", ["da", "da", "en", "en"], id="by weight"),
        pytest.param("da;q=0, en", ["en", "en"], id="not that one"),
        pytest.param("da;q=much, en", ["en", "en"], id="no weight"),
        pytest.param("", ["", ""], id="says nothing"),
    ],
)
def test_what_a_browser_reads(accepted: str, tags: list[str]) -> None:
    assert list(wanted(accepted)) == tags


def _invented(folder: Path) -> Path:
    """Make a catalogue in which some texts are said otherwise."""
    catalog = Catalog(locale="da")
    catalog.add("Now", "Nuh")
    catalog.add("Growing", "Grohende <b>")
    catalog.add("Times of %(zone)s.", "Zeitas ov %(zone)s.")
    catalog.add("What to do now", "Vat tu du nuh")
    one = "%(num)s message of sensors could not be read."
    many = "%(num)s messages of sensors could not be read."
    catalog.add((one, many), ("een %(num)s", "mange %(num)s"))
    place = folder / "da" / "LC_MESSAGES"
    place.mkdir(parents=True)
    with (place / "chamberwatch.mo").open("wb") as file:
        write_mo(file, catalog)
    return folder


@pytest.fixture
def visitor(tmp_path: Path) -> TestClient:
    return TestClient(
        create_app(dry_tent().desk, _invented(tmp_path)), base_url="http://localhost"
    )


@pytest.mark.parametrize(
    ("accepted", "tag", "label"),
    [
        pytest.param("da-DK,da;q=0.9,en;q=0.5", "da", "Nuh", id="there is one"),
        pytest.param("fr,da;q=0.5", "da", "Nuh", id="second best"),
        pytest.param("en-GB,da;q=0.5", "en", "Now", id="English comes first"),
        pytest.param("fr", "en", "Now", id="there is none"),
        pytest.param("", "en", "Now", id="says nothing"),
    ],
)
def test_a_page_speaks_what_its_browser_reads(
    visitor: TestClient, accepted: str, tag: str, label: str
) -> None:
    shown = visitor.get("/", headers={"Accept-Language": accepted}).text
    assert f'<html lang="{tag}">' in shown
    assert f">{label}</a>" in shown


def test_requests_do_not_share_a_language(visitor: TestClient) -> None:
    said = [
        re.findall(r'<html lang="(..)">', visitor.get("/log", headers=headers).text)
        for headers in ({"Accept-Language": "da"}, {"Accept-Language": "fr"}, {})
    ]
    assert said == [["da"], ["en"], ["en"]]
    assert language.spoken() == "en"


def test_values_go_into_a_translation(visitor: TestClient) -> None:
    shown = visitor.get("/", headers={"Accept-Language": "da"}).text
    assert "Zeitas ov Europe/Berlin." in shown
    assert "Vat tu du nuh" in shown
    assert "Will it hold?" in shown  # what a catalogue lacks stays English


@pytest.mark.parametrize(
    ("rejects", "said"),
    [pytest.param(1, "een 1", id="one"), pytest.param(3, "mange 3", id="more")],
)
def test_what_is_counted_takes_its_form(tmp_path: Path, rejects: int, said: str) -> None:
    played = dry_tent()
    played.history.state = health(played.clock, rejects=rejects)
    app = create_app(played.desk, _invented(tmp_path))
    visitor = TestClient(app, base_url="http://localhost")
    assert said in visitor.get("/", headers={"Accept-Language": "da"}).text


def test_a_page_about_a_fault_speaks_it_too(visitor: TestClient) -> None:
    answer = visitor.get("/nowhere", headers={"Accept-Language": "da"})
    assert answer.status_code == 404
    assert '<html lang="da">' in answer.text


def test_no_catalogue_is_needed(tmp_path: Path) -> None:
    assert list(languages_in(tmp_path / "nowhere")) == ["en"]


def test_a_language_is_begun_and_brought_up_to_date(tmp_path: Path) -> None:
    kept = tmp_path / "da" / "LC_MESSAGES" / "chamberwatch.po"
    assert bring_up_to_date("da", tmp_path) == []
    catalog = read_po(BytesIO(kept.read_bytes()), locale="da")
    assert len(catalog) == len(gathered())
    text = kept.read_text(encoding="utf-8")
    kept.write_text(
        text.replace('msgid "Now"\nmsgstr ""', 'msgid "Now"\nmsgstr "Nuh"'), encoding="utf-8"
    )
    assert bring_up_to_date("da", tmp_path) == []
    assert languages_in(tmp_path)["da"].texts.gettext("Now") == "Nuh"


def test_a_translation_that_loses_a_value_is_not_compiled(tmp_path: Path) -> None:
    kept = tmp_path / "da" / "LC_MESSAGES" / "chamberwatch.po"
    kept.parent.mkdir(parents=True)
    head = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    kept.write_text(
        head + '#, python-format\nmsgid "Times of %(zone)s."\nmsgstr "%(zome)s"\n',
        encoding="utf-8",
    )
    assert len(bring_up_to_date("da", tmp_path)) == 1
    assert not kept.with_suffix(".mo").exists()


def test_marks_are_read_from_code() -> None:
    source = (
        '_("one")\nmarked("two")\nngettext("a", "b", n)\n_(name)\nother("no")\n_("x", y=f("z"))'
    )
    assert list(of_code(source)) == ["one", "two", ("a", "b"), "x"]
