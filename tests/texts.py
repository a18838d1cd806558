"""The texts of the pages, gathered for translators.

    python -m tests.texts         # what stands in templates and code -> chamberwatch.pot
    python -m tests.texts da      # and into da: begun or brought up to date, checked, compiled

Nothing in the files changes that need not: no dates, no line numbers, texts in the order of files.
"""

import ast
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Final

from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from chamberwatch.web.language import DOMAIN, TEXTS
from chamberwatch.web.rendering import templates

WEB: Final = TEXTS.parent
TEMPLATE: Final = TEXTS / f"{DOMAIN}.pot"
MARKS: Final = frozenset({"_", "gettext", "marked", "ngettext"})
WIDTH: Final = 96
HEAD: Final = """\
# Texts of the pages of chamberwatch. A per cent sign is written %%; %(name)s is put in.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""

Text = str | tuple[str, str]
"""What is said; of what is counted: of one, and of many."""


def gathered() -> Catalog:
    """Return every text that is marked in the code and the templates of the pages."""
    catalog = Catalog(charset="utf-8")
    for file in sorted(WEB.rglob("*.py")):
        for text in of_code(file.read_text(encoding="utf-8")):
            catalog.add(text, "", locations=[(file.relative_to(WEB).as_posix(), 0)])
    for file in sorted(WEB.rglob("*.html")):
        for text in of_template(file.read_text(encoding="utf-8")):
            catalog.add(text, "", locations=[(file.relative_to(WEB).as_posix(), 0)])
    return catalog


def of_code(source: str) -> Iterator[Text]:
    """Yield the texts that are marked in a module, in their order."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda each: (each.lineno, each.col_offset)):
        if isinstance(call.func, ast.Name) and call.func.id in MARKS:
            values = (each.value for each in call.args if isinstance(each, ast.Constant))
            yield from _as_text([value for value in values if isinstance(value, str)])


def of_template(source: str) -> Iterator[Text]:
    """Yield the texts that are marked in a template, in their order."""
    for _line, _mark, said in templates().extract_translations(source):  # type: ignore[attr-defined]
        texts = said if isinstance(said, tuple) else (said,)
        yield from _as_text([each for each in texts if isinstance(each, str)])


def _as_text(said: list[str]) -> Iterator[Text]:
    match said:
        case [text]:
            yield text
        case [one, many]:
            yield one, many
        case _:
            pass  # what is said stands in a variable, and is marked where that was filled


def as_written(catalog: Catalog) -> str:
    """Return the template of catalogues as it is kept."""
    held = BytesIO()
    write_po(held, catalog, width=WIDTH, omit_header=True, include_lineno=False)
    return HEAD + held.getvalue().decode()


def bring_up_to_date(language: str, folder: Path = TEXTS) -> list[str]:
    """Take new texts into a language, and compile it where nothing is at fault.

    Returns:
        What is at fault in it.
    """
    place = folder / language / "LC_MESSAGES"
    place.mkdir(parents=True, exist_ok=True)
    kept = place / f"{DOMAIN}.po"
    catalog = Catalog(locale=language, charset="utf-8")
    if kept.exists():
        catalog = read_po(BytesIO(kept.read_bytes()), locale=language)
    catalog.update(gathered(), no_fuzzy_matching=True)
    with kept.open("wb") as written:
        write_po(written, catalog, width=WIDTH, include_lineno=False)
    wrong = [f"{message.id!r}: {each}" for message, errors in catalog.check() for each in errors]
    if not wrong:
        with (place / f"{DOMAIN}.mo").open("wb") as compiled:
            write_mo(compiled, catalog)
    return wrong


def main(languages: list[str]) -> int:
    """Write the template, and bring languages up to date."""
    TEXTS.mkdir(exist_ok=True)
    found = gathered()
    TEMPLATE.write_text(as_written(found), encoding="utf-8")
    print(f"{len(found)} texts in {TEMPLATE.name}")
    faults = {language: bring_up_to_date(language) for language in languages}
    for language, said in faults.items():
        print(f"{language}: " + ("not compiled, mend these:" if said else "compiled"))
        print(*said, sep="\n", end="\n" if said else "")
    return int(any(faults.values()))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
