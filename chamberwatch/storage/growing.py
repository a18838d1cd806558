"""What was told of batches. Only ever added to: what was wrong is corrected by a newer entry."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, Row, Select, func, insert, select

from chamberwatch.core.growing.band import Stage
from chamberwatch.core.growing.batch import Container, Entry, EntryKind, Start
from chamberwatch.storage.tables import ENTRIES, STARTS


class SqlGrowing:
    """Entries about batches, in the order in which they were told."""

    def __init__(self, connection: Connection) -> None:
        """Work within this transaction."""
        self._connection = connection

    def start(self, entry: Entry) -> Entry:
        """Keep the first entry of a new batch; return it with its id and the batch's.

        The number of a batch is never used again: entries are never removed.
        """
        last = self._connection.scalar(select(func.max(ENTRIES.c.batch))) or 0
        return self.add(replace(entry, batch=last + 1))

    def add(self, entry: Entry) -> Entry:
        """Keep it; return it with its id."""
        fresh = insert(ENTRIES).values(
            batch=entry.batch,
            kind=entry.kind.value,
            at=entry.at,
            recorded=entry.recorded,
            via=entry.via,
            note=entry.note,
            chamber=entry.chamber,
            shelf=entry.shelf,
            count=entry.count,
            other=entry.other,
            weight_g=entry.weight_g,
            stage=entry.stage.value if entry.stage is not None else None,
            flush=entry.flush,
            sign=entry.sign,
            corrects=entry.corrects,
        )
        number = self._connection.execute(fresh.returning(ENTRIES.c.id)).scalar_one()
        if entry.start is not None:
            self._keep_start(number, entry.start)
        return replace(entry, id=number)

    def _keep_start(self, number: int, start: Start) -> None:
        self._connection.execute(
            insert(STARTS).values(
                entry=number,
                species=start.species,
                container=start.container.value,
                count=start.count,
                substrate=start.substrate,
                strain=start.strain,
                spawn=start.spawn,
                wet_g=start.wet_g,
                dry_g=start.dry_g,
                moisture_pct=start.moisture_pct,
                parent=start.parent,
                split_from=start.split_from,
            )
        )

    def of(self, batch: int) -> Sequence[Entry]:
        """Return the entries of one batch, by id; none if there is no such batch."""
        return self._read(ALL_ENTRIES.where(ENTRIES.c.batch == batch))

    def get(self, entry: int) -> Entry | None:
        """Return one by its id."""
        return next(iter(self._read(ALL_ENTRIES.where(ENTRIES.c.id == entry))), None)

    def all(self) -> Sequence[Entry]:
        """Return the entries of every batch, by id."""
        return self._read(ALL_ENTRIES)

    def newest_id(self) -> int:
        """Return the id of the one told last, 0 if there is none; cheap enough for any round."""
        return self._connection.scalar(select(func.max(ENTRIES.c.id))) or 0

    def _read(self, asked: Select[Any]) -> Sequence[Entry]:
        return [entry_of(row) for row in self._connection.execute(asked.order_by(ENTRIES.c.id))]


# The columns of a start are labelled, since both tables have a count.
ALL_ENTRIES = select(
    ENTRIES, *(column.label(f"start_{column.name}") for column in STARTS.columns)
).outerjoin(STARTS, STARTS.c.entry == ENTRIES.c.id)


def entry_of(row: Row[Any]) -> Entry:
    """Return a row of `ALL_ENTRIES` as an entry."""
    return Entry(
        id=row.id,
        batch=row.batch,
        kind=EntryKind(row.kind),
        at=row.at,
        recorded=row.recorded,
        via=row.via,
        note=row.note,
        start=_start(row) if row.start_entry is not None else None,
        chamber=row.chamber,
        shelf=row.shelf,
        count=row._mapping[ENTRIES.c.count],  # noqa: SLF001 - a row has a method of that name
        other=row.other,
        weight_g=row.weight_g,
        stage=Stage(row.stage) if row.stage is not None else None,
        flush=row.flush,
        sign=row.sign,
        corrects=row.corrects,
    )


def _start(row: Row[Any]) -> Start:
    return Start(
        species=row.start_species,
        container=Container(row.start_container),
        count=row.start_count,
        substrate=row.start_substrate,
        strain=row.start_strain,
        spawn=row.start_spawn,
        wet_g=row.start_wet_g,
        dry_g=row.start_dry_g,
        moisture_pct=row.start_moisture_pct,
        parent=row.start_parent,
        split_from=row.start_split_from,
    )
