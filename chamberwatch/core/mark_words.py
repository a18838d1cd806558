"""What a mark on a chart says that the log has no line for: a reminder from end to end."""

from chamberwatch.core import log_words, review_words, wording
from chamberwatch.core.review.episode import Episode
from chamberwatch.core.watch.reminder import Reminder


def reminder(asked: Reminder, episode: Episode) -> str:
    """Say what people were asked for, why, and for how long."""
    said = log_words.asked(asked)
    was = episode.evidence
    if was is not None and was.quantity is not None and was.value is not None:
        said += f", at {wording.amount(was.quantity, was.value)}"
    if episode.ended is None:
        return f"{said}; not over yet"
    return f"{said}; over after {review_words.length(episode.ended - episode.raised)}"
