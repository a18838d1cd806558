"""Which deeds a batch page offers: only what may follow now, what is likely next at the top."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Batch, Container, EntryKind
from chamberwatch.core.growing.may_follow import likely_next, may_follow
from chamberwatch.core.growing.species import Species
from chamberwatch.web.language import _, marked

_K, _S = EntryKind, Stage


@dataclass(frozen=True, slots=True)
class Offer:
    """A form that tells one thing.

    Attributes:
        kind: what it tells.
        slug: its name in addresses and for labels.
        label: on its button.
        hint: what that means, or how to do it well.
        fields: what it asks for beside when and a note.
        main: it is what comes next.
        folded: it asks for more than a tap, so it is opened first.
    """

    kind: EntryKind
    slug: str
    label: str
    hint: str
    fields: tuple[str, ...] = ()
    main: bool = False
    folded: bool = False


@dataclass(frozen=True, slots=True)
class Offers:
    """All that is offered of a batch: the next steps, what can be told at any time, its end."""

    next: tuple[Offer, ...]
    always: tuple[Offer, ...]
    ends: tuple[Offer, ...]

    @property
    def slugs(self) -> frozenset[str]:
        """Return the names of all of them."""
        return frozenset(each.slug for each in (*self.next, *self.always, *self.ends))


LABELS: Final[Mapping[EntryKind, tuple[str, str]]] = {
    _K.WHITE: (marked("White through"), marked("The threads have grown through all of it.")),
    _K.CASED: (marked("Cased"), marked("A layer of casing was put on.")),
    _K.OPENED: (marked("Opened"), marked("It breathes the air of the chamber from now on.")),
    _K.PINNED: (marked("Pins seen"), marked("The first small mushrooms show.")),
    _K.HARVESTED: (marked("Harvested"), ""),
    _K.RESTED: (marked("Rests now"), marked("The flush is over, nothing more was weighed.")),
    _K.SOAKED: (marked("Soaked"), marked("It was laid in water, or watered well.")),
    _K.RAINED: (marked("Rained on"), marked("It stood outdoors in a good rain.")),
    _K.NOTED: (marked("Note or photo"), ""),
    _K.MOVED: (marked("Move"), ""),
    _K.SPLIT: (
        marked("Split"),
        marked("Some of them go another way from now on, as a batch of their own."),
    ),
    _K.STAGED: (
        marked("Set the stage"),
        marked("Where the record and the batch have come apart."),
    ),
    _K.CONTAMINATED: (
        marked("Contaminated"),
        (
            marked(
                "Green, black, pink or slimy? Put it in a bag where it stands "
                "before you move it, and do not open it indoors. Then tell it "
                "here: it leaves the plan."
            )
        ),
    ),
    _K.SPENT: (marked("Spent"), marked("Nothing more will come; it is cleared out.")),
}

_NEXT: Final = (
    _K.HARVESTED,
    _K.WHITE,
    _K.CASED,
    _K.OPENED,
    _K.PINNED,
    _K.SOAKED,
    _K.RESTED,
    _K.RAINED,
)
_ALWAYS: Final = (_K.NOTED, _K.MOVED, _K.SPLIT, _K.STAGED)
_ENDS: Final = (_K.CONTAMINATED, _K.SPENT)

_FIELDS: Final[Mapping[EntryKind, tuple[str, ...]]] = {
    _K.HARVESTED: ("weights", "flush"),
    _K.MOVED: ("place",),
    _K.SPLIT: ("count", "place"),
    _K.STAGED: ("stage",),
    _K.NOTED: ("note", "photo"),
}


def offers(batch: Batch, species: Species) -> Offers:
    """Return what is offered of a batch as it is today."""
    may = may_follow(batch, species)
    main = likely_next(batch, may)
    order = sorted(_NEXT, key=lambda kind: (kind is not main, _NEXT.index(kind)))

    def made(kinds: tuple[EntryKind, ...] | list[EntryKind]) -> tuple[Offer, ...]:
        return tuple(_offer(kind, batch, species, main) for kind in kinds if kind in may)

    steps = sorted(made(order), key=lambda offer: offer.folded)
    return Offers(next=tuple(steps), always=made(_ALWAYS), ends=made(_ENDS))


def _offer(kind: EntryKind, batch: Batch, species: Species, main: EntryKind | None) -> Offer:
    label, hint = map(_, LABELS[kind])
    if kind is _K.HARVESTED and species.pick_when:
        hint = _("Pick %(pick_when)s.", pick_when=species.pick_when)
    if kind is _K.OPENED and batch.stage is _S.ANTLER:
        label, hint = _("Given more air"), _("So that the antlers spread to caps.")
    if kind is _K.SOAKED and batch.start.container is Container.LOG:
        label = _("Soaked or watered")
    return Offer(
        kind=kind,
        slug=kind.name.lower(),
        label=label,
        hint=hint,
        fields=_FIELDS.get(kind, ()),
        main=kind is main,
        folded=kind not in _NEXT or (kind is _K.HARVESTED and kind is not main),
    )
