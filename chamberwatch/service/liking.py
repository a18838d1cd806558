"""An address whose messages give figures in the units the grower likes."""

from dataclasses import dataclass

from chamberwatch.core.shown_in import ShownIn
from chamberwatch.service.ports import Links, Messenger, Outcome


@dataclass(frozen=True, slots=True)
class InLikedUnits:
    """Writes the figures of each message anew, at the last step before a person reads it.

    Attributes:
        to: the address itself.
        shown_in: the units.
    """

    to: Messenger
    shown_in: ShownIn

    @property
    def name(self) -> str:
        """Return the name of the address."""
        return self.to.name

    @property
    def links(self) -> Links | None:
        """Return what makes its links; None: its messages carry none."""
        return self.to.links

    @property
    def pictures(self) -> bool:
        """Tell whether a picture can go with a message."""
        return self.to.pictures

    def send(self, title: str, body: str, picture: bytes | None = None) -> Outcome:
        """Hand the message over."""
        return self.to.send(self.shown_in.said(title), self.shown_in.said(body), picture)
