"""What is said of a week, and of what would make the next calmer."""

from dataclasses import replace
from datetime import timedelta

import pytest

from chamberwatch.core import review_words as words
from chamberwatch.core.review.calming import Setting, Suggestion, Tiring
from chamberwatch.core.review.quality import Cause, Flood, Quality, Stale, quality
from chamberwatch.core.review.record import Fate, Kind
from chamberwatch.core.review.week import read
from chamberwatch.core.watch.reading import Quantity
from chamberwatch.core.watch.reminder import TASK_CALLS, Call, Priority, Reminder
from tests.core.review.weeks import MONDAY, Told

MINUTE = timedelta(minutes=1)
MIST = Reminder(1, "tent", Call.MIST)
LOOK = Reminder(2, "tent", Call.CHECK_SENSOR, "middle")
TIRING = Tiring(1, 14, 9, 3, 14, 2, 8 * MINUTE, None)


def week(**changes: object) -> Quality:
    return replace(quality(Told().record()), **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("lasted", "said"),
    [
        pytest.param(timedelta(seconds=-5), "0 s", id="clocks apart"),
        pytest.param(timedelta(seconds=119.4), "119 s", id="seconds"),
        pytest.param(2 * MINUTE, "2 min", id="minutes"),
        pytest.param(timedelta(hours=1, minutes=59), "119 min", id="nearly two hours"),
        pytest.param(timedelta(hours=47), "47 h", id="hours"),
        pytest.param(timedelta(hours=48), "2 days", id="days"),
    ],
)
def test_lengths(lasted: timedelta, said: str) -> None:
    assert words.length(lasted) == said


@pytest.mark.parametrize(
    ("reminder", "chamber", "said"),
    [
        pytest.param(MIST, "Tent", "Tent: mist", id="the air"),
        pytest.param(LOOK, "Tent", "Tent: check the sensor middle", id="a sensor"),
        pytest.param(Reminder(3, "", Call.TODAY), "", "today's list", id="nowhere"),
    ],
)
def test_reminders_are_named(reminder: Reminder, chamber: str, said: str) -> None:
    assert words.title(reminder, chamber) == said


@pytest.mark.parametrize(
    ("cause", "chamber", "said"),
    [
        pytest.param(Cause("tent", Call.MIST, "", Kind.REMINDER, 4), "Tent", "Tent: mist", id="a"),
        pytest.param(
            Cause("tent", Call.CHECK_SENSOR, "middle", Kind.RETURNED, 4),
            "Tent",
            "Tent: check the sensor middle, back to normal",
            id="return",
        ),
        pytest.param(Cause("", None, "", Kind.SUMMARY, 4), "", "summary", id="summary"),
        pytest.param(Cause("tent", None, "", Kind.FORECAST, 4), "Tent", "Tent: forecast", id="f"),
        pytest.param(
            Cause("", None, "", Kind.REMINDER, 1), "", "several things at once", id="several"
        ),
    ],
)
def test_causes_are_named(cause: Cause, chamber: str, said: str) -> None:
    assert words.about(cause, chamber) == said


@pytest.mark.parametrize(
    ("per_day", "said"),
    [
        pytest.param(0.0, "0.0 a day, which is calm", id="none"),
        pytest.param(2.0, "2.0 a day, which is calm: up to 2 are easily borne", id="two"),
        pytest.param(3.4, "3.4 a day, which is bearable: 2 to 5 is as much as", id="some"),
        pytest.param(5.0, "which is bearable", id="five"),
        pytest.param(5.2, "5.2 a day, which is too many", id="more"),
    ],
)
def test_messages_a_day_are_held_against_what_one_bears(per_day: float, said: str) -> None:
    assert said in words.a_day(week(per_day=per_day))


def test_the_split_of_the_priorities_stands_beside_what_it_should_be() -> None:
    spread = {Priority.LOW: 6, Priority.MEDIUM: 2, Priority.HIGH: 0}
    assert words.split(week(messages=8, by_priority=spread)).startswith(
        "low 75 % (about 80 %), medium 25 % (about 15 %), high 0 % (about 5 %)"
    )
    assert words.split(week(messages=4, by_priority=spread)) == ""
    assert words.split(week()) == ""


def test_what_people_know_of_and_how_soon_they_acted() -> None:
    assert words.acknowledged(week()) == "nothing about the air or a sensor was told"
    assert words.to_action(week()) == "there was nothing to answer"
    told = week(told=4, acknowledged=3)
    assert words.acknowledged(told) == "3 of 4 that a message told of (75 %)"
    assert words.to_action(told) == "no answer (one within a day counts)"
    one = replace(told, answered=1, median_to_action=12 * MINUTE)
    assert words.to_action(one) == "12 min (the one answer came sooner or by then)"
    assert words.to_action(replace(one, answered=3)) == (
        "12 min (half of the answers came sooner or by then)"
    )


FLOOD = Flood(MONDAY, MONDAY, 12)


def test_figures_that_say_nothing_are_left_out() -> None:
    assert dict(words.figures(week(), {})) == {
        "messages": "0: 0.0 a day, which is calm: up to 2 are easily borne",
        "known of": "nothing about the air or a sensor was told",
        "until acted on": "there was nothing to answer",
        "close in a row": "none; 3 raises of one reminder within an hour would be",
        "over at once": "none",
        "on over a day": "none",
    }


@pytest.mark.parametrize(
    ("changes", "label", "said"),
    [
        pytest.param(
            {"chattering": 9, "chattering_strictly": 3},
            "close in a row",
            "9 raises in rows of 3 or more within an hour, 3 of them within a minute",
            id="chattering",
        ),
        pytest.param(
            {"chattering": 1},
            "close in a row",
            "1 raise in rows of 3 or more within an hour, none of them within a minute",
            id="the rest of a row is in another week",
        ),
        pytest.param(
            {"fleeting": 2}, "over at once", "2 within 15 min, before anyone could act", id="short"
        ),
        pytest.param(
            {
                "stale": (
                    Stale(1, MONDAY, timedelta(hours=90)),
                    Stale(2, MONDAY, timedelta(hours=30)),
                )
            },
            "on over a day",
            "Tent: mist, for 3 days; Tub: vent, for 30 h",
            id="stale",
        ),
        pytest.param(
            {"floods": (FLOOD, replace(FLOOD, messages=31))},
            "all at once",
            "2 times more than 10 in 10 min, at most 31 together",
            id="floods",
        ),
        pytest.param(
            {"floods": (FLOOD,)},
            "all at once",
            "1 time more than 10 in 10 min, at most 12 together",
            id="one flood",
        ),
        pytest.param(
            {"most_frequent_share": 0.941},
            "ten loudest",
            "94 % of all (in a plant 1 % to 5 %)",
            id="the ten most frequent",
        ),
        pytest.param(
            {"not_sent": {Fate.DROPPED: 2, Fate.FOLDED: 1}},
            "not gone out",
            "2 no longer true, 1 said within another",
            id="not sent",
        ),
    ],
)
def test_a_figure_in_words(changes: dict[str, object], label: str, said: str) -> None:
    titles = {1: "Tent: mist", 2: "Tub: vent"}
    assert dict(words.figures(week(**changes), titles))[label] == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("2026-W47", "16 to 22 November 2026", id="one month"),
        pytest.param("2026-W49", "30 November to 6 December 2026", id="two months"),
        pytest.param("2026-W53", "28 December 2026 to 3 January 2027", id="two years"),
    ],
)
def test_the_days_of_a_week(text: str, said: str) -> None:
    assert words.days(read(text)) == said


@pytest.mark.parametrize(
    ("changes", "silent"),
    [
        pytest.param({}, True, id="nothing"),
        pytest.param({"messages": 1}, False, id="a message"),
        pytest.param({"episodes": 1}, False, id="an episode nobody was told of"),
        pytest.param({"stale": (Stale(1, MONDAY, MINUTE),)}, False, id="one from before"),
        pytest.param({"not_sent": {Fate.DROPPED: 1}}, False, id="one that did not go out"),
    ],
)
def test_whether_there_is_anything_to_look_back_on(
    changes: dict[str, object], silent: bool
) -> None:
    assert words.silent(week(**changes)) is silent


@pytest.mark.parametrize(
    ("tiring", "said"),
    [
        pytest.param(
            TIRING,
            "14 messages, 9 raises close upon each other, 3 over before anyone could act.",
            id="all three",
        ),
        pytest.param(
            replace(TIRING, messages=1, chattering=0, fleeting=0), "1 message.", id="one message"
        ),
        pytest.param(
            replace(TIRING, messages=0, chattering=1, fleeting=0),
            "0 messages, 1 raise close upon each other.",
            id="none was told",
        ),
    ],
)
def test_how_a_reminder_tires(tiring: Tiring, said: str) -> None:
    assert words.tires(tiring) == said


HUMIDITY, CO2 = Quantity.HUMIDITY, Quantity.CO2


@pytest.mark.parametrize(
    ("option", "said"),
    [
        pytest.param(
            Suggestion(Setting.ON_DELAY, HUMIDITY, 10.0, 3.0, 9, 14),
            'For the chamber “tent” set patience.humidity.on_delay = "10 min" (now 3 min): at '
            "least 9 of its 14 raises were over by themselves before that; what lasts is told "
            "7 min later.",
            id="on-delay",
        ),
        pytest.param(
            Suggestion(Setting.ON_DELAY, HUMIDITY, 5.0, 3.0, 4, 4),
            'For the chamber “tent” set patience.humidity.on_delay = "5 min" (now 3 min): all of '
            "its 4 raises were over by themselves before that; what lasts is told 2 min later.",
            id="all of them",
        ),
        pytest.param(
            Suggestion(Setting.OFF_DELAY, CO2, 10.0, 3.0, 5, 8),
            'For the chamber “tent” set patience.co2.off_delay = "10 min" (now 3 min): at least 5 '
            "of its 8 raises followed so soon that they would have been one with the raise "
            "before.",
            id="off-delay",
        ),
        pytest.param(
            Suggestion(Setting.DEADBAND, HUMIDITY, 4.0, 2.0, 5, 8),
            "For the chamber “tent” set patience.humidity.deadband = 4 (now 2 %): before at least "
            "5 of its 8 raises the humidity had not come that far back inside; they would have "
            "been one with the raise before.",
            id="deadband",
        ),
        pytest.param(
            Suggestion(Setting.DEADBAND, CO2, 150.0, 75.0, 2, 3),
            "For the chamber “tent” set patience.co2.deadband = 150 (now 75 ppm): before at least "
            "2 of its 3 raises the CO2 had not come that far back inside; they would have been "
            "one with the raise before.",
            id="deadband of CO2",
        ),
    ],
)
def test_a_setting_that_calms(option: Suggestion, said: str) -> None:
    assert words.calmed(replace(TIRING, suggestion=option), MIST) == said


def test_a_sensor_that_may_be_silent_for_longer() -> None:
    option = Suggestion(Setting.UNHEARD_AFTER, None, 15.0, 5.0, 3, 4)
    assert words.calmed(replace(TIRING, suggestion=option), LOOK) == (
        'For the sensor “middle” set unheard_after = "15 min" (now 5 min): at least 3 of its 4 '
        "raises were silences shorter than that; a sensor that fails is told later."
    )


@pytest.mark.parametrize(
    ("tiring", "call", "parts"),
    [
        pytest.param(
            replace(TIRING, needed=9, raises=11),
            Call.MIST,
            ("No setting would help: 9 of its 11 raises wanted a hand", "More wet surface"),
            id="really dry",
        ),
        pytest.param(
            replace(TIRING, needed=1, raises=1),
            Call.VENT,
            ("its one raise wanted a hand", "More fresh air all the time"),
            id="once",
        ),
        pytest.param(
            replace(TIRING, needed=2, raises=9),
            Call.DRY_OFF,
            ("No setting would have spared enough of its 9 raises.", "Less water at a time"),
            id="nothing clear",
        ),
        pytest.param(
            replace(TIRING, needed=0, raises=0),
            Call.CHECK_SENSOR,
            ("It was raised before this week and went on", "A fresh battery"),
            id="from before",
        ),
        pytest.param(TIRING, Call.WARM, ("A warmer room",), id="cold"),
        pytest.param(TIRING, Call.COOL, ("Shade, a cooler room",), id="warm"),
    ],
)
def test_where_no_setting_would_help_it_says_what_would(
    tiring: Tiring, call: Call, parts: tuple[str, ...]
) -> None:
    said = words.calmed(tiring, replace(MIST, call=call))
    assert [part for part in parts if part not in said] == []


@pytest.mark.parametrize("call", sorted(set(Call) - TASK_CALLS))
def test_whatever_may_tire_has_something_that_would_calm_it(call: Call) -> None:
    assert words.calmed(TIRING, replace(MIST, call=call)).endswith(" would calm it.")
