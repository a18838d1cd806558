"""A wetted sensor told from air that may well be saturated."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from chamberwatch.core.growing.band import Band, Stage
from chamberwatch.core.growing.wants import Following, Limits
from chamberwatch.core.watch.chamber import House
from chamberwatch.core.watch.device import Device, Kind
from chamberwatch.core.watch.doubt import Doubted
from chamberwatch.core.watch.lately import Seen, Series, Track
from chamberwatch.core.watch.pinned import pinned
from chamberwatch.core.watch.reading import Quantity, Reading
from chamberwatch.core.watch.suspect import examine
from chamberwatch.service.tracing import Trace
from tests.make import at, house

T, RH = Quantity.TEMPERATURE, Quantity.HUMIDITY

HIT = 120
"""The minute in which a misting hits the sensor."""

HOME = house()

Course = Callable[[int], float | None]
"""What a sensor reads in each minute, None where it says nothing."""


@dataclass(frozen=True)
class Scene:
    """Two hours, a misting, and some minutes more."""

    middle: Course
    top: Course | None = None
    warmth: Course = lambda _: 18.0
    until: int = HIT + 20
    home: House = HOME
    silent: frozenset[str] = frozenset()
    doubted: frozenset[str] = frozenset()

    def seen(self) -> Seen:
        told: dict[Series, Course] = {("middle", RH): self.middle, ("middle", T): self.warmth}
        if self.top is not None:
            told["top", RH] = self.top
        tracks = {key: track for key, c in told.items() if (track := self._track(key, c))}
        return Seen(at(self.until), tracks, self.silent, self.doubted)

    def _track(self, series: Series, course: Course) -> Track | None:
        trace: Trace | None = None
        for minute in range(self.until + 1):
            value = course(minute)
            if value is None:
                continue
            reading = Reading(at(minute), *series, value)
            if trace is None:
                trace = Trace(reading)
            else:
                trace.take(reading)
        return None if trace is None else trace.track()

    def found(self) -> str | None:
        seen, sensor = self.seen(), self.home.sensors["middle"]
        track = seen.tracks["middle", RH]
        return pinned(self.home, sensor, track, self.home.sensors_in("tent"), seen)


def leap(before: float = 82.0, after: float = 99.5) -> Callable[[int], float]:
    return lambda minute: before if minute < HIT else after


def misted(minute: int) -> float:
    """Air that a misting brought to saturation, and that comes down again."""
    return 82.0 if minute < HIT else max(99.8 - 0.1 * (minute - HIT), 94.0)


def slowly(minute: int) -> float:
    """Air that came up to saturation in half an hour, as wet walls have it."""
    return min(82.0 + max(minute - HIT + 30, 0) * 17.5 / 30.0, 99.5)


def vented_before(minute: int) -> float:
    """A tight chamber at saturation that was vented and then misted."""
    return 84.0 if HIT - 15 <= minute < HIT else 99.4


def misted_earlier(minute: int) -> float:
    """A chamber that was misted to saturation an hour before, and came down within minutes."""
    return 99.6 if 60 <= minute < 70 else leap()(minute)


def woken(minute: int) -> float | None:
    return None if HIT - 30 <= minute < HIT else leap()(minute)


def begun_lately(minute: int) -> float | None:
    return None if minute < HIT - 50 else leap()(minute)


def begun_just_now(minute: int) -> float | None:
    return None if minute < HIT - 5 else leap()(minute)


def in_two_steps(minute: int) -> float:
    return 82.0 if minute < HIT - 3 else 96.0 if minute < HIT else 99.5


def coming_in_fives(minute: int) -> float | None:
    return None if minute % 5 else leap()(minute)


def cooled(minute: int) -> float:
    return 18.0 - 0.08 * max(minute - HIT, 0)


def cooled_by_the_mist(minute: int) -> float:
    return 18.0 if minute < HIT else min(17.0 + 0.1 * (minute - HIT), 18.0)


def colder_long_before(minute: int) -> float:
    return 22.0 if minute < HIT - 10 else 18.0


def growing(stage: Stage | None) -> House:
    plain = house()
    return replace(plain, chambers={"tent": replace(plain.chambers["tent"], stage=stage)})


def wanting(high_pct: float | None) -> House:
    """Return a house in whose tent something grows that bears so much. [%]."""
    plain, limits = house(), Limits(Band(90.0, high_pct))
    tent = replace(plain.chambers["tent"], following=Following({RH.value: limits}))
    return replace(plain, chambers={"tent": tent})


DRIER = "it leapt from 82 to 99.5 % and stays there, while top says 90 %"
ALONE = "it leapt from 82 to 99.5 % and stays there, where misted air would have come down by now"


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        pytest.param(Scene(leap()), ALONE, id="twenty minutes after a leap"),
        pytest.param(Scene(leap(), until=HIT + 19), None, id="not yet twenty minutes"),
        pytest.param(Scene(leap(), until=HIT - 1), None, id="not at saturation"),
        pytest.param(Scene(misted), None, id="air that was misted to saturation comes down"),
        pytest.param(Scene(leap(after=98.5)), None, id="below saturation"),
        pytest.param(Scene(in_two_steps), ALONE, id="misted in two goes"),
        pytest.param(Scene(coming_in_fives), ALONE, id="told of every five minutes"),
        pytest.param(Scene(slowly, until=HIT + 30), None, id="slowly up to saturation"),
        pytest.param(Scene(leap(before=95.5)), None, id="from near saturation"),
        pytest.param(Scene(vented_before), None, id="a tight chamber between two vents"),
        pytest.param(Scene(misted_earlier), ALONE, id="an honest peak an hour before"),
        pytest.param(Scene(woken), None, id="silent before the leap"),
        pytest.param(Scene(begun_lately), None, id="heard for less than an hour before"),
        pytest.param(Scene(begun_just_now), None, id="heard for minutes before"),
        pytest.param(Scene(leap(), warmth=cooled), None, id="it has become colder since"),
        pytest.param(Scene(leap(), warmth=cooled_by_the_mist), ALONE, id="cooled by the mist"),
        pytest.param(Scene(leap(), warmth=colder_long_before), ALONE, id="colder long before"),
        pytest.param(Scene(leap(), warmth=lambda _: None), ALONE, id="no temperature"),
        pytest.param(Scene(leap(), leap(81.0, 98.0)), None, id="the other says the same"),
        pytest.param(Scene(leap(), lambda _: 90.0), DRIER, id="the other says less"),
        pytest.param(
            Scene(leap(), lambda m: 98.0 if m < HIT else None),
            ALONE,
            id="the other has not been heard since",
        ),
        pytest.param(
            Scene(leap(), leap(), silent=frozenset({"top"})), ALONE, id="the other is silent"
        ),
        pytest.param(
            Scene(leap(), leap(), doubted=frozenset({"top"})), ALONE, id="the other is in doubt"
        ),
        pytest.param(
            Scene(leap(), home=growing(Stage.COLONISATION)), None, id="humidity not judged"
        ),
        pytest.param(
            Scene(leap(), lambda _: 90.0, home=growing(Stage.COLONISATION)),
            DRIER,
            id="humidity not judged, but another says less",
        ),
        pytest.param(Scene(leap(), home=growing(None)), None, id="a room"),
        pytest.param(Scene(leap(), home=wanting(96.5)), ALONE, id="a band that ends below"),
        pytest.param(Scene(leap(), home=wanting(100.0)), None, id="pins want saturated air"),
        pytest.param(Scene(leap(), home=wanting(None)), None, id="as damp as may be"),
    ],
)
def test_pinned(scene: Scene, words: str | None) -> None:
    assert scene.found() == words


def test_the_words_say_how_it_dries_and_since_when() -> None:
    scene = Scene(leap())
    found = examine(scene.home, scene.home.sensors_in("tent"), scene.seen())
    finding = found["middle", Doubted.WET, RH]
    assert (finding.bad, finding.since, finding.quantities) == (True, at(HIT), frozenset({RH}))
    assert finding.words == (
        f"middle may be wet: {ALONE}. Take it out and let it dry in room air for an hour. Left in "
        "the chamber it dries by itself in an hour or two, more slowly in still air. Hang it "
        "where no mist reaches it."
    )


def test_a_venting_that_it_stayed_through_speaks_first() -> None:
    scene = Scene(leap())
    seen = replace(scene.seen(), vented={"tent": at(HIT + 1)})
    found = examine(scene.home, scene.home.sensors_in("tent"), seen)
    assert "through a venting" in found["middle", Doubted.WET, RH].words


def test_a_humidifier_may_keep_it_there() -> None:
    fogger = Device("fogger", "tent", Kind.HUMIDIFIER, water_g_per_h=50.0)
    scene = Scene(leap(), home=replace(house(), devices=(fogger,)))
    found = examine(scene.home, scene.home.sensors_in("tent"), scene.seen())
    assert found["middle", Doubted.WET, RH].bad is None
