"""What the benches found, as one table: what was reached, and whether that meets the aim."""

from dataclasses import dataclass, field

from rich.table import Table


@dataclass(frozen=True, slots=True)
class Finding:
    """One row.

    Attributes:
        what: was measured.
        measured: with its unit.
        limit: what the same run took for the limit, with its unit; empty: there is none.
        ratio: of the two; empty: there is none.
        aim: empty: none was set.
        met: whether the aim is reached; None: there is none, or it could not be measured.
        how: it was measured.
    """

    what: str
    measured: str
    limit: str = ""
    ratio: str = ""
    aim: str = ""
    met: bool | None = None
    how: str = ""


@dataclass(slots=True)
class Told:
    """All rows so far."""

    findings: list[Finding] = field(default_factory=list)

    def add(
        self,
        what: str,
        measured: str,
        *,
        limit: str = "",
        ratio: float | None = None,
        aim: str = "",
        met: bool | None = None,
        how: str = "",
    ) -> None:
        """Add a row; the attributes of `Finding` say what each is."""
        shown = "" if ratio is None else f"{ratio:.2f}" if ratio < 10 else f"{ratio:.0f}"
        self.findings.append(Finding(what, measured, limit, shown, aim, met, how))

    def table(self) -> Table:
        """Return them as one table."""
        table = Table("what", "measured", "limit", "ratio", "aim", "met", "how")
        for each in self.findings:
            met = "" if each.met is None else "yes" if each.met else "NO"
            table.add_row(
                each.what, each.measured, each.limit, each.ratio, each.aim, met, each.how
            )
        return table
