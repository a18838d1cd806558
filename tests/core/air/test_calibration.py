"""Checks of sensors against published values."""

import csv
from math import exp, hypot
from pathlib import Path

import pytest

from chamberwatch.core.air.calibration import (
    NAMES,
    STEPS,
    TABLE,
    TEMPERATURES_C,
    Salt,
    SaltReading,
    fixed_point,
    fresh_air_line,
    humidity_line,
    pressure_factor,
    reference_line,
    salts_at,
)
from chamberwatch.core.air.psychrometrics import pressure_at_altitude_pa
from chamberwatch.core.errors import RefusedError

REFERENCE = Path(__file__).parents[2] / "reference" / "saturated-salts.csv"


def published() -> list[tuple[str, float, float, float]]:
    lines = [
        line
        for line in REFERENCE.read_text(encoding="utf-8").splitlines()
        if not line.startswith("#")
    ]
    return [
        (row["salt"], float(row["t_c"]), float(row["rh_pct"]), float(row["uncertainty_pct"]))
        for row in csv.DictReader(lines)
    ]


# Greenspan 1977, Table 2: second decimals and uncertainties from memory (the file says for each
# row what it was checked against).
@pytest.mark.parametrize(
    ("salt", "t_c", "humidity_pct", "plus_minus_pct"),
    [pytest.param(*row, id=f"{row[0]}-{row[1]:.0f}C") for row in published()],
)
def test_greenspan(salt: str, t_c: float, humidity_pct: float, plus_minus_pct: float) -> None:
    point = fixed_point(Salt(salt), t_c)
    assert point.humidity_pct == pytest.approx(humidity_pct, abs=1e-9)
    assert point.plus_minus_pct == pytest.approx(plus_minus_pct, abs=1e-9)


def test_the_table_is_the_published_one_and_no_more() -> None:
    assert len(published()) == sum(map(len, TABLE.values())) == 41
    assert set(TABLE) == set(Salt) == set(NAMES)


# CRC Handbook, Wexler, "Constant humidity solutions": RH = A exp(B/T), T in K, within 2 %RH.
# LiCl (14.53, -75) holds from 20 °C on.
CRC = {
    Salt.NACL: (69.20, 25.0),
    Salt.KCL: (49.38, 159.0),
    Salt.K2SO4: (86.75, 34.0),
    Salt.MGCL2: (29.26, 34.0),
    Salt.NABR: (20.49, 308.0),
    Salt.LICL: (14.53, -75.0),
}


@pytest.mark.parametrize(
    ("salt", "t_c"),
    [
        pytest.param(salt, float(t_c), id=f"{salt}-{t_c}C")
        for salt in CRC
        for t_c in range(10, 36, 5)
        if salt is not Salt.LICL or t_c >= 20
    ],
)
def test_short_formula(salt: Salt, t_c: float) -> None:
    a, b = CRC[salt]
    assert fixed_point(salt, t_c).humidity_pct == pytest.approx(
        a * exp(b / (t_c + 273.15)), abs=2.0
    )


def test_between_the_points_of_the_table() -> None:
    # Straight lines: 20.4 °C lies 0.08 of the way from 75.47 to 75.29.
    assert fixed_point(Salt.NACL, 20.4).humidity_pct == pytest.approx(75.4556, abs=1e-9)
    assert fixed_point(Salt.NACL, 20.4).plus_minus_pct == pytest.approx(0.1384, abs=1e-9)


@pytest.mark.parametrize(
    ("salt", "t_c", "words"),
    [
        pytest.param(Salt.NACL, 9.9, "from 10 to 35 °C, not at 9.9", id="cold"),
        pytest.param(Salt.NACL, 35.1, "from 10 to 35 °C, not at 35.1", id="hot"),
        pytest.param(Salt.K2CO3, 31.0, "from 10 to 30 °C, not at 31", id="a-shorter-table"),
        pytest.param(Salt.KCL, float("nan"), "not at nan", id="no-number"),
    ],
)
def test_outside_the_table(salt: Salt, t_c: float, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        fixed_point(salt, t_c)


def test_salts_at_a_temperature() -> None:
    assert list(salts_at(20.0)) == list(Salt)
    assert Salt.K2CO3 not in salts_at(32.0)
    assert salts_at(TEMPERATURES_C[-1])[Salt.KCL].humidity_pct == 82.95
    with pytest.raises(RefusedError, match="about 20 °C"):
        salts_at(5.0)


def test_the_steps_say_what_spoils_a_check() -> None:
    words = " ".join(STEPS)
    for said in ("slush", "clear solution", "sealed", "hour", "One degree"):
        assert said in words


# ------------------------------------------------------------------ lines


def test_one_salt_gives_an_offset() -> None:
    line = humidity_line([SaltReading(Salt.NACL, 20.0, 77.1)])
    assert line.slope == 1.0
    assert line.offset == pytest.approx(75.47 - 77.1, abs=1e-9)
    assert line.worth(77.1) == pytest.approx(75.47, abs=1e-9)
    # The ± of the salt and that of the sensor's scatter, taken together; the same everywhere.
    assert line.plus_minus(77.1) == line.plus_minus(90.0) == hypot(0.14, 0.5)


@pytest.mark.parametrize("turned", [False, True], ids=["low-first", "high-first"])
def test_two_salts_give_slope_and_offset(turned: bool) -> None:
    low = SaltReading(Salt.NACL, 25.0, 77.0, 0.3)
    high = SaltReading(Salt.KCL, 25.0, 87.0, 0.4)
    line = humidity_line([high, low] if turned else [low, high])
    assert line.slope == pytest.approx((84.34 - 75.29) / 10.0, abs=1e-9)
    assert line.worth(77.0) == pytest.approx(75.29, abs=1e-9)
    assert line.worth(87.0) == pytest.approx(84.34, abs=1e-9)
    assert line.plus_minus(77.0) == pytest.approx(hypot(0.12, 0.3), abs=1e-12)
    assert line.plus_minus(87.0) == pytest.approx(hypot(0.26, 0.4), abs=1e-12)
    # Half-way both errors count by half; far outside they grow.
    assert line.plus_minus(82.0) == pytest.approx(
        hypot(hypot(0.12, 0.3), hypot(0.26, 0.4)) / 2.0, abs=1e-12
    )
    assert line.plus_minus(50.0) > 1.5


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        pytest.param([], "one salt, or above two", id="none"),
        pytest.param([SaltReading(Salt.NACL, 20.0, 75.0)] * 3, "one salt, or above two", id="3"),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 90.5)], "should say 75.5 %, and says 90.5", id="15-high"
        ),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 60.0)], "wet slush and not a clear", id="15-low"
        ),
        pytest.param([SaltReading(Salt.NACL, 20.0, float("nan"))], "says nan", id="no-number"),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 75.0), SaltReading(Salt.NACL, 25.0, 76.0)],
            "too close together",
            id="the-same-twice",
        ),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 75.0), SaltReading(Salt.KCL, 20.0, 75.0)],
            "which is too far from the truth for a slope",
            id="no-rise",
        ),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 80.0), SaltReading(Salt.KCL, 20.0, 75.0)],
            "from 80 to 75 %, which is too far",
            id="falling",
        ),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 75.0), SaltReading(Salt.KCL, 20.0, 82.6)],
            "keep to one salt",
            id="too-steep",
        ),
        pytest.param(
            [SaltReading(Salt.NACL, 20.0, 75.0), SaltReading(Salt.KCL, 20.0, 87.2)],
            "keep to one salt",
            id="too-flat",
        ),
    ],
)
def test_a_check_that_cannot_be_right(readings: list[SaltReading], words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        humidity_line(readings)


@pytest.mark.parametrize(
    ("altitude_m", "factor"),
    # Ideal gas with the standard atmosphere of ASHRAE 2017 ch. 1 (84 555.9 and 95 460.8 Pa).
    [pytest.param(1500.0, 1.198, id="1500m"), pytest.param(500.0, 1.061, id="500m")],
)
def test_altitude(altitude_m: float, factor: float) -> None:
    assert pressure_factor(pressure_at_altitude_pa(altitude_m)) == pytest.approx(factor, abs=5e-4)


def test_uncorrected_at_1500_m() -> None:
    # 1000 ppm read about 835.
    assert 1000.0 / pressure_factor(pressure_at_altitude_pa(1500.0)) == pytest.approx(
        835.0, abs=1.0
    )
    assert pressure_factor(101_325.0) == 1.0


def test_fresh_air() -> None:
    line = fresh_air_line(512.0, 430.0)
    assert (line.slope, line.offset) == (1.0, -82.0)
    assert line.plus_minus(1000.0) == 35.0


def test_reference_thermometer() -> None:
    line = reference_line(20.6, 20.0, 0.2)
    assert line.slope == 1.0
    assert line.offset == pytest.approx(-0.6, abs=1e-12)
    assert line.plus_minus(30.0) == 0.2


@pytest.mark.parametrize(
    ("read", "fresh", "words"),
    [
        pytest.param(731.0, 430.0, "wide open window", id="too-high"),
        pytest.param(100.0, 430.0, "out of anybody's breath", id="too-low"),
        pytest.param(float("nan"), 430.0, "says nan", id="no-number"),
        pytest.param(450.0, 350.0, "380 to 600 ppm, not 350", id="air-of-long-ago"),
        pytest.param(700.0, 700.0, "380 to 600 ppm, not 700", id="a-room"),
    ],
)
def test_fresh_air_that_cannot_be_right(read: float, fresh: float, words: str) -> None:
    with pytest.raises(RefusedError, match=words):
        fresh_air_line(read, fresh)


@pytest.mark.parametrize(
    ("read", "reference"),
    [
        pytest.param(68.0, 20.0, id="fahrenheit"),
        pytest.param(14.9, 20.0, id="too-low"),
        pytest.param(float("nan"), 20.0, id="no-number"),
    ],
)
def test_thermometers_that_differ_too_much(read: float, reference: float) -> None:
    with pytest.raises(RefusedError, match="side by side"):
        reference_line(read, reference, 0.2)
