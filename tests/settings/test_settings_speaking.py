"""[[notify]]: when to speak, as it is written and as it is meant."""

from datetime import UTC, datetime, time
from pathlib import Path

import pytest

from chamberwatch.core.watch.hours import EVERY_DAY, WAKING, Hours, Manner, Wake, Window
from chamberwatch.core.watch.reminder import Priority
from chamberwatch.settings import check, load
from chamberwatch.wiring.speaking import manners

LISBON = '[site]\ntimezone = "Europe/Lisbon"\n'
PHONE = '[[notify]]\nto = "json://h"\n'
TOLD = 'notify[1] "phone"'


def _written(folder: Path, text: str) -> Path:
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _manner(folder: Path, text: str) -> Manner:
    return manners(load(_written(folder, LISBON + PHONE + text), {}))["phone"]


def test_what_holds_without_a_word(tmp_path: Path) -> None:
    assert _manner(tmp_path, "") == Manner()
    assert Manner().hours == WAKING


def test_all_of_it_is_handed_on(tmp_path: Path) -> None:
    text = (
        'least = "medium"\nmost_per_hour = 3\nsummary = "7:30"\nbedtime = 22:15:00\n'
        'wake = "never"\n'
        'when = [{ days = "mon-fri", hours = "07:00-08:30" },'
        ' { hours = "22:00 \N{EN DASH} 01:00", days = "Sat, sun", least = "medium" }]\n'
        'away = [{ from = "2026-07-20", until = "2026-07-28 18:00" },'
        " { from = 2026-12-20, until = 2026-12-28T09:00:00 }]\n"
    )
    assert _manner(tmp_path, text) == Manner(
        hours=Hours(
            (
                Window(time(7), time(8, 30), frozenset(range(5))),
                Window(time(22), time(1), frozenset({5, 6}), Priority.MEDIUM),
            ),
            (
                (
                    datetime(2026, 7, 19, 23, tzinfo=UTC),
                    datetime(2026, 7, 28, 17, tzinfo=UTC),
                ),
                (datetime(2026, 12, 20, tzinfo=UTC), datetime(2026, 12, 28, 9, tzinfo=UTC)),
            ),
        ),
        least=Priority.MEDIUM,
        most_per_hour=3,
        summary=time(7, 30),
        summary_always=True,
        bedtime=time(22, 15),
        wake=Wake.NEVER,
    )


@pytest.mark.parametrize(
    ("text", "summaries", "always"),
    [
        pytest.param("", True, False, id="as it is"),
        pytest.param('summary = "none"\n', False, False, id="none"),
        pytest.param('summary = "07:30"\n', True, True, id="a time: its absence is a sign"),
        pytest.param('summary = "07:30"\nsummary_always = false\n', True, False, id="not always"),
        pytest.param("summary_always = true\n", True, True, id="always, when it opens"),
    ],
)
def test_summaries(tmp_path: Path, text: str, summaries: bool, always: bool) -> None:
    manner = _manner(tmp_path, text)
    assert (manner.summaries, manner.summary_always) == (summaries, always)


def test_no_bedtime(tmp_path: Path) -> None:
    assert not _manner(tmp_path, 'bedtime = "none"\n').foretells


@pytest.mark.parametrize(
    ("days", "meant"),
    [
        pytest.param("daily", EVERY_DAY, id="daily"),
        pytest.param("wed", {2}, id="one"),
        pytest.param("fri-mon", {4, 5, 6, 0}, id="over the weekend"),
        pytest.param("mon-wed,sat", {0, 1, 2, 5}, id="both"),
    ],
)
def test_days(tmp_path: Path, days: str, meant: set[int]) -> None:
    text = f'when = [{{ days = "{days}", hours = "00:00-24:00" }}]\n'
    (window,) = _manner(tmp_path, text).hours.windows
    assert (set(window.days), window.start, window.end) == (meant, time(0), time(0))


A_DAY = 'Write days such as "mon-fri", "sat,sun" or "daily".'
HOURS = 'Write from and to, such as "07:00-08:30"; the whole day is "00:00-24:00".'
AWAY = (
    'Write a day such as "2026-12-20", which stands for its first moment, or a local time such as '
    '"2026-12-20 18:00".'
)
A_TIME = 'Write a local time such as "07:30", or "none".'
A_LIST = 'Write a list, such as [{ days = "mon-fri", hours = "07:00-08:30" }].'


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        pytest.param(
            'when = [{ days = "mo-fr", hours = "07:00-08:30" }]',
            f'{TOLD}.when[1].days = "mo-fr": {A_DAY}',
            id="days",
        ),
        pytest.param(
            "when = [{ days = 1, hours = '07:00-08:30' }]",
            f"{TOLD}.when[1].days = 1: {A_DAY}",
            id="days as a number",
        ),
        pytest.param(
            'when = [{ days = "mon-tue-wed", hours = "07:00-08:30" }]',
            f'{TOLD}.when[1].days = "mon-tue-wed": {A_DAY}',
            id="three ends",
        ),
        *(
            pytest.param(
                f'when = [{{ hours = "{hours}" }}]',
                f'{TOLD}.when[1].hours = "{hours}": {HOURS}',
                id=hours,
            )
            for hours in ("7 to 9", "07:00", "07:00-07:00", "25:00-26:00", "24:00-07:00")
        ),
        pytest.param("when = [{}]", f"{TOLD}.when[1].hours: Add it; it is needed.", id="no hours"),
        pytest.param(
            'when = [{ hours = "07:00-08:30", least = "high" }]',
            f'{TOLD}.when[1].least = "high": Write low or medium: high priority needs no window.',
            id="a window for high",
        ),
        pytest.param(
            'when = [{ hours = "07:00-08:30", dais = "mon" }]',
            f'{TOLD}.when[1].dais = "mon": There is no such key; take it out. Did you mean days?',
            id="misspelt",
        ),
        pytest.param('when = "mon"', f'{TOLD}.when = "mon": {A_LIST}', id="no list"),
        pytest.param('when = ["mon"]', f'{TOLD}.when[1] = "mon": {A_LIST}', id="no table"),
        pytest.param(
            "when = []",
            f'{TOLD}.when = []: Name at least one, such as {{ days = "mon-fri", hours = '
            '"07:00-08:30" }; for high priority alone write least = "high" instead.',
            id="empty",
        ),
        pytest.param('least = "grave"', f'{TOLD}.least = "grave": Write low, medium or high.'),
        pytest.param('wake = "no"', f'{TOLD}.wake = "no": Write foretold, always or never.'),
        pytest.param('summary = "noon"', f'{TOLD}.summary = "noon": {A_TIME}'),
        pytest.param("bedtime = false", f"{TOLD}.bedtime = false: {A_TIME}"),
        pytest.param("most_per_hour = 0", f"{TOLD}.most_per_hour = 0: Give 1 or more."),
        pytest.param(
            'summary = "none"\nsummary_always = true',
            f"{TOLD}.summary_always = true: There is no summary to tell; take it out, or give "
            "summary a time.",
            id="always none",
        ),
        pytest.param(
            'away = [{ from = "soon", until = 2026-12-28 }]',
            f'{TOLD}.away[1].from = "soon": {AWAY}',
            id="away from soon",
        ),
        pytest.param(
            "away = [{ from = 2026-12-20, until = 2026-12-28T10:00:00Z }]",
            f'{TOLD}.away[1].until = "2026-12-28 10:00:00+00:00": {AWAY}',
            id="away until another zone",
        ),
        pytest.param(
            "away = [{ from = 2026-12-28, until = 2026-12-20 }]",
            f"{TOLD}.away[1]: until is not after from; swap them, or take a later day.",
            id="away backwards",
        ),
        pytest.param(
            "away = [{ frm = 2026-12-20, until = 2026-12-28 }]",
            f'{TOLD}.away[1].frm = "2026-12-20": There is no such key; take it out. Did you mean '
            "from?",
            id="away misspelt",
        ),
    ],
)
def test_faults_name_the_key_and_the_cure(tmp_path: Path, text: str, fault: str) -> None:
    path = _written(tmp_path, PHONE + f'name = "phone"\n{text}\n')
    lines = [str(each).removeprefix(f"{path}: ") for each in check(path, {})]
    assert lines[0] == fault if "frm" not in text else fault in lines


def test_a_misspelt_address_is_not_shown(tmp_path: Path) -> None:
    path = _written(tmp_path, PHONE + 'too = "json://secret"\n')
    assert "secret" not in "".join(map(str, check(path, {})))
