"""How the nightly service is, in plain text."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.advice import SiteHealth
from advisor.sentences import moment_words
from advisor.wording import short_day


def status_text(sites: Sequence[SiteHealth], time_zones: Sequence[ZoneInfo]) -> str:
    """Each site, with times of its own place."""
    lines = [line for one, local in zip(sites, time_zones, strict=True) for line in _site(one, local)]
    return "\n".join(lines) + "\n"


def _restorable(one: SiteHealth, local: ZoneInfo) -> str:
    backup = one.last_backup
    if backup is None:
        return "there is no backup yet from which the records could be restored"
    return (
        f"the records can be restored as of {moment_words(backup.as_of, local)} "
        f"({backup.records} records and advices in {backup.file})"
    )


def _site(one: SiteHealth, local: ZoneInfo) -> list[str]:
    def clock(when: datetime) -> str:
        here = when.astimezone(local)
        return f"{short_day(here)} {here:%H:%M}"

    advice, weather, message = one.last_advice, one.last_weather, one.last_message
    told_advice = advice and f"{clock(advice.given_at)} for the night of {advice.night}: {advice.headline}"
    told_weather = weather and f"{clock(weather.fetched_at)} from {weather.source}"
    told_message = message and f"{clock(message.at)} by {message.channel} ({message.kind})"
    beats = []
    if (beat := one.heartbeat) is not None:
        beats = [
            f"  last heartbeat: {f'{clock(beat.last_at)} to {beat.host}' if beat.last_at else 'none yet'}"
        ]
    return [
        f"{one.site}: {'all is well' if one.ok else 'something is wrong'}",
        *(f"  ! {reason}" for reason in one.reasons),
        f"  last advice:  {told_advice or 'none yet'}",
        f"  last weather: {told_weather or 'none yet'}",
        f"  last message: {told_message or 'none yet'}",
        *beats,
        *([f"  messages waiting: {one.messages_waiting}"] if one.messages_waiting else []),
        *(f"  next {job.job}: {clock(job.at)}" for job in one.next_jobs),
        f"  {_restorable(one, local)}",
        f"  disk free: {one.disk_free_bytes / 1e9:.1f} GB",
    ]
