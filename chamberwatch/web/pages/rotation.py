"""The rotation: what to start when, as a chart and in words, and what another wish would bring."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import RedirectResponse

from chamberwatch.core.errors import RefusedError, SettingsError, UnknownNameError
from chamberwatch.core.growing.rotation.plan import Plan, PlannedStart
from chamberwatch.core.growing.rotation.takes import lacking
from chamberwatch.service.growing.growing import Growing
from chamberwatch.service.growing.rotating import PlanNow
from chamberwatch.web.desk import desk_of, editing_of, growing_of
from chamberwatch.web.figures import Figures, figures_of
from chamberwatch.web.gate import by_people
from chamberwatch.web.language import _, marked
from chamberwatch.web.pages.faults import in_one
from chamberwatch.web.pages.rotation_chart import Chart, chart
from chamberwatch.web.pages.rotation_stands import Known
from chamberwatch.web.pages.rotation_wish import (
    MOST_SPECIES,
    WishRow,
    row,
    rows,
    snippet,
    unit_of,
    wish,
)
from chamberwatch.web.pages.rotation_wish import kept as kept_in
from chamberwatch.web.pages.rotation_words import day, kilos
from chamberwatch.web.rendering import NOT_VALID, page

router = APIRouter(include_in_schema=False)


_SAID: Final = {"kept": marked("Kept: this is wished for from now on, and planned for.")}

TypedTexts = Annotated[list[str], Form(max_length=MOST_SPECIES + 2)]
Texts = Annotated[list[str] | None, Query(max_length=MOST_SPECIES + 2)]


@dataclass(frozen=True, slots=True)
class WeekRow:
    """A week in the table."""

    monday: str
    expected: str
    species: tuple[str, ...]
    short: bool


@dataclass(frozen=True, slots=True)
class StartRow:
    """A start in the table."""

    on: str
    species: str
    colonises: str
    opens: str
    fruits: str
    leaves: str
    harvests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A plan as the page shows it."""

    chart: Chart
    words: tuple[str, ...]
    gives: tuple[tuple[str, str], ...]
    starts: tuple[StartRow, ...]
    weeks: tuple[WeekRow, ...]
    species: tuple[str, ...]
    made: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One line of the comparison of two plans."""

    what: str
    kept: str
    tried: str


@router.get("/growing/rotation")
def rotation(
    request: Request,
    species: Texts = None,
    low: Texts = None,
    high: Texts = None,
    dry: Texts = None,
    said: str = "",
) -> Response:
    """Show the plan that is kept to; with a wish, beside it the plan for that."""
    growing, figures = growing_of(request), figures_of(request)
    typed, error, tried = rows(species, low, high, dry), "", None
    kept, missing = _kept(growing)
    if typed:
        try:
            tried = growing.rotating.suppose(wish(typed, figures, growing.rotating.wanted))
        except (RefusedError, UnknownNameError) as exc:
            error = str(exc)
    else:
        typed = tuple(row(each, figures) for each in kept.asked) if kept else ()
    today = desk_of(request).clock.now().astimezone(figures.zone).date()
    return page(
        "rotation.html",
        NOT_VALID if error else 200,
        title=_("Rotation"),
        kept=_shown(growing, kept, figures, today) if kept else None,
        missing=figures.said(missing),
        tried=_shown(growing, tried, figures, today) if tried else None,
        compared=_compared(kept, tried, growing, figures) if kept and tried else (),
        rows=(*typed, WishRow())[:MOST_SPECIES],
        options=_options(growing),
        error=figures.said(error),
        snippet=snippet(tried.asked) if tried else "",
        keeps=desk_of(request).editing is not None,
        asked=typed,
        said=_(_SAID[said]) if said in _SAID else "",
        unit=unit_of(figures),
        zone=figures.zone.key,
    )


@router.post("/growing/rotation", dependencies=[Depends(by_people)])
def keep(
    request: Request,
    species: TypedTexts,
    low: TypedTexts,
    high: TypedTexts,
    dry: TypedTexts,
) -> Response:
    """Let the settings wish for this from now on.

    Raises:
        SettingsError: they can't; the text says why.
        RefusedError: the same.
    """
    editing = editing_of(desk_of(request))
    before = growing_of(request).rotating.wanted
    asked = wish(rows(species, low, high, dry), figures_of(request), before)
    if not asked:
        raise RefusedError(
            _(
                "Choose at least one species. To wish for nothing any more, take every "
                "[[rotation]] out of the settings file."
            )
        )
    try:
        editing.change(list(kept_in(asked, editing.content())))
    except SettingsError as exc:
        raise RefusedError(in_one(exc)) from exc
    return RedirectResponse("/growing/rotation?said=kept", 303)


def _kept(growing: Growing) -> tuple[PlanNow | None, str]:
    """Return the plan that is kept to, or why there is none."""
    if not growing.rotating.wanted:
        return None, _(
            "Nothing is wished for yet, so nothing is planned. Say below what you would like to "
            "pick each week; once the plan suits you, keep the wish."
        )
    try:
        return growing.rotating.plan(), ""
    except (RefusedError, UnknownNameError) as exc:
        return None, str(exc)


def _options(growing: Growing) -> tuple[tuple[str, str, str], ...]:
    """Return the species that can be wished for: name, title, and why one can't be planned."""
    return tuple((each.name, each.title, lacking(each)) for each in growing.table.species.values())


# ------------------------------------------------------------------ what is shown


def _shown(growing: Growing, now: PlanNow, figures: Figures, today: date) -> Shown:
    plan, names = now.plan, {s.name: s.title for s in growing.table.species.values()}
    titles, short = growing.standing.house.titles(), now.short_weeks
    rotating = growing.rotating
    known = Known(
        plan, now.wish_kg, rotating.under_way(), growing.record.batches(), rotating.spaces,
        titles, names, today,
    )  # fmt: skip
    kinds = tuple(dict.fromkeys(name for week in plan.weeks for name in week.by_species))
    return Shown(
        chart=chart(known, figures),
        words=tuple(figures.said(line) for line in now.words),
        gives=tuple((day(g.week), figures.said(g.why)) for g in plan.gives),
        starts=tuple(_start(start, titles, names, figures) for start in plan.starts),
        weeks=tuple(
            WeekRow(
                day(week.monday),
                kilos(figures, week.kg_low, week.kg_high),
                tuple(kilos(figures, *week.by_species.get(kind, (0.0, 0.0))) for kind in kinds),
                week.monday in short,
            )
            for week in plan.weeks
        ),
        species=tuple(names.get(kind, kind) for kind in kinds),
        made=day(now.made),
    )


def _start(
    start: PlannedStart, titles: Mapping[str, str], names: Mapping[str, str], figures: Figures
) -> StartRow:
    def place(at: tuple[str, str] | None) -> str:
        if at is None:
            return _("a place that is still taken")
        return ", ".join(part for part in (titles.get(at[0], at[0]), at[1]) if part)

    return StartRow(
        on=day(start.on),
        species=names.get(start.species, start.species),
        colonises=place(start.colonise_at),
        opens=day(start.opens_on),
        fruits=place(start.fruit_at),
        leaves=day(start.leaves_on),
        harvests=tuple(
            _(
                "%(kilos)s, %(first)s to %(last)s",
                kilos=kilos(figures, h.kg_low, h.kg_high),
                first=day(_date(h.low)),
                last=day(_date(h.high)),
            )
            for h in start.harvests
        ),
    )


def _date(time: date) -> date:
    return time.date() if isinstance(time, datetime) else time


def _compared(
    one: PlanNow, other: PlanNow, growing: Growing, figures: Figures
) -> tuple[Compared, ...]:
    """Return two plans side by side, in figures."""
    kept, tried = one.plan, other.plan
    names = dict.fromkeys([*kept.starts_per_week, *tried.starts_per_week])

    def both(what: str, *said: str) -> Compared:
        return Compared(what, *(figures.said(each) for each in said))

    rates = [
        both(
            _("%(name)s: starts a week", name=growing.table.known(name).title),
            *(_rate(plan, name) for plan in (kept, tried)),
        )
        for name in names
    ]
    return (
        *rates,
        both(_("starts in these weeks"), *(str(len(plan.starts)) for plan in (kept, tried))),
        both(_("expected in these weeks, together"), *(_all(p, figures) for p in (kept, tried))),
        both(_("weeks with less than is wished"), *(_short(now) for now in (one, other))),
    )


def _rate(plan: Plan, name: str) -> str:
    if name not in plan.starts_per_week:
        return _("none")
    low, high = plan.starts_per_week[name]
    return _("%(low)s to %(high)s", low=f"{low:.1f}", high=f"{high:.1f}")


def _all(plan: Plan, figures: Figures) -> str:
    low, high = (sum(getattr(w, end) for w in plan.weeks) for end in ("kg_low", "kg_high"))
    return kilos(figures, low, high)


def _short(now: PlanNow) -> str:
    return _("%(weeks)s of %(all)s", weeks=len(now.short_weeks), all=len(now.plan.weeks))
