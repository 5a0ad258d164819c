"""What the service keeps beside the advice: past weather, forecast against gauge, and backups."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from advisor.errors import RecordsError
from advisor.service.jobs import Due
from advisor.service.keys import advice_keys
from advisor.service.served import Served
from advisor.weather import ForecastDay, forecast_day, new_hours, pairs_of

if TYPE_CHECKING:
    from pathlib import Path

    from advisor.lawn import RainPair, Records
    from advisor.night import Inputs
    from advisor.weather import Weather

GAUGE_MAY_COME_AFTER = timedelta(days=14)


def archive(one: Served, job: Due, weather: Weather, records: Records, now: datetime) -> None:
    """Keep the past hours that are new; hours first, their key after, so that none is skipped."""
    hours = new_hours(weather, records.archive, now)
    if hours:
        one.store.add_archive(hours)
    facts: dict[str, object] = {"hours": len(hours)}
    if weather.sources:
        source = weather.sources[0]
        facts |= {"source": source.name, "fetched_at": source.fetched_at.isoformat()}
    one.mark(job.key, now, facts)


def forecast_facts(weather: Weather, now: datetime) -> dict[str, object]:
    """The rain that the day ahead was told to bring, as it is marked with its advice; empty where untold."""
    ahead = forecast_day(weather, now)
    if ahead is None:
        return {}
    return {
        "forecast": {
            "starts_at": ahead.starts_at.isoformat(),
            "lead_h": ahead.lead_h,
            "mean_mm": ahead.mean_mm,
            "spread_mm": ahead.spread_mm,
            "members": ahead.members,
        }
    }


def pairs_since(one: Served, inputs: Inputs, now: datetime) -> tuple[RainPair, ...]:
    """The forecast days of the last weeks that the gauge has covered by now."""
    days = []
    for event in one.store.events(advice_keys(one.site), since=now - GAUGE_MAY_COME_AFTER):
        row = event.payload.get("forecast")
        if row is None:
            continue
        starts_at = datetime.fromisoformat(row["starts_at"])
        if starts_at + timedelta(hours=24) <= now:
            days.append(
                ForecastDay(starts_at, row["lead_h"], row["mean_mm"], row["spread_mm"], row["members"])
            )
    return pairs_of(days, inputs.records.pairs, inputs.weather)


def backup(one: Served, job: Due, now: datetime) -> None:
    """A dated copy of the records; the oldest beyond the number to keep are taken away."""
    path, folder = one.store.path, one.settings.backup_folder
    assert path is not None
    made = one.store.backup(backup_path(one, job.slot.isoformat()))
    facts = {"file": made.path.name, "sha256": made.sha256, "counts": dict(made.counts)}
    one.mark(job.key, now, facts)
    try:
        for old in backups_of(path, folder)[one.settings.backups_kept :]:
            old.unlink()
    except OSError as error:
        raise RecordsError(f"old backups in {folder} cannot be taken away: {error.strerror}") from error


def backups_of(records: Path, folder: Path) -> list[Path]:
    """The dated backups of these records, newest first."""
    pattern = re.compile(re.escape(records.stem) + r"-\d{4}-\d{2}-\d{2}" + re.escape(records.suffix))
    try:
        return sorted((one for one in folder.iterdir() if pattern.fullmatch(one.name)), reverse=True)
    except FileNotFoundError:
        return []


def backup_path(one: Served, day: str) -> Path:
    """Where the backup of a day stands."""
    path = one.store.path
    assert path is not None
    return one.settings.backup_folder / f"{path.stem}-{day}{path.suffix}"
