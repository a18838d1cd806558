"""The answer to “will it hold?” with its words, and with how the humidity would go."""

from datetime import datetime

from chamberwatch.core import amount_words
from chamberwatch.core.watch.outlook import as_it_is, once_misted
from chamberwatch.service.counselling import Counselling
from chamberwatch.service.views import HoldNow


def hold_now(counsel: Counselling, name: str, until: datetime, now: datetime) -> HoldNow:
    """Answer “will it hold until then?” of a chamber.

    Raises:
        UnknownNameError: no such chamber.
        RefusedError: it can't be reckoned; the text says what is missing.
    """
    situation, answer = counsel.held(name, until, now)
    words = amount_words.hold(answer, now, counsel.zone)
    misted = once_misted(situation, until, answer.mist) if answer.mist is not None else ()
    return HoldNow(answer, words, as_it_is(situation, until), misted)
