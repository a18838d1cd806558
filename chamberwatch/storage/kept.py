"""Small things that must outlive a restart."""

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import Connection, delete, select

from chamberwatch.service.books import Answer
from chamberwatch.storage.dialects import insert
from chamberwatch.storage.tables import ANSWERS, TEXTS, USED_LINKS

ANSWERS_LAST: Final = timedelta(days=2)


class SqlKept:
    """Texts, used links, and answers to writes that may be asked twice."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def text(self, name: str) -> str | None:
        """Return a kept text (for instance the key that signs links)."""
        return self._connection.scalar(select(TEXTS.c.value).where(TEXTS.c.name == name))

    def keep_text(self, name: str, value: str) -> None:
        """Keep it in place of the former."""
        fresh = insert(self._connection, TEXTS).values(name=name, value=value)
        self._connection.execute(
            fresh.on_conflict_do_update(index_elements=["name"], set_={"value": value})
        )

    def use_link(self, digest: str, now: datetime) -> bool:
        """Mark a link as used; return False if it was used before."""
        fresh = insert(self._connection, USED_LINKS).values(digest=digest, used=now)
        fresh = fresh.on_conflict_do_nothing()
        marked = self._connection.execute(fresh.returning(USED_LINKS.c.digest)).first()
        return marked is not None

    def link_used(self, digest: str) -> bool:
        """Tell whether a link was used."""
        asked = select(USED_LINKS.c.digest).where(USED_LINKS.c.digest == digest)
        return self._connection.execute(asked).first() is not None

    def answer(self, key: str) -> Answer | None:
        """Return what was answered to this key."""
        asked = select(ANSWERS).where(ANSWERS.c.key == key)
        found = self._connection.execute(asked).first()
        return None if found is None else Answer(found.fingerprint, found.status, found.body)

    def keep_answer(self, key: str, answer: Answer, now: datetime) -> None:
        """Keep an answer; those older than two days are dropped."""
        self._connection.execute(delete(ANSWERS).where(ANSWERS.c.kept < now - ANSWERS_LAST))
        values = {
            "fingerprint": answer.fingerprint,
            "status": answer.status,
            "body": answer.body,
            "kept": now,
        }
        fresh = insert(self._connection, ANSWERS).values(key=key, **values)
        self._connection.execute(fresh.on_conflict_do_update(index_elements=["key"], set_=values))
