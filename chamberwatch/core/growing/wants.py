"""The band of a chamber: what stands in it today wants this air, and who of them says so.

A sealed batch keeps its own air, so it speaks for temperature alone. Of the open ones the
neediest sets the low humidity (pins die first), the most tolerant the high one (every misting
overshoots), the strictest the carbon dioxide; temperature is what suits all. Where no air suits
all, the nearest compromise holds and the disagreement is named.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final

from chamberwatch.core.growing.band import COMMON_PRACTICE, HOME_BANDS, Band, Stage
from chamberwatch.core.growing.patience import OwnPatience, Patience, neediest
from chamberwatch.core.growing.species import UNSAID, Species, Stated, Wants
from chamberwatch.core.sentence import within

HOME_LOW_PCT: Final = 90.0
"""No low humidity limit above this: what a book asks of a grow room (95 % and more while pins
form) can't be held by hand in a tent, and is not needed near wet walls (common practice). [%]"""

HOME_CO2_PPM: Final = 1000.0
"""No CO2 limit below this: a book's 500 to 800 ppm is little above outdoor air, and can't be
reached by venting into a room that is lived in (common practice). [ppm]"""

NARROWEST_PCT: Final = 10.0
"""A humidity band is at least so wide, upwards: each misting overshoots by several per cent, and a
home sensor is off by three (common practice). [%]"""

NARROWEST_K: Final = 2.0
"""A temperature band is at least so wide; finer can't be held at home (common practice). [K]"""

HIGH_HUMIDITY_AFTER: Final = timedelta(minutes=60)
"""Every misting overshoots, so only so long above the high limit calls for drying off."""

TEMPERATURE, HUMIDITY, CO2 = "temperature", "humidity", "co2"
"""Values of core.watch.reading.Quantity: growing lies below watching and does not know it."""


@dataclass(frozen=True, slots=True)
class Grown:
    """A batch that stands in a chamber, as far as its air goes."""

    batch: int
    species: Species
    stage: Stage
    sealed: bool


@dataclass(frozen=True, slots=True)
class Voice:
    """What one batch wants of one quantity, in its unit.

    Attributes:
        batch: its number.
        species: common name of what grows.
        stage: what it is doing.
        sealed: it keeps its own air, so its wish weighs less than that of an open one.
        low: below this something should be done.
        high: above this something should be done.
        harm_low: below this it is hurt.
        harm_high: above this it is hurt.
        source: who says so of low and high.
        note: how the limit differs from what the source says; empty where it doesn't.
    """

    batch: int
    species: str
    stage: Stage
    sealed: bool
    low: float | None
    high: float | None
    harm_low: float | None
    harm_high: float | None
    source: str
    note: str = ""

    @property
    def words(self) -> str:
        """Name it, such as “pinning, grey oyster, batch 14”."""
        return f"{self.stage.value}, {within(self.species)}, {self.number}"

    @property
    def number(self) -> str:
        """Name the batch."""
        return f"batch {self.batch}"


@dataclass(frozen=True, slots=True)
class Limits:
    """The band of one quantity, and whose wish each limit is.

    Attributes:
        band: the limits.
        low: whose wish the low limit is; None without such a limit.
        high: likewise.
        harm_low: likewise.
        harm_high: likewise.
        against: those for whom this is too low, too high, or who are not asked.
    """

    band: Band
    low: Voice | None = None
    high: Voice | None = None
    harm_low: Voice | None = None
    harm_high: Voice | None = None
    against: tuple[Voice, ...] = ()


@dataclass(frozen=True, slots=True)
class Following:
    """What the batches in a chamber make of its band.

    Attributes:
        limits: by quantity; one that is missing is not judged.
        grown: the batches, open ones first.
    """

    limits: Mapping[str, Limits]
    grown: tuple[Grown, ...] = ()

    def band(self, quantity: str) -> Band | None:
        """Return the band of a quantity, None where it is not judged."""
        limits = self.limits.get(quantity)
        return limits.band if limits is not None else None

    def patience(self, quantity: str, usual: Patience) -> Patience:
        """Return how long and how far a quantity may be outside, with what grows here.

        Args:
            quantity: which.
            usual: with a species that says nothing of it.
        """
        # A sealed batch keeps its own air and has a say in the temperature alone.
        asked = [each for each in self.grown if quantity == TEMPERATURE or not each.sealed]
        own = (each.species.patience.get(quantity, OwnPatience()).over(usual) for each in asked)
        return neediest(own) or usual

    @property
    def disagreements(self) -> Mapping[str, Limits]:
        """Return the quantities in which no air suits all."""
        return {name: limits for name, limits in self.limits.items() if limits.against}


Voices = dict[tuple[int, str, Stage, bool, str], Voice | None]
"""What each wants: batch, species, stage, whether it is sealed, quantity."""


def follow(
    grown: Iterable[Grown], sources: Mapping[str, str], asked: Voices | None = None
) -> Following:
    """Return the band that follows from what stands in a chamber.

    Args:
        grown: the living batches in it.
        sources: full titles of sources by their key.
        asked: who was asked already; kept up to date. None: everybody is asked.
    """
    asked = {} if asked is None else asked
    # Where two want the same, one that bears a crop now is named before one that rests.
    here = tuple(
        sorted(grown, key=lambda each: (each.sealed, each.stage is Stage.RESTING, each.batch))
    )
    made = {
        TEMPERATURE: _temperature(_voices(here, TEMPERATURE, sources, asked)),
        HUMIDITY: _humidity(_voices(here, HUMIDITY, sources, asked)),
        CO2: _co2(_voices(here, CO2, sources, asked)),
    }
    return Following({name: limits for name, limits in made.items() if limits is not None}, here)


# ------------------------------------------------------------------ what each one wants


def _voices(
    grown: Sequence[Grown], quantity: str, sources: Mapping[str, str], asked: Voices
) -> tuple[Voice, ...]:
    found = []
    for each in grown:
        key = (each.batch, each.species.name, each.stage, each.sealed, quantity)
        if key not in asked:
            asked[key] = voice(each, quantity, sources)
        if (said := asked[key]) is not None:
            found.append(said)
    return tuple(found)


def voice(grown: Grown, quantity: str, sources: Mapping[str, str]) -> Voice | None:
    """Return what one batch wants of one quantity; None where it is not asked.

    Args:
        grown: the batch.
        quantity: temperature, humidity or co2.
        sources: full titles of sources by their key.
    """
    if grown.sealed and quantity != TEMPERATURE:
        return None
    # Between flushes an open block dries like a fruiting one, but bears no pins that stale air
    # could draw out of shape (common practice).
    if grown.stage is Stage.RESTING and quantity == CO2:
        return None
    stated, harm = _figures(_wants(grown), quantity)
    home = HOME_BANDS[Stage.COLONISATION if grown.sealed else Stage.FRUITING].get(quantity, Band())
    said = Voice(
        batch=grown.batch,
        species=grown.species.title,
        stage=grown.stage,
        sealed=grown.sealed,
        low=stated.low if stated else home.low,
        high=stated.high if stated else home.high,
        harm_low=harm.low if harm else home.harm_low,
        harm_high=harm.high if harm else home.harm_high,
        source=_source(stated, sources) if stated else COMMON_PRACTICE,
    )
    return _at_home(said, grown, quantity)


def _at_home(said: Voice, grown: Grown, quantity: str) -> Voice:
    """Return what is asked of a home chamber where that is less than the source asks for."""
    if quantity == HUMIDITY:
        return _held_by_hand(said)
    if quantity == CO2:
        return _reached_from_a_room(said)
    return _pins_at_home(said, grown.species) if grown.stage is Stage.PINNING else said


def _held_by_hand(said: Voice) -> Voice:
    low, high, asked = said.low, said.high, []
    if low is not None and low > HOME_LOW_PCT:
        asked.append(f"at least {low:g} %")
        low = HOME_LOW_PCT
    if low is not None and high is not None and high < low + NARROWEST_PCT:
        asked.append(f"at most {high:g} %")
        high = min(low + NARROWEST_PCT, 100.0)
    note = _home(" and ".join(asked), "what can be held by hand") if asked else ""
    return replace(said, low=low, high=high, note=note)


def _reached_from_a_room(said: Voice) -> Voice:
    if said.high is None or said.high >= HOME_CO2_PPM:
        return said
    note = _home(f"at most {said.high:g} ppm", "what fresh air of a lived-in room can reach")
    return replace(said, high=HOME_CO2_PPM, note=note)


def _pins_at_home(said: Voice, species: Species) -> Voice:
    """Return the wider of pinning and fruiting: nobody cools a tent for a few days."""
    fruiting = species.stages.get(Stage.FRUITING)
    stated = fruiting.temperature_c if fruiting is not None else None
    if stated is None:
        return said
    low = None if said.low is None or stated.low is None else min(said.low, stated.low)
    high = None if said.high is None or stated.high is None else max(said.high, stated.high)
    if (low, high) == (said.low, said.high):
        return said
    asked = " to ".join(f"{end:g}" for end in (said.low, said.high) if end is not None)
    note = _home(f"{asked} °C", "that of fruiting, at which pins come too")
    return replace(said, low=low, high=high, note=note)


def _home(asked: str, instead: str) -> str:
    return f"the source asks for {asked}; the home limit is {instead} (common practice)"


def _wants(grown: Grown) -> Wants | None:
    """Return the wants of its stage; a resting batch is kept like a fruiting one."""
    stages = grown.species.stages
    if grown.stage is not Stage.RESTING:
        return stages.get(grown.stage)
    return stages.get(Stage.FRUITING) or stages.get(Stage.CONK)


def _figures(wants: Wants | None, quantity: str) -> tuple[Stated | None, Stated | None]:
    if wants is None:
        return None, None
    return {
        TEMPERATURE: (wants.temperature_c, wants.temperature_harm_c),
        HUMIDITY: (wants.humidity_pct, wants.humidity_harm_pct),
        CO2: (wants.co2_ppm, wants.co2_harm_ppm),
    }[quantity]


def _source(stated: Stated, sources: Mapping[str, str]) -> str:
    view = stated.used
    title = sources.get(view.source, view.source)
    parts = (
        title,
        view.mark.value if view.mark not in UNSAID or not title else "",
        view.note,
    )
    return "; ".join(part for part in parts if part)


# ------------------------------------------------------------------ what they make of it


def _temperature(voices: Sequence[Voice]) -> Limits | None:
    """Return what suits all; sealed ones give way where it does not suit them."""
    open_ = [v for v in voices if not v.sealed]
    made = _overlap(open_ or voices)
    if made is None:
        return None
    for sealed in [v for v in voices if v.sealed] if open_ else []:
        made = _given_way(made, sealed)
    return _with_harm(made, voices)


def _given_way(made: Limits, sealed: Voice) -> Limits:
    """Return the band of the open ones, below what is too warm for a sealed batch.

    In the cool it only colonises more slowly, so it never asks for warmth beside an open crop.
    Who is suited by none of the band is named all the same.
    """
    band = made.band
    if _below(band.high, sealed.low) or _below(sealed.high, band.low):
        return replace(made, against=(*made.against, sealed))
    lower = sealed.high is not None and (band.high is None or sealed.high < band.high)
    too_narrow = lower and band.low is not None and _high(sealed) - band.low < NARROWEST_K
    if not lower or too_narrow:
        return made
    source = _sources_of(made.low, sealed)
    return replace(made, band=replace(band, high=sealed.high, source=source), high=sealed)


def _overlap(voices: Sequence[Voice]) -> Limits | None:
    """Return what suits all, or what is nearest to all of them, with those it does not suit."""
    low = max((v for v in voices if v.low is not None), key=_low, default=None)
    high = min((v for v in voices if v.high is not None), key=_high, default=None)
    if low is None and high is None:
        return None
    source = _sources_of(low, high)
    band = Band(low.low if low else None, high.high if high else None, source=source)
    if band.low is None or band.high is None or band.high - band.low >= NARROWEST_K:
        return Limits(band, low, high)
    middle, half = (band.low + band.high) / 2.0, NARROWEST_K / 2.0
    # Each whom somebody else's limit leaves no room, not the two outermost alone.
    against = [v for v in voices if _below(band.high, v.low) or _below(v.high, band.low)]
    widened = Band(middle - half, middle + half, source=source)
    return Limits(widened, low, high, against=tuple(sorted(against, key=lambda v: v.batch)))


def _humidity(voices: Sequence[Voice]) -> Limits | None:
    """Return the low limit of the neediest and the high limit of the most tolerant."""
    low = max((v for v in voices if v.low is not None), key=_low, default=None)
    high = max((v for v in voices if v.high is not None), key=_high, default=None)
    if low is None and high is None:
        return None
    # One who bears any humidity is the most tolerant of all.
    high = high if all(v.high is not None for v in voices) else None
    band = Band(
        low.low if low else None,
        high.high if high else None,
        high_after=HIGH_HUMIDITY_AFTER,
        source=_sources_of(low, high),
    )
    against = tuple(v for v in voices if _below(v.high, band.low))
    return _with_harm(Limits(band, low, high, against=against), voices)


def _co2(voices: Sequence[Voice]) -> Limits | None:
    """Return the limit of the strictest. A low one is never judged: no deed of a person's adds it.

    Who wants more than that, for long stems, can't have it in the same air.
    """
    high = min((v for v in voices if v.high is not None), key=_high, default=None)
    if high is None:
        return None
    band = Band(None, high.high, source=high.source)
    against = tuple(v for v in voices if _below(high.high, v.low))
    return _with_harm(Limits(band, None, high, against=against), voices)


def _with_harm(made: Limits, voices: Sequence[Voice]) -> Limits:
    """Add the strictest harm limits, never inside the band that was agreed on."""
    low = max((v for v in voices if v.harm_low is not None), key=_harm_low, default=None)
    high = min((v for v in voices if v.harm_high is not None), key=_harm_high, default=None)
    band = made.band
    floor = low.harm_low if low else None
    ceiling = high.harm_high if high else None
    if floor is not None and band.low is not None:
        floor = min(floor, band.low)
    if ceiling is not None and band.high is not None:
        ceiling = max(ceiling, band.high)
    return replace(
        made, band=replace(band, harm_low=floor, harm_high=ceiling), harm_low=low, harm_high=high
    )


def _below(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and one < other


def _sources_of(*voices: Voice | None) -> str:
    said: Iterator[str] = (f"{v.words}: {v.source}" for v in voices if v is not None)
    return "; ".join(dict.fromkeys(said))


# Of those that want the same the first is named; max and min keep the first they see.
def _low(voice: Voice) -> float:
    return voice.low if voice.low is not None else 0.0


def _high(voice: Voice) -> float:
    return voice.high if voice.high is not None else 0.0


def _harm_low(voice: Voice) -> float:
    return voice.harm_low if voice.harm_low is not None else 0.0


def _harm_high(voice: Voice) -> float:
    return voice.harm_high if voice.harm_high is not None else 0.0
