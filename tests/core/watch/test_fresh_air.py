"""What the CO2 of a record teaches: fits, calm stretches, ventings, and fans among them."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta
from typing import Final

import pytest

from chamberwatch.core.air.figure import Figure, Origin
from chamberwatch.core.air.knowledge import Knowledge, assumed
from chamberwatch.core.air.vent import co2_after_ppm, rise_ppm_per_h
from chamberwatch.core.watch.device import NO_DEVICES, Supply
from chamberwatch.core.watch.found import Exchange, Found
from chamberwatch.core.watch.fresh_air import FITS, VENTINGS, closed_leak, source, vents_per_h
from chamberwatch.core.watch.lessons import knowledge_from
from chamberwatch.core.watch.record import Stood
from tests.core.watch.records import KNOWN, fit, misting, record, stood, venting

# ------------------------------------------------------------ leakage


def hour(fans_per_h: Callable[[int], float], numbers: Iterable[int] = range(60)) -> list[Stood]:
    """Return the hour of a fit, with what fans gave each minute."""
    return [stood(number, supply=Supply(fans_per_h(number))) for number in numbers]


@pytest.mark.parametrize(
    ("fits", "fans_per_h", "value", "low", "high"),
    [
        pytest.param([fit(1.0, 0.8, 1.3)], 0.0, 1.0, 0.549, 1.822, id="one: 0.3 either way"),
        pytest.param([fit(1.0, 0.8, 1.3)] * 8, 0.0, 1.0, 0.8, 1.3, id="no surer than each"),
        pytest.param([fit(1.0)] * 8, 0.0, 1.0, 0.905, 1.105, id="no intervals: a tenth"),
        pytest.param([fit(3.0, 2.5, 3.5)] * 8, 2.0, 1.0, 0.5, 1.5, id="less what fans give"),
        pytest.param([fit(1.0, 0.5, 1.5)] * 8, 2.0, 0.02, 0.0181, 0.0221, id="fans overstated"),
    ],
)
def test_closed_leak(
    fits: list[Exchange], fans_per_h: float, value: float, low: float, high: float
) -> None:
    minutes = hour(lambda _: fans_per_h)
    found = closed_leak(record(minutes, exchanges=fits), KNOWN.leak_per_h)
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((value, low, high), abs=0.001)
    assert found.origin is Origin.MEASURED


@pytest.mark.parametrize(
    ("minutes", "value"),
    [
        pytest.param([], 3.0, id="no record, no fans"),
        pytest.param(hour(lambda _: 0.0), 3.0, id="no fans"),
        pytest.param(hour(lambda _: 2.0), 1.0, id="on all the time"),
        pytest.param(hour(lambda k: 2.0 if k < 30 else 0.0), None, id="switched off halfway"),
        pytest.param(hour(lambda k: 2.0 if k == 59 else 0.0), None, id="on in its last minute"),
        pytest.param(
            hour(lambda k: 2.0 if k >= 60 else 0.0, range(90)), 3.0, id="on only after it"
        ),
        pytest.param(
            hour(lambda k: 0.0 if k >= 0 else 2.0, range(-30, 60)), 3.0, id="off just before it"
        ),
        pytest.param(
            hour(lambda _: 2.0, range(90, 120)), None, id="not remembered, and there are fans"
        ),
        pytest.param(hour(lambda _: 0.0, range(90, 120)), 3.0, id="not remembered, no fans"),
    ],
)
def test_a_fit_tells_of_leakage_where_fans_were_steady(
    minutes: list[Stood], value: float | None
) -> None:
    found = closed_leak(record(minutes, exchanges=[fit(3.0, 2.5, 3.5)]), KNOWN.leak_per_h)
    assert (found.value if found else None) == (None if value is None else pytest.approx(value))


def test_fits_of_which_fans_are_known_are_kept_beside_others() -> None:
    later = replace(fit(9.0), start=fit(9.0).end, end=fit(9.0).end + timedelta(hours=1))
    minutes = hour(lambda k: 2.0 if k < 90 else 0.0, range(120))
    found = closed_leak(record(minutes, exchanges=[fit(3.0), later]), KNOWN.leak_per_h)
    assert found is not None
    assert found.value == pytest.approx(1.0)
    assert found.count == 1


def test_closed_leak_takes_only_late_closed_fits_that_held() -> None:
    old = [fit(9.0, 8.0, 10.0)] * 3
    late = [fit(1.0, 0.9, 1.1)] * FITS
    taken = [*old, fit(30.0, vented=True), fit(None), *late]
    found = closed_leak(record(exchanges=taken), KNOWN.leak_per_h)
    assert found is not None
    assert found.value == pytest.approx(1.0)
    assert found.count == FITS
    assert closed_leak(record(exchanges=[fit(None)]), KNOWN.leak_per_h) is None


# ------------------------------------------------------------ the source, from fits


@pytest.mark.parametrize(
    ("fits", "expected"),
    [
        pytest.param([], None, id="none"),
        pytest.param([fit(1.0, source_g_per_h=0.0)], 0.001, id="hardly anything given off"),
        pytest.param([fit(9.0, vented=True, source_g_per_h=0.3)], None, id="while open"),
        pytest.param([fit(1.0, source_g_per_h=0.3)], 0.3, id="one"),
        pytest.param(
            [fit(1.0, source_g_per_h=9.0)] * 4 + [fit(1.0, source_g_per_h=0.3)] * 4,
            0.3,
            id="the crop grows: the latest",
        ),
    ],
)
def test_source_from_fits(fits: list[Exchange], expected: float | None) -> None:
    found = source(record(exchanges=fits), KNOWN)
    assert (found.value if found else None) == (
        None if expected is None else pytest.approx(expected)
    )


def test_a_source_is_no_surer_than_the_air_changes_behind_it() -> None:
    fits = [fit(1.0, 0.7, 1.5, source_g_per_h=0.3)] * 4
    leak = Figure(1.0, 0.7, 1.5, Origin.MEASURED, 4)
    found = source(record(exchanges=fits), replace(KNOWN, leak_per_h=leak))
    assert found is not None
    assert (found.low, found.high) == pytest.approx((0.3 * 0.7, 0.3 * 1.5))
    stated = source(record(exchanges=fits), KNOWN)
    assert stated is not None
    assert (stated.low, stated.high) == pytest.approx((0.3 / 1.105, 0.3 * 1.105), rel=1e-3)


# ------------------------------------------------------------ the source, from calm stretches


def breathed(
    g_per_h: float,
    known: Knowledge = KNOWN,
    start_ppm: float | None = None,
    fans_per_h: Callable[[int], float] = lambda _: 0.0,
    numbers: Iterable[int] = range(181),
) -> list[Stood]:
    """Return minutes of a tent at 20 °C in a room at 450 ppm; steady unless it says where from."""
    rise = rise_ppm_per_h(g_per_h, known.volume_m3)
    ppm = 450.0 + rise / known.leak_per_h.value if start_ppm is None else start_ppm
    minutes = []
    for number in numbers:
        fans = fans_per_h(number)
        gives = Supply(fans) if fans else NO_DEVICES
        minutes.append(stood(number, co2=ppm, room_co2=450.0, supply=gives))
        ppm = co2_after_ppm(ppm, 450.0, rise, known.leak_per_h.value + fans, 1 / 60)
    return minutes


@pytest.mark.parametrize(
    ("minutes", "within"),
    [
        pytest.param(breathed(0.6), 0.02, id="steady"),
        pytest.param(breathed(0.6, start_ppm=450.0), 0.02, id="rising"),
        pytest.param(breathed(0.6, start_ppm=2500.0), 0.02, id="falling after a night"),
        pytest.param(breathed(0.6, fans_per_h=lambda _: 3.0), 0.02, id="a fan on"),
        pytest.param(
            breathed(0.6, fans_per_h=lambda k: 6.0 if k % 30 < 15 else 0.0),
            0.05,
            id="a fan half the time",
        ),
        pytest.param(
            breathed(0.6, fans_per_h=lambda k: 20.0 if k % 30 < 5 else 0.0),
            0.03,
            id="a fan on for five minutes of each half hour",
        ),
        pytest.param(
            breathed(0.6, start_ppm=450.0, numbers=range(200))[::5], 0.02, id="a slow sensor"
        ),
    ],
)
def test_source_from_the_balance(minutes: list[Stood], within: float) -> None:
    """0.6 g/h in 0.5 m3 at 1 /h: V (dC/dt + N (C - C_room)), ASTM D6245 (from memory)."""
    found = source(record(minutes), KNOWN)
    assert found is not None
    assert found.value == pytest.approx(0.6, rel=within)
    assert found.origin is Origin.MEASURED


@pytest.mark.parametrize("volume_m3", [0.05, 4.0])
@pytest.mark.parametrize("leak_per_h", [0.5, 3.0])
def test_source_in_other_chambers(volume_m3: float, leak_per_h: float) -> None:
    known = assumed(volume_m3, leak_per_h)
    found = source(record(breathed(0.2, known)), known)
    assert found is not None
    assert found.value == pytest.approx(0.2, rel=0.02)


def test_what_a_venting_stirred_is_left_out() -> None:
    """From 1550 ppm down to 600 in ten minutes, and slowly up again: still 0.6 g/h."""
    rise = rise_ppm_per_h(0.6, 0.5)
    calm, ppm, minutes = 450.0 + rise, 450.0 + rise, []
    for number in range(400):
        minutes.append(stood(number, co2=ppm, room_co2=450.0))
        ppm = co2_after_ppm(ppm, 450.0, rise, 13.0 if 200 <= number < 210 else 1.0, 1 / 60)
    vent = venting(200, 210, calm, 600.0)
    found = source(record(minutes, [vent, misting(100, 103)]), KNOWN)
    assert found is not None
    assert found.value == pytest.approx(0.6, rel=0.02)
    # 200 to 210 and eight minutes around it: twelve windows of 16 minutes before, 11 after.
    assert found.count == 12 + 11
    only = source(record(minutes[186:], [vent]), KNOWN)
    assert only is not None
    assert only.value == pytest.approx(0.6, rel=0.02)


def test_a_slow_sensor_hides_what_a_fan_that_switches_carried_off() -> None:
    """Of its ten minutes in each quarter of an hour a reading every five minutes sees but two."""
    switched = breathed(
        0.6, fans_per_h=lambda k: 20.0 if k % 15 < 10 else 0.0, numbers=range(1000)
    )
    assert source(record(switched), KNOWN) is not None
    assert source(record(switched[::5]), KNOWN) is None
    steady = breathed(0.6, fans_per_h=lambda _: 3.0, numbers=range(1000))
    assert source(record(steady[::5]), KNOWN) is not None


def test_a_window_that_a_gap_breaks_is_left_out() -> None:
    """A sensor silent for a quarter of an hour from 12:50: what began before it doesn't count."""
    minutes = [s for k, s in enumerate(breathed(0.6, numbers=range(200))) if not 50 <= k < 65]
    found = source(record(minutes), KNOWN)
    assert found is not None
    assert found.value == pytest.approx(0.6, rel=0.02)
    # 0 to 47 before; 65 to 192: eight, each of 16 minutes.
    assert found.count == 3 + 8


@pytest.mark.parametrize("which", ["co2_ppm", "room_co2_ppm"])
def test_both_sensors_must_speak(which: str) -> None:
    minutes = [
        replace(s, minute=replace(s.minute, **{which: None})) if k % 15 == 10 else s  # type: ignore[arg-type]
        for k, s in enumerate(breathed(0.6, numbers=range(600)))
    ]
    assert source(record(minutes), KNOWN) is None


@pytest.mark.parametrize(
    ("length", "count"),
    [
        pytest.param(0, None, id="none"),
        pytest.param(63, None, id="three"),
        pytest.param(64, 4, id="four"),
        pytest.param(16 * 60, 40, id="the last forty"),
    ],
)
def test_fewer_than_four_windows_say_nothing(length: int, count: int | None) -> None:
    found = source(record(breathed(0.6, numbers=range(length))), KNOWN)
    assert (found.count if found else None) == count


def test_a_fit_speaks_before_the_balance() -> None:
    found = source(record(breathed(0.6), exchanges=[fit(1.0, source_g_per_h=0.3)]), KNOWN)
    assert found is not None
    assert found.value == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("leak", "low", "high", "origin"),
    [
        pytest.param(
            Figure(1.0, 0.5, 2.0, Origin.MEASURED, 4), 0.3, 1.2, Origin.MEASURED, id="measured"
        ),
        pytest.param(Figure.assumed(1.0, 0.5, 3.0), 0.3, 1.8, Origin.ASSUMED, id="assumed"),
        pytest.param(Figure.declared(1.0), 0.54, 0.66, Origin.MEASURED, id="stated: a tenth"),
    ],
)
def test_its_interval_is_that_of_the_leakage(
    leak: Figure, low: float, high: float, origin: Origin
) -> None:
    """Steady, what is given off is what fresh air carries off, so both are off alike."""
    found = source(record(breathed(0.6)), replace(KNOWN, leak_per_h=leak))
    assert found is not None
    assert (found.low, found.value, found.high) == pytest.approx((low, 0.6, high), rel=0.02)
    assert found.origin is origin


def test_below_the_co2_of_the_room_the_interval_is_still_in_order() -> None:
    """Two sensors 100 ppm apart: a faster leak would mean less given off, not more."""
    leak = Figure.assumed(1.0, 0.5, 3.0)
    minutes = [
        stood(number, co2=350.0 + 2.0 * number / 6, room_co2=520.0) for number in range(181)
    ]
    found = source(record(minutes), replace(KNOWN, leak_per_h=leak))
    assert found is not None
    assert 0.0 <= found.low <= found.value <= found.high


def test_less_than_nothing_is_nothing() -> None:
    minutes = [stood(number, co2=430.0, room_co2=450.0) for number in range(181)]
    found = source(record(minutes), KNOWN)
    assert found is not None
    assert (found.value, found.low, found.high) == (0.0, 0.0, 0.0)


def test_noise_of_a_home_sensor_moves_it_little() -> None:
    """CO2 that sways by 15 ppm, out of step with the windows: within a tenth over a day."""
    minutes = [
        replace(
            s,
            minute=replace(s.minute, co2_ppm=(s.minute.co2_ppm or 0.0) + 15.0 * math.sin(k * 2.4)),
        )
        for k, s in enumerate(breathed(0.6, numbers=range(24 * 60)))
    ]
    found = source(record(minutes), KNOWN)
    assert found is not None
    assert found.value == pytest.approx(0.6, rel=0.1)


def test_a_chamber_learns_its_source_with_the_leakage_it_learnt() -> None:
    known = assumed(0.5, 2.0)
    minutes = breathed(0.6, known)
    learnt = knowledge_from(record(minutes, exchanges=[fit(2.0, 1.8, 2.2)] * 8), assumed(0.5), ())
    assert learnt.source_g_per_h is not None
    assert learnt.source_g_per_h.value == pytest.approx(0.6, rel=0.02)
    assert learnt.source_g_per_h.origin is Origin.MEASURED


# ------------------------------------------------------------ ventings

ROOM_AT_450: Final = [stood(number, room_co2=450.0) for number in range(-5, 5)]


@pytest.mark.parametrize(
    ("vents", "minutes", "leak_per_h", "expected"),
    [
        pytest.param([venting(0, 10, 2500, 1000)], ROOM_AT_450, 1.0, [6.89], id="worked"),
        pytest.param(
            [replace(venting(0, 4, 2500, 1000), amount=10.0)],
            ROOM_AT_450,
            1.0,
            [6.89],
            id="as long as noted",
        ),
        pytest.param([venting(0, 10, 2500, 1000)], ROOM_AT_450, 9.0, [], id="less than leakage"),
        pytest.param([venting(0, 0, 2500, 1000)], ROOM_AT_450, 1.0, [], id="no time"),
        pytest.param([venting(0, 10, 1000, 2500)], ROOM_AT_450, 1.0, [], id="it rose"),
        pytest.param([venting(0, 10, 2500, 1000)], [], 1.0, [], id="inlet not known"),
        pytest.param(
            [venting(90, 100, 2500, 1000)], ROOM_AT_450, 1.0, [], id="inlet not known by then"
        ),
        pytest.param([misting(0, 3)], ROOM_AT_450, 1.0, [], id="a misting"),
        pytest.param(
            [replace(venting(0, 10, 2500, 1000), co2_after_ppm=None)],
            ROOM_AT_450,
            1.0,
            [],
            id="CO2 not seen",
        ),
        pytest.param(
            [replace(venting(0, 10, 2500, 1000), co2_before_ppm=None)],
            ROOM_AT_450,
            1.0,
            [],
            id="CO2 not seen before",
        ),
        pytest.param(
            [venting(0, 10, 2500, 1000)] * (VENTINGS + 3),
            ROOM_AT_450,
            1.0,
            [6.89] * VENTINGS,
            id="the latest",
        ),
    ],
)
def test_vents(
    vents: list[Found], minutes: list[Stood], leak_per_h: float, expected: list[float]
) -> None:
    """2500 to 1000 ppm in ten minutes, inlet 450: 7.89 /h (ASTM E741, equation from memory)."""
    assert vents_per_h(record(minutes, vents), leak_per_h) == pytest.approx(expected, abs=0.01)


def test_a_fan_that_was_on_is_no_venting() -> None:
    """2500 to 1000 ppm in ten minutes is 7.89 /h, of which a fan gave 3 and leakage 1."""
    minutes = [stood(number, room_co2=450.0, supply=Supply(3.0)) for number in range(-5, 15)]
    vent = venting(0, 10, 2500, 1000)
    assert vents_per_h(record(minutes, [vent]), 1.0) == pytest.approx([3.89], abs=0.01)
    assert vents_per_h(record(minutes, [vent]), 5.0) == []
    far = [stood(number, room_co2=450.0, supply=Supply(3.0)) for number in range(-30, -10)]
    assert vents_per_h(record(far, [vent]), 1.0) == pytest.approx([6.89], abs=0.01)


@pytest.mark.parametrize("minutes", [5, 20])
@pytest.mark.parametrize("per_h", [6.0, 12.0, 25.0])
def test_what_the_crop_adds_while_it_is_vented_counts(per_h: float, minutes: int) -> None:
    """0.6 g/h in 0.5 m3 raise 656 ppm/h; without them a long venting looks too slow."""
    rise = rise_ppm_per_h(0.6, 0.5)
    after = co2_after_ppm(2500.0, 450.0, rise, per_h + 1.0, minutes / 60)
    taken = record([stood(0, room_co2=450.0)], [venting(0, minutes, 2500.0, after)])
    assert vents_per_h(taken, 1.0, rise) == pytest.approx([per_h], rel=1e-3)
    (slower,) = vents_per_h(taken, 1.0)
    assert slower < per_h
