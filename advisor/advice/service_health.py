"""How the nightly service is, as handed out: by `advisor status` and at the health address for monitors."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from pydantic import Field

from advisor.advice.advice import Moment
from advisor.advice.frozen import Frozen

HEALTH_SCHEMA = "advisor.health/1"


class Job(StrEnum):
    """What the service does by itself."""

    ADVICE = "advice"
    LOOK = "look"
    ARCHIVE = "archive"
    BACKUP = "backup"
    MISSED = "missed"


class MessageKind(StrEnum):
    """What a message to the owner is about."""

    ADVICE = "advice"
    LOOK = "look"
    NO_ADVICE = "no advice"


class NoUse(StrEnum):
    """Why a message is not sent any more."""

    NO_CHANNEL = "no channel"
    TOO_LATE = "too late"
    REPLACED = "replaced"


class TroubleKind(StrEnum):
    """What can be wrong with the service."""

    NOT_RUNNING = "not running"
    STUCK = "stuck"
    NEVER_SERVED = "never served"
    NO_ADVICE = "no advice"
    OLD_WEATHER = "old weather"
    NO_WEATHER = "no weather"
    MESSAGES_WAIT = "messages wait"
    DISK_NEARLY_FULL = "disk nearly full"
    FAILS = "fails"
    MESSAGE_FAILS = "message fails"
    CLOCK_SET_BACK = "clock set back"
    NOT_KEPT = "not kept"
    RECORDS_NOT_WRITTEN = "records not written"
    NO_BACKUP = "no backup"
    BACKUP_DAMAGED = "backup damaged"


class Trouble(Frozen):
    """One thing that is wrong, with its facts."""

    kind: TroubleKind
    """What is wrong."""
    key: str = ""
    """The key of the job or message that fails."""
    error: str = ""
    """The sentence of the error with which it failed last."""
    times: int = 0
    """How often it failed in a row, how many messages wait, or how many things are not kept."""
    night: date | None = None
    """The night without advice."""
    age_h: float | None = None
    """How old the weather or the newest backup is, in hours."""
    free_bytes: int | None = None
    """What is free on the disk of the records."""
    at: Moment | None = None
    """The latest moment at which something was done, by a clock that was ahead; since when no weather came; or since
    when it is not kept."""
    file: str = ""
    """The backup that is damaged."""


class LastAdvice(Frozen):
    """The newest advice kept."""

    night: date
    """The night that it is for: the local date of its evening."""
    given_at: Moment
    """When it was given."""
    headline: str
    """Its first sentence; "" where it was kept under another schema."""


class LastWeather(Frozen):
    """The newest weather fetched."""

    source: str
    """The service that it came from."""
    fetched_at: Moment
    """When it was fetched."""


class LastMessage(Frozen):
    """The message sent last."""

    at: Moment
    """When it was sent."""
    channel: str
    """The channel that took it."""
    kind: MessageKind
    """What it was about."""


class HeartbeatState(Frozen):
    """The calls that tell a watcher outside of every evening that went well."""

    host: str
    """Who is called; "secret" where the whole address is one."""
    last_at: Moment | None
    """When the last call of the last days went through; none where none did."""
    failed: str
    """Why the newest call failed; "" where it went through."""


class LastBackup(Frozen):
    """The newest backup that was opened, checked and counted, and is still as it was then."""

    as_of: Moment
    """The moment of the records that it holds."""
    file: str
    """The file."""
    records: int
    """How many records and advices it holds."""


class NextJob(Frozen):
    """A job that is still to come."""

    job: Job
    """What will be done."""
    at: Moment
    """When."""


class SiteHealth(Frozen):
    """How one site is served."""

    site: str
    """The site's name."""
    ok: bool
    """Whether nothing is wrong."""
    reasons: tuple[str, ...]
    """What is wrong, a clause each; none when all is well."""
    troubles: tuple[Trouble, ...]
    """The same as data, in the same order."""
    last_advice: LastAdvice | None
    """The newest advice kept; none before the first."""
    last_weather: LastWeather | None
    """The newest weather of the last days; none where there was none."""
    last_message: LastMessage | None
    """The message sent last in the last days; none where there was none."""
    messages_waiting: int
    """How many messages are not sent yet."""
    heartbeat: HeartbeatState | None = None
    """The calls to a watcher outside; none where none is set."""
    next_jobs: tuple[NextJob, ...]
    """The next of each job, earliest first."""
    disk_free_bytes: int
    """What is free on the disk of the records."""
    last_backup: LastBackup | None = None
    """The backup from which the records can be restored; none where there is none."""


class ServiceHealth(Frozen):
    """How all sites are served."""

    schema_version: Literal["advisor.health/1"] = "advisor.health/1"
    """The version of this form."""
    older_name: Literal["advisor.health/1"] = Field(default="advisor.health/1", alias="schema")
    """The same, by its older name."""
    ok: bool
    """Whether nothing is wrong anywhere."""
    reason: str
    """All that is wrong, in one line; "" when all is well."""
    now: Moment
    """The moment that this is about."""
    sites: tuple[SiteHealth, ...]
    """Each site."""

    def as_json(self, *, indent: int) -> str:
        """The public JSON."""
        return self.model_dump_json(by_alias=True, indent=indent)
