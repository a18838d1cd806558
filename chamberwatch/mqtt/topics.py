"""Topic filters, as MQTT 3.1.1 section 4.7 defines them; and the topics we speak on ourselves."""

from dataclasses import dataclass
from typing import Final

LONGEST: Final = 65_535
"""Bytes a topic may have. Source: MQTT 3.1.1, section 1.5.3."""

STATUS: Final = "status"
CAUGHT_UP: Final = "caught-up"
"""Behind what waited for us at the broker comes a message of our own there."""
BELOW: Final = ("chamber/", "reminder/")


def fault(topic_filter: str) -> str:
    """Return what is wrong with a filter and how to mend it; empty when it is right."""
    levels = topic_filter.split("/")
    if not topic_filter:
        return "A topic needs at least one character."
    if "\0" in topic_filter or len(topic_filter.encode("utf-8", "replace")) > LONGEST:
        return "A topic holds no NUL and at most 65535 bytes; shorten it."
    if "#" in topic_filter and ("#" in "/".join(levels[:-1]) or levels[-1] != "#"):
        return "# stands alone as the last level, as in tent/#; move it there or leave it out."
    if any("+" in level and level != "+" for level in levels):
        return "+ stands for a whole level, as in tent/+/air; give it a level of its own."
    return ""


def matches(topic_filter: str, topic: str) -> bool:
    """Tell whether a topic falls under a filter.

    `tent/#` takes in `tent` itself (4.7.1.2); a filter that begins with a wildcard takes in no
    topic that begins with `$`, which the broker keeps for itself (4.7.2).
    """
    wanted, given = topic_filter.split("/"), topic.split("/")
    if topic.startswith("$") and wanted[0] in ("+", "#"):
        return False
    for place, level in enumerate(wanted):
        if level == "#":
            return True
        if place >= len(given) or level not in ("+", given[place]):
            return False
    return len(wanted) == len(given)


@dataclass(frozen=True, slots=True)
class OwnTopics:
    """Where chamberwatch itself speaks; what comes from there is no sensor's message.

    Attributes:
        prefix: what each of them begins with; empty: it says nothing.
    """

    prefix: str = ""

    def full(self, topic: str) -> str:
        """Return the whole name of a topic of ours."""
        return f"{self.prefix}/{topic}"

    def hold(self, topic: str) -> bool:
        """Tell whether a topic is one of ours; a sensor may well speak elsewhere below it."""
        if not self.prefix or not topic.startswith(f"{self.prefix}/"):
            return False
        own = topic[len(self.prefix) + 1 :]
        return own in {STATUS, CAUGHT_UP} or own.startswith(BELOW)
