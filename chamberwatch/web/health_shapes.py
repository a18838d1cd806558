"""How everything is, as the API and the command answer it."""

from pydantic import BaseModel, Field

from chamberwatch.core.backups import BackupStand
from chamberwatch.core.health import Line, SensorStand
from chamberwatch.core.self_check import SelfCheck
from chamberwatch.service.views import Health
from chamberwatch.service.wear import WearNow
from chamberwatch.service.wellness import Report
from chamberwatch.web.shapes import Moment


class CheckOut(BaseModel):
    """What the watcher found when it looked itself over: clock, disk, broker, database."""

    name: str
    well: bool
    words: str = Field(description="how it is, or what is wrong and the cure")

    @classmethod
    def of(cls, check: SelfCheck) -> "CheckOut":
        """Write a line."""
        return cls(name=check.name, well=check.well, words=check.words)


class UnwellOut(BaseModel):
    """One thing that is wrong."""

    name: str = Field(description="of what, as in `lines`")
    words: str = Field(description="what is wrong, and the cure")


class LineOut(BaseModel):
    """How one thing is."""

    name: str
    well: bool
    words: str = Field(description="what it is like; empty where `troubles` say all of it")
    troubles: list[str]

    @classmethod
    def of(cls, line: Line) -> "LineOut":
        """Write a line."""
        return cls(name=line.name, well=line.well, words=line.words, troubles=list(line.troubles))


class CardOut(BaseModel):
    """How the card wears that holds the database."""

    file_bytes: int
    log_bytes: int
    free_bytes: int = Field(description="of the file, for the next rows")
    written_per_day_bytes: float | None = Field(
        description="as measured since the start, backups included; null: not for an hour yet"
    )
    expected_per_day_bytes: float = Field(description="as reckoned, without backups")
    file_after_years_bytes: dict[int, float]

    @classmethod
    def of(cls, wear: WearNow) -> "CardOut":
        """Write it."""
        return cls(
            file_bytes=wear.card.file_bytes,
            log_bytes=wear.card.log_bytes,
            free_bytes=wear.card.free_bytes,
            written_per_day_bytes=wear.written_per_day_bytes,
            expected_per_day_bytes=wear.expected_per_day_bytes,
            file_after_years_bytes=dict(wear.file_after_bytes),
        )


class BackupOut(BaseModel):
    """What is known of backups."""

    file: str = Field(description="of the last that was found sound; empty: none ever was")
    at: Moment | None
    bytes: int
    trouble: str = Field(description="why there is none since; empty: it went well")
    since: Moment | None

    @classmethod
    def of(cls, stand: BackupStand) -> "BackupOut":
        """Write it."""
        return cls(
            file=stand.file,
            at=stand.at,
            bytes=stand.size,
            trouble=stand.trouble,
            since=stand.since,
        )


class SensorStandOut(BaseModel):
    """How a sensor is heard."""

    name: str
    heard_ago_s: float | None
    silent: bool
    doubt: str = Field(description="why it is not to be believed; empty: it is")

    @classmethod
    def of(cls, stand: SensorStand) -> "SensorStandOut":
        """Write it."""
        return cls(
            name=stand.name,
            heard_ago_s=stand.ago.total_seconds() if stand.ago is not None else None,
            silent=stand.silent,
            doubt=stand.doubt.words if stand.doubt is not None else "",
        )


class EverythingOut(BaseModel):
    """How everything is that watching needs."""

    running: bool = Field(description="whether the daemon runs")
    unwell: list[UnwellOut] = Field(description="the gravest first, silent sensors among it")
    lines: list[LineOut]
    card: CardOut | None = Field(description="null: not known")
    backup: BackupOut | None = Field(description="null: not known")
    sensors: list[SensorStandOut]
    versions: dict[str, str]

    @classmethod
    def of(cls, report: Report) -> "EverythingOut":
        """Write a report."""
        return cls(
            running=report.running,
            unwell=[UnwellOut(name=name, words=words) for name, words in report.unwell],
            lines=[LineOut.of(line) for line in report.lines],
            card=CardOut.of(report.wear) if report.wear is not None else None,
            backup=BackupOut.of(report.health.backup[0]) if report.health is not None else None,
            sensors=[SensorStandOut.of(stand) for stand in report.sensors],
            versions=dict(report.versions),
        )


class HealthOut(EverythingOut):
    """How the watcher itself is doing, and everything that watching needs."""

    well: bool = Field(description="the watcher itself is; of sensors `unwell` speaks")
    troubles: list[str]
    started: Moment
    now: Moment
    broker_connected: bool
    last_message_ago_s: float | None
    readings: int
    rejects: int
    waiting_for_clock: int
    undatable: int
    outbox_waiting: int
    version: str
    checks: list[CheckOut]

    @classmethod
    def told(cls, health: Health, report: Report) -> "HealthOut":
        """Write what the daemon answers of itself."""
        ago = health.last_message_ago
        return cls(
            **dict(EverythingOut.of(report)),
            well=health.well,
            troubles=list(health.troubles),
            started=health.started,
            now=health.now,
            broker_connected=health.broker_connected,
            last_message_ago_s=ago.total_seconds() if ago is not None else None,
            readings=health.readings,
            rejects=health.rejects,
            waiting_for_clock=health.waiting_for_clock,
            undatable=health.undatable,
            outbox_waiting=health.outbox_waiting,
            version=health.version,
            checks=[CheckOut.of(check) for check in health.checks],
        )
