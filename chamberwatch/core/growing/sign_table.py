"""The signs that can be told of a batch, and what each likely comes from, with sources.

Limits of drying are worked out from the evaporation coefficient of Bowman 1989, air speed [m/min]
x vapour-pressure deficit [mbar], of which 4 to 10 is good. How fast the air goes over a block at
home is not measured, so the limits are those that hold however it goes: beyond 333 Pa even nearly
still air (0.05 m/s) dries with more than 10, below 67 Pa even a light stream (0.1 m/s) with less
than 4.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from chamberwatch.core.errors import UnknownNameError
from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.signs import Cause, Clue, Gauge, Limit, Side, Sign
from chamberwatch.core.growing.species import Mark

STAMETS: Final = (
    "Stamets, Growing Gourmet and Medicinal Mushrooms, 3rd ed., Ten Speed Press 2000, ch. 21"
)
BOWMAN: Final = "Bowman 1989, Mushroom Science XII"
MYCOLOGIA: Final = "Mycologia 2023, 115(2):153"
KINUGAWA: Final = (
    "Kinugawa et al. 1994, as cited in Jung & Son 2021, Journal of Bio-Environment Control 30:140"
)
TRADE: Final = "Technical notes of suppliers, names withheld"

DRIES_TOO_FAST_PA: Final = 333.0
DRIES_TOO_SLOWLY_PA: Final = 67.0
NO_CAPS_PPM: Final = 10_000.0
SHUT_CAPS_PPM: Final = 3000.0
MOST_CO2_PPM: Final = 1000.0
CORAL_FROM_PPM: Final = 1000.0

# Pins and caps are spoilt by a few bad hours; this share of three days is about two.
FEW_HOURS: Final = 0.03

_A, _B = Side.ABOVE, Side.BELOW

BAG_IT: Final = (
    "Bag it where it stands before you move it, and don't open it indoors; eat nothing that grew "
    "on it. Bin it, or open it outdoors and away from the house. Then wipe the shelf and wash "
    "your hands before you touch another block."
)

_STALE: Final = Cause(
    "Stale air",
    "Too much carbon dioxide draws stems out and keeps caps small.",
    "Let in more fresh air, and mist afterwards since that dries.",
    Clue(Gauge.CO2, _A, Limit.HIGH, otherwise=MOST_CO2_PPM),
    STAMETS,
    Mark.COPY,
)
_DRY: Final = Cause(
    "Dry air",
    "Air below the band takes more water from the skin than the block can bring up.",
    "Mist walls and floor more often, fill the tray, close gaps in the cover.",
    Clue(Gauge.HUMIDITY, _B, Limit.LOW, days=3.0),
)
_FAST_DRYING: Final = Cause(
    "Drying too fast",
    "Dry air that moves takes water from skins faster than it comes up, so they scale and crack; "
    "where the air is as dry as this, even nearly still air does that.",
    "Mist walls and floor, and cool the chamber if it is warm: the same humidity dries less then.",
    Clue(Gauge.VPD, _A, DRIES_TOO_FAST_PA, days=3.0),
    f"{BOWMAN}: air speed [m/min] x vapour-pressure deficit [mbar] above 10; reckoned for air of "
    "0.05 m/s",
    Mark.READ,
)
_DRAUGHT: Final = Cause(
    "A draught",
    "Air that blows straight at a crop dries it, at a humidity that would do in still air.",
    "Turn the fan to a wall, or move the block out of the stream.",
    source=f"{BOWMAN}: air speed [m/min] x vapour-pressure deficit [mbar], 4 to 10 is good",
    mark=Mark.READ,
)
_DIM: Final = Cause(
    "Too little light",
    "Crops reach for light; a dark corner gives long pale stems and few pins.",
    "Give it some hours of daylight or a lamp, no sun straight on it.",
)
_WARM: Final = Cause(
    "Too warm",
    "In warmth a crop shoots up fast and thin, and young pins give up.",
    "Move it to a cooler place, or let in cooler air.",
    Clue(Gauge.TEMPERATURE, _A, Limit.HIGH, days=3.0),
)
_DAMP: Final = Cause(
    "Damp, still air",
    "In air that takes up no water, fine threads grow out of stems, and skins stay wet.",
    "Mist less at a time, and let the air move a little between mistings.",
    Clue(Gauge.HUMIDITY, _A, Limit.HIGH),
)
_WET_CAPS: Final = Cause(
    "A skin that stays wet",
    "In air that takes up hardly any water, drops stand for hours and bacteria blotch what they "
    "stand on; where the air is as damp as this, even a light stream dries too slowly.",
    "Let the chamber dry off after each misting, best before the night, and mist no caps.",
    Clue(Gauge.VPD, _B, DRIES_TOO_SLOWLY_PA),
    f"{BOWMAN}: air speed [m/min] x vapour-pressure deficit [mbar] below 4; reckoned for air of "
    "0.1 m/s",
    Mark.READ,
)
_MISTED_ON: Final = Cause(
    "Water straight on it",
    "Drops that stand on pins and caps drown or blotch them.",
    "Mist walls and floor finely, not the crop.",
)
_SPOILT_BY_DRYNESS: Final = Cause(
    "It dried out",
    "Pins have no skin to speak of and die first; some dry hours are enough.",
    "Hold the humidity up from the first pins on; mist walls and floor little and often.",
    Clue(Gauge.HUMIDITY, _B, Limit.LOW, days=3.0, speaks_from=FEW_HOURS),
)
_TOO_MANY: Final = Cause(
    "More pins than it can feed",
    "A block sets more pins than it has water and food for; some always stop.",
    "Nothing, if the others grow on. Pick stopped ones with the flush, before they rot.",
)
_TIRED: Final = Cause(
    "A block near its end",
    "Later flushes are smaller, and a block that has lost much water has little to give.",
    "Soak it if its kind is soaked, else count it as spent after this flush.",
)
_CAME_IN: Final = Cause(
    "It came in with spawn or substrate",
    "Mould that was not killed, or that fell in while the bag was filled, shows within weeks.",
    BAG_IT + " Look over its sisters from the same day and the same spawn.",
)
_TOO_HOT_TO_WIN: Final = Cause(
    "Too warm for the mycelium",
    "Heat slows what was spawned and speeds up moulds.",
    BAG_IT + " Keep the others cooler, and apart so that they lose their own heat.",
    Clue(Gauge.TEMPERATURE, _A, Limit.HIGH, days=14.0),
)
_WET_SPOT: Final = Cause(
    "Wet spots in damp air",
    "On a surface that never dries, and on left-over stumps and dead pins, moulds settle first.",
    BAG_IT + " On the others, pick clean and let the surface dry between mistings.",
    Clue(Gauge.HUMIDITY, _A, Limit.HIGH, days=7.0),
)
_OLD_BLOCK: Final = replace(
    _TIRED,
    why="A block that has given its flushes can't hold moulds off any more.",
    do=BAG_IT,
)

_PINNING: Final = Stage.PINNING

# It makes heads of spines, without stems or caps.
_NO_CAPS: Final = frozenset({"lions-mane"})

_SIGNS: Final = (
    Sign(
        "long-stems",
        "Long stems",
        (
            _STALE,
            _DIM,
            _WARM,
            Cause(
                "It is built that way",
                "These are mostly stem, and growers draw them out on purpose.",
                "Nothing, if that is what you want.",
                only=frozenset({"king-oyster", "enoki"}),
            ),
        ),
        never=_NO_CAPS,
    ),
    Sign(
        "small-caps",
        "Small caps",
        (
            _STALE,
            Cause(
                "Far too little fresh air",
                "From 10 000 ppm on oysters make no caps at all, only a mass like a cauliflower.",
                "Open the chamber wide now, then air it through the day.",
                Clue(Gauge.CO2, _A, NO_CAPS_PPM, speaks_from=FEW_HOURS),
                MYCOLOGIA,
                Mark.READ,
                frozenset({"grey-oyster", "phoenix-oyster", "pink-oyster", "golden-oyster"}),
            ),
            Cause(
                "Air in which caps don't spread",
                "Between 3000 and 9000 ppm the caps of king oyster stay shut.",
                "Let in more fresh air from when caps are to spread.",
                Clue(Gauge.CO2, _A, SHUT_CAPS_PPM),
                KINUGAWA,
                Mark.READ,
                frozenset({"king-oyster"}),
            ),
            _DRY,
            _TIRED,
        ),
        never=_NO_CAPS,
    ),
    Sign(
        "cracked-caps",
        "Cracked caps",
        (
            _DRY,
            _FAST_DRYING,
            _DRAUGHT,
            Cause(
                "Grown dry on purpose",
                "Shiitake fruits at 60 to 80 % and makes thick caps there; in dry air these crack "
                "in a pattern that many look for.",
                "Nothing, if you like them so.",
                source=f"{STAMETS} (thick caps); the pattern: common practice",
                mark=Mark.COPY,
                only=frozenset({"shiitake"}),
            ),
        ),
        never=_NO_CAPS,
    ),
    Sign(
        "fuzzy-feet",
        "Fuzzy feet",
        (replace(_STALE, source="", mark=Mark.COMMON), _DAMP),
        never=_NO_CAPS,
    ),
    Sign("blotch", "Brown or yellow blotches", (_WET_CAPS, _DAMP, _MISTED_ON)),
    Sign(
        "aborted-pins",
        "Pins that stop growing",
        (
            _SPOILT_BY_DRYNESS,
            _FAST_DRYING,
            _WARM,
            replace(
                _STALE,
                why="In air that is stale enough to hurt, pins stop.",
                clue=Clue(Gauge.CO2, _A, Limit.HARM_HIGH, days=3.0),
                source="",
                mark=Mark.COMMON,
            ),
            _DRAUGHT,
            _TOO_MANY,
        ),
    ),
    Sign(
        "browning-pins",
        "Pins that turn brown",
        (
            _SPOILT_BY_DRYNESS,
            _FAST_DRYING,
            _DRAUGHT,
            _MISTED_ON,
            Cause(
                "Too cold",
                "Below its band a crop stands still, and what stands still browns.",
                "Bring it gently into its band.",
                Clue(Gauge.TEMPERATURE, _B, Limit.LOW, days=3.0),
            ),
        ),
    ),
    Sign(
        "green-patches",
        "Green patches",
        (_CAME_IN, _TOO_HOT_TO_WIN, _WET_SPOT, _OLD_BLOCK),
        contamination=True,
    ),
    Sign(
        "black-patches",
        "Black patches",
        (_CAME_IN, _WET_SPOT, _TOO_HOT_TO_WIN, _OLD_BLOCK),
        contamination=True,
    ),
    Sign(
        "no-pins",
        "No pins",
        (
            Cause(
                "It is too early",
                "Pins take some days after it is opened, and after each flush.",
                "Keep its air in the band, and wait till those days are over.",
                Clue(Gauge.WAIT, _B, Limit.HIGH),
            ),
            replace(
                _STALE,
                why="Fresh air is what tells it to pin; keep carbon dioxide below 1000 ppm, "
                "better near that of outdoor air.",
                clue=Clue(Gauge.CO2, _A, Limit.HIGH, stage=_PINNING, otherwise=MOST_CO2_PPM),
            ),
            Cause(
                "Too warm to pin",
                "Most kinds want a drop in temperature, to below where they fruit, before they "
                "pin.",
                "Give it some cooler days, or cool nights, within the band for pinning.",
                Clue(Gauge.TEMPERATURE, _A, Limit.PUBLISHED, stage=_PINNING),
                f"{STAMETS}: bands for pinning below those for fruiting",
                Mark.COPY,
            ),
            replace(
                _DRY,
                why="A surface that dries out sets no pins.",
                clue=Clue(Gauge.HUMIDITY, _B, Limit.LOW, stage=_PINNING),
            ),
            _DIM,
            replace(_TIRED, do="Soak it if its kind is soaked; else count it as spent."),
        ),
    ),
    Sign(
        "coral-heads",
        "Heads like coral",
        (
            Cause(
                "Stale air",
                "Above 1000 ppm heads branch like coral and stay loose.",
                "Let in more fresh air, and mist afterwards since that dries.",
                Clue(Gauge.CO2, _A, CORAL_FROM_PPM),
                TRADE,
                Mark.TRADE,
            ),
            Cause(
                "Another kind or strain",
                "Its near relatives branch by nature, and some strains do.",
                "Compare with what the spawn was sold as.",
            ),
        ),
        only=frozenset({"lions-mane"}),
    ),
    Sign(
        "antlers",
        "Antlers in place of caps",
        (
            Cause(
                "Too much carbon dioxide for caps",
                "Caps form below 2000 ppm; above, it goes on as antlers. Some notes of suppliers "
                "say that caps fail from 1000 ppm on.",
                "Let in more fresh air if you want caps.",
                Clue(Gauge.CO2, _A, Limit.HIGH, days=7.0, stage=Stage.CONK, otherwise=2000.0),
                STAMETS,
                Mark.COPY,
            ),
            _DIM,
        ),
        only=frozenset({"reishi"}),
    ),
    Sign(
        "yellow-liquid",
        "Yellow or brown drops",
        (
            Cause(
                "It fends something off",
                "Mycelium sheds such drops where it meets bacteria or mould.",
                "Look and smell. If it smells sour, or has a coloured patch near it, treat it as "
                "contaminated. If it is clear and smells clean it does no harm: leave the bag "
                "closed, and pour it off once you open it.",
            ),
            replace(
                _WARM,
                why="Heat makes mycelium sweat.",
                clue=Clue(Gauge.TEMPERATURE, _A, Limit.HIGH, 7.0),
            ),
            Cause(
                "It is ready",
                "A block that has grown through and waits to be opened sheds drops as well.",
                "See whether it is due to be opened.",
            ),
        ),
    ),
)

SIGNS: Final[Mapping[str, Sign]] = {sign.name: sign for sign in _SIGNS}


def signs_of(species: str) -> tuple[Sign, ...]:
    """Return the signs that a species can show, in the order they are listed."""
    return tuple(sign for sign in _SIGNS if sign.shown_by(species))


def sign_of(name: str, species: str) -> Sign:
    """Return a sign of that name.

    Raises:
        UnknownNameError: there is none in that species; the text lists what there is.
    """
    sign = SIGNS.get(name)
    if sign is not None and sign.shown_by(species):
        return sign
    known = ", ".join(each.name for each in signs_of(species))
    raise UnknownNameError(f"There is no sign “{name}” of {species}. Known: {known}.")
