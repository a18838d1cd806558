"""`export`: what is kept, as files that anything reads."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final
from zoneinfo import ZoneInfo

import typer

from chamberwatch.cli.beside import DEFAULT_CONFIG, ConfigOption, beside
from chamberwatch.cli.terminal import going
from chamberwatch.core.errors import RefusedError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from chamberwatch.service.export_rows import Kind, Row
    from chamberwatch.service.exporting import Exporting, Wanted

STANDARD_OUTPUT: Final = "-"


def export(  # noqa: PLR0913, PLR0917 - one argument for each option of the command
    to: Annotated[
        str,
        typer.Argument(
            metavar="FOLDER", help="Made if it isn't there; - stands for standard output."
        ),
    ],
    only: Annotated[
        list[str] | None,
        typer.Option(
            help="readings, batches, actions, reminders or moves; may be given several times. "
            "Without it, all of them."
        ),
    ] = None,
    from_: Annotated[
        str, typer.Option("--from", help="A day, or a time; without it from the beginning.")
    ] = "",
    until: Annotated[
        str,
        typer.Option("--to", help="A day, which is taken in, or a time; without it up to now."),
    ] = "",
    week: Annotated[
        str, typer.Option(help="Such as 2026-W47, or last, in place of --from and --to.")
    ] = "",
    sensor: Annotated[str | None, typer.Option(help="Readings of this sensor only.")] = None,
    site_time: Annotated[
        bool, typer.Option("--site-time", help="Put the time on the site's clock beside UTC.")
    ] = False,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Write over files of an earlier export.")
    ] = False,
    parquet: Annotated[
        bool, typer.Option("--parquet", help="As Parquet; needs the extra of that name.")
    ] = False,
    config: ConfigOption = DEFAULT_CONFIG,
) -> None:
    """Write readings, batches, actions and reminders as CSV; the daemon may be running."""
    from chamberwatch.cli.spans import span_of
    from chamberwatch.files.parquet import must_be_able
    from chamberwatch.service.exporting import Exporting, Wanted

    kinds = _kinds(only)
    if parquet and to == STANDARD_OUTPUT:
        raise RefusedError("Parquet goes into a folder; name one, or leave --parquet out.")
    if parquet:
        must_be_able()
    if to == STANDARD_OUTPUT and len(kinds) != 1:
        raise RefusedError("Standard output takes one table; say which, such as --only readings.")
    with beside(config) as on:
        zone = ZoneInfo(on.settings.site.timezone)
        span = span_of(from_, until, week, on.clock.now(), zone)
        wanted = Wanted(span, sensor, zone if site_time else None)
        exporting = Exporting(on.books)
        if to == STANDARD_OUTPUT:
            _to_standard_output(exporting, kinds[0], wanted)
        else:
            _to_folder(exporting, kinds, wanted, Path(to), overwrite=overwrite, parquet=parquet)


def _kinds(only: list[str] | None) -> tuple["Kind", ...]:
    from chamberwatch.service.export_rows import Kind

    unknown = [name for name in only or () if name not in set(Kind)]
    if unknown:
        raise RefusedError(
            f"--only {unknown[0]} can't be exported; take one of {', '.join(Kind)}."
        )
    return tuple(kind for kind in Kind if only is None or kind in only)


def _to_standard_output(exporting: "Exporting", kind: "Kind", wanted: "Wanted") -> None:
    from chamberwatch.files.writing import write_table

    # Lines end as RFC 4180 has it, whatever the machine does to them otherwise.
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(encoding="utf-8", newline="")
    columns = exporting.columns(kind, wanted)
    with going(kind.value, shown=not sys.stdout.isatty()) as progress:
        write_table(sys.stdout, columns, exporting.rows(kind, wanted, progress))
    sys.stdout.flush()


def _to_folder(
    exporting: "Exporting",
    kinds: tuple["Kind", ...],
    wanted: "Wanted",
    folder: Path,
    *,
    overwrite: bool,
    parquet: bool,
) -> None:
    from chamberwatch.files.writing import folder_for, must_be_free

    folder_for(folder)
    ending = "parquet" if parquet else "csv"
    paths = {kind: folder / f"{kind}.{ending}" for kind in kinds}
    for path in paths.values():  # all of them before the first is written
        must_be_free(path, overwrite=overwrite)
    for kind, path in paths.items():
        with going(kind.value) as progress:
            rows = exporting.rows(kind, wanted, progress)
            count = _write(path, exporting.columns(kind, wanted), rows, overwrite=overwrite)
        print(f"{path}: {count} {'row' if count == 1 else 'rows'}")


def _write(path: Path, columns: "Sequence[str]", rows: "Iterator[Row]", *, overwrite: bool) -> int:
    """Write a table in the form that its name says; return how many rows there were."""
    from chamberwatch.files.parquet import write_parquet
    from chamberwatch.files.writing import whole_bytes, whole_file, write_table
    from chamberwatch.service.export_rows import type_of

    if path.suffix == ".csv":
        with whole_file(path, overwrite=overwrite) as text:
            return write_table(text, columns, rows)
    with whole_bytes(path, overwrite=overwrite) as file:
        return write_parquet(file, {name: type_of(name) for name in columns}, rows)
