"""`review`: looks back on a week; so far on how well its reminders did."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from chamberwatch.service.reviewing import Reviewing, WeekReview

LABEL: Final = 15


def review(
    reminders: Annotated[
        bool, typer.Option("--reminders", help="How well the reminders did, and what tires.")
    ] = False,
    week: Annotated[
        str, typer.Option(help="Such as 2026-W47; without it the present week so far.")
    ] = "",
    json_: Annotated[bool, typer.Option("--json", help="As the API answers it.")] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Look back on a week, from the database; the daemon may be running."""
    if not reminders:
        raise RefusedError("Say what to look back on: chamberwatch review --reminders")
    with _looking_back(config) as looked:
        weeks = looked.weeks(week)
    if json_:
        from chamberwatch.web.quality_shapes import QualityOut

        print(QualityOut.of(weeks).model_dump_json(indent=2))
        return
    from chamberwatch.cli.growing.printing import show

    for each in weeks:
        show(*_parts(each))


@contextmanager
def _looking_back(config: Path) -> Iterator["Reviewing"]:
    from zoneinfo import ZoneInfo

    from chamberwatch.cli.beside import beside
    from chamberwatch.notify.console import Console
    from chamberwatch.service.reviewing import Reviewing
    from chamberwatch.settings import load_species
    from chamberwatch.wiring.growing import grow

    with beside(config) as on:
        # The bands as they are now: they say how wide a deadband may be.
        growing = grow(on.settings, load_species(config), on.books, on.clock, on.board)
        house, zone = growing.standing.house, ZoneInfo(on.settings.site.timezone)
        yield Reviewing(on.books, on.clock, house, zone, Console.name)


def _parts(shown: "WeekReview") -> Iterator["RenderableType"]:
    from chamberwatch.cli.growing.printing import head, indented, pairs, table
    from chamberwatch.core import review_words

    so_far = "" if shown.over else ", so far"
    yield head(f"Reminders in {shown.week.name}, {review_words.days(shown.week)}{so_far}")
    if review_words.silent(shown.quality):
        yield "  No reminders that week." if shown.over else "  No reminders this week so far."
        return
    yield pairs(review_words.figures(shown.quality, shown.titles), LABEL)
    for number, each in enumerate(shown.worst):
        yield "" if number else head("\nWhat tires most")
        yield indented(f"{each.title}. {each.how}")
        yield indented(each.advice)
    if shown.causes:
        rows = zip(shown.causes, shown.quality.by_cause, strict=True)
        yield head("\nWhat the messages were about")
        yield table(("about", "messages"), ((words, str(c.messages)) for words, c in rows), (0,))
