"""What the shell offers when the tabulator is pressed. Whatever fails offers nothing."""

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from chamberwatch.cli.beside import CONFIG_VARIABLE, DEFAULT_CONFIG
from chamberwatch.core.errors import ChamberwatchError

if TYPE_CHECKING:
    from chamberwatch.core.growing.batch import Batch
    from chamberwatch.settings import Settings

Offer = list[tuple[str, str]]


def species_names(ctx: typer.Context, incomplete: str) -> Offer:
    """Offer the species, with their common names."""
    from chamberwatch.settings import load_species

    with suppress(ChamberwatchError):
        known = load_species(_config(ctx)).species
        return _starting(incomplete, ((name, one.title) for name, one in known.items()))
    return []


def containers(incomplete: str) -> Offer:
    """Offer what a batch can grow in."""
    from chamberwatch.core.growing.batch import Container

    return _starting(incomplete, ((each.name.lower(), each.value) for each in Container))


def stages(incomplete: str) -> Offer:
    """Offer the stages that can be set."""
    from chamberwatch.core.growing.batch import LIVING

    return _starting(incomplete, ((each.replace(" ", "-"), "") for each in LIVING))


def chambers(ctx: typer.Context, incomplete: str) -> Offer:
    """Offer the chambers in which something can grow."""
    with suppress(ChamberwatchError):
        known = _settings(ctx).chamber
        return _starting(incomplete, ((c.name, c.title) for c in known if c.stage is not None))
    return []


def shelves(ctx: typer.Context, incomplete: str) -> Offer:
    """Offer the shelves, of the chamber that was typed where there is one."""
    named = ctx.params.get("chamber")
    with suppress(ChamberwatchError):
        known = [c for c in _settings(ctx).chamber if named in (None, "", c.name)]
        return _starting(incomplete, ((shelf, c.title) for c in known for shelf in c.shelves))
    return []


def living(ctx: typer.Context, incomplete: str) -> Offer:
    """Offer the numbers of the batches that have not ended."""
    return _numbers(ctx, incomplete, ended=False)


def every(ctx: typer.Context, incomplete: str) -> Offer:
    """Offer the numbers of all batches."""
    return _numbers(ctx, incomplete, ended=True)


def signs(incomplete: str) -> Offer:
    """Offer what may be seen on a crop."""
    from chamberwatch.core.growing.sign_table import SIGNS

    return _starting(incomplete, ((sign.name, sign.title) for sign in SIGNS.values()))


def _numbers(ctx: typer.Context, incomplete: str, *, ended: bool) -> Offer:
    with suppress(ChamberwatchError), _batches(ctx) as found:
        return _starting(
            incomplete,
            (
                (str(batch.id), f"{batch.start.species}, {batch.stage}")
                for batch in found
                if ended or batch.ended is None
            ),
        )
    return []


@contextmanager
def _batches(ctx: typer.Context) -> Iterator[Iterable["Batch"]]:
    # Not through the wiring: whoever waits for the tabulator wants it at once.
    from chamberwatch.service.growing.folding import batches_of
    from chamberwatch.settings import load_species
    from chamberwatch.storage.looking import look_at

    # Where it is of an older version nothing is offered: to change it takes time.
    with look_at(_settings(ctx).database.address) as books, books.read() as book:
        yield batches_of(book.growing.all(), load_species(_config(ctx))).values()


def _settings(ctx: typer.Context) -> "Settings":
    from chamberwatch.settings import load

    return load(_config(ctx), os.environ)


def _config(ctx: typer.Context) -> Path:
    return Path(ctx.params.get("config") or os.environ.get(CONFIG_VARIABLE) or DEFAULT_CONFIG)


def _starting(incomplete: str, offered: Iterable[tuple[str, str]]) -> Offer:
    return [(name, words) for name, words in offered if name.startswith(incomplete)]
