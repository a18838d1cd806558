"""`review`: looks back on a week, on its air and on how well its reminders did."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption
from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from chamberwatch.service.climate import Climates, ClimateWeek
    from chamberwatch.service.reviewing import Reviewing, WeekReview

LABEL: Final = 15
LAST: Final = "last"


@dataclass(frozen=True, slots=True)
class _LookedBack:
    """What answers."""

    reminders: "Reviewing"
    air: "Climates"


def review(
    reminders: Annotated[
        bool, typer.Option("--reminders", help="How well the reminders did, and what tires.")
    ] = False,
    week: Annotated[
        str,
        typer.Option(help="Such as 2026-W47, or last; without it the present week so far."),
    ] = "",
    chamber: Annotated[
        str, typer.Option(help="Its name; without it every chamber that has a stage.")
    ] = "",
    json_: Annotated[bool, typer.Option("--json", help="As the API answers it.")] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Look back on the air of a week, from the database; the daemon may be running."""
    with _looking_back(config) as looked:
        if reminders:
            _reminders(looked.reminders, _named(looked.reminders, week), as_json=json_)
        else:
            _air(looked, _named(looked.reminders, week), chamber, as_json=json_)


def _named(looked: "Reviewing", week: str) -> str:
    from chamberwatch.core.review import week as weeks

    if week.strip().lower() != LAST:
        return week
    return weeks.of_moment(looked.clock.now(), looked.zone).later(-1).name


def _reminders(looked: "Reviewing", week: str, *, as_json: bool) -> None:
    weeks = looked.weeks(week)
    if as_json:
        from chamberwatch.web.quality_shapes import QualityOut

        print(QualityOut.of(weeks).model_dump_json(indent=2))
        return
    from chamberwatch.cli.growing.printing import show

    for each in weeks:
        show(*_parts(each))


def _air(looked: _LookedBack, week: str, chamber: str, *, as_json: bool) -> None:
    declared = looked.air.house.chambers.values()
    names = [chamber] if chamber else [c.name for c in declared if c.stage is not None]
    if not names:
        raise RefusedError(
            "There is no chamber with a stage in the settings yet, so there is no air to look "
            "back on. Add one on the page, Set-up, or in the settings file."
        )
    found = [looked.air.week(name, week) for name in names]
    if as_json:
        import json

        from chamberwatch.web.climate_shapes import ClimateOut

        weeks = [ClimateOut.of(each).model_dump(mode="json") for each in found]
        print(json.dumps({"chambers": weeks}, indent=2, ensure_ascii=False))
        return
    from chamberwatch.cli.growing.printing import show

    for each in found:
        show(*_climate(each))


@contextmanager
def _looking_back(config: Path) -> Iterator[_LookedBack]:
    from zoneinfo import ZoneInfo

    from chamberwatch.cli.beside import beside
    from chamberwatch.notify.console import Console
    from chamberwatch.service.climate import Climates
    from chamberwatch.service.growing.bands_then import BandsThen
    from chamberwatch.service.reviewing import Reviewing
    from chamberwatch.settings import load_species
    from chamberwatch.wiring.growing import grow

    with beside(config) as on:
        # The bands as they are now: they say how wide a deadband may be.
        growing = grow(on.settings, load_species(config), on.books, on.clock, on.board)
        house, zone = growing.standing.house, ZoneInfo(on.settings.site.timezone)
        bands = BandsThen(house, growing.table)
        yield _LookedBack(
            Reviewing(on.books, on.clock, house, zone, Console.name),
            Climates(on.books, on.clock, house, bands, zone),
        )


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


def _climate(shown: "ClimateWeek") -> Iterator["RenderableType"]:
    from chamberwatch.cli.growing.printing import head, indented, pairs
    from chamberwatch.service.climate import heading

    yield head(heading(shown))
    if not shown.shares:
        yield "  Nothing was heard of its air that week." if shown.over else "  Nothing heard yet."
        return
    for name, in_band, span in shown.shares:
        yield pairs([(name, f"{in_band}; {span}")], LABEL)
    yield indented(shown.holding)
    yield indented(shown.freshness)
    yield head("\nWorst spells")
    for words in shown.spells or ("None of five minutes or more.",):
        yield indented(words)
    yield head("\nThe typical day, hour by hour")
    yield _day(shown)
    yield head("\nWhat to change")
    for words in shown.changes or ("Nothing: keep on like this.",):
        yield indented(words)
    yield ""


def _day(shown: "ClimateWeek") -> "RenderableType":
    from chamberwatch.cli.growing.printing import NONE, table
    from chamberwatch.core import climate_words
    from chamberwatch.core.wording import amount

    day = shown.climate.day
    rows = []
    for hour in range(24):
        cells = [f"{hour:02d}"]
        for quantity, hours in day.items():
            this = hours[hour]
            cells.append(NONE if this.mean is None else amount(quantity, this.mean))
            cells.append(NONE if this.in_band is None else climate_words.percent(this.in_band))
        rows.append(cells)
    heads = ["hour"]
    for quantity in day:
        heads += [climate_words.NAMES[quantity], "in band"]
    return table(heads, rows)
