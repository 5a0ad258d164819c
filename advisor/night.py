"""The one road that does input and output in order: gather, advise, keep."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.advice import Advice, JudgedWhy, Note, NoteKind, NoteLevel, open_advice
from advisor.errors import AdvisorError, RecordsError
from advisor.lawn import Records, Site, records_from_json
from advisor.sentences import not_kept
from advisor.shipped import shipped
from advisor.tonight import advise, judged_why
from advisor.weather import Weather, screen, settle_past

if TYPE_CHECKING:
    from advisor.store import Event, Store
    from advisor.weather import Client

RECORDS_DAYS = 45
CACHE = "weather-cache"  # beside the records where the site file names no other folder
DEMO_FETCHED_AT = datetime(2026, 6, 18, 1, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Inputs:
    """All that `advise` takes, gathered."""

    site: Site
    records: Records
    weather: Weather
    now: datetime
    previous: Advice | None = None

    def advise(self) -> Advice:
        """The advice that these inputs give."""
        return advise(
            site=self.site, records=self.records, weather=self.weather, now=self.now, previous=self.previous
        )

    def why(self) -> JudgedWhy:
        """The judged numbers that the advice of these inputs hangs on."""
        return judged_why(
            site=self.site, records=self.records, weather=self.weather, now=self.now, previous=self.previous
        )


def gather_demo(site: Site, now: datetime, *, weather_file: Path | None = None) -> Inputs:
    """The invented demo's inputs: shipped records and weather, no network, nothing kept.

    Later than the demo's evening the advice of that evening is the one given before.
    """
    records = demo_records()
    weather = csv_weather(weather_file, site, now) if weather_file else demo_weather()
    weather = settled(weather, records, now)
    evening = DEMO_FETCHED_AT + timedelta(minutes=15)
    previous = None
    if evening < now:
        previous = Inputs(site, records, weather, evening).advise()
    return Inputs(site, records, weather, now, previous)


def gather(
    site: Site,
    store: Store,
    now: datetime,
    *,
    weather_file: Path | None = None,
    weather: Weather | None = None,
    unkept: Advice | None = None,
) -> Inputs:
    """A real site's inputs: its records, and the weather of its services or of an hourly CSV file.

    `weather` is weather fetched for this site a moment ago, where several sites were asked for together;
    `unkept` an advice given after the last one kept, which the records would not take.
    """
    records = store.records(since=now - timedelta(days=RECORDS_DAYS))
    weather_file = weather_file or site.weather.csv
    if weather is None:
        weather = (
            csv_weather(weather_file, site, now) if weather_file else fetched_weather(site, records, now)
        )
    kept = store.last_advice(site.place.name)
    previous = None
    if kept is not None and kept.given_at <= now:
        previous = open_advice(kept.advice_json)
    if unkept is not None and unkept.now <= now:
        previous = unkept
    return Inputs(site, records, settled(weather, records, now), now, previous)


def tonight(site: Site, store: Store, now: datetime, *, weather_file: Path | None = None) -> Advice:
    """Gather, advise and keep: the whole of one evening. An advice that cannot be kept says so."""
    return kept_or_told(store, gather(site, store, now, weather_file=weather_file).advise())


def why_tonight(site: Site, store: Store, now: datetime, *, weather_file: Path | None = None) -> JudgedWhy:
    """Gather, advise and keep as `tonight` does, and tell which judged numbers the advice hangs on."""
    inputs = gather(site, store, now, weather_file=weather_file)
    advice = kept_or_told(store, inputs.advise())
    return inputs.why().model_copy(update={"not_kept": advice.not_kept})


def kept_or_told(store: Store, advice: Advice) -> Advice:
    """Keep an advice; where the way to the records is blocked, the advice with that said in it."""
    try:
        keep(store, advice)
    except RecordsError as error:
        if not error.may_pass:
            raise
        return told_as_not_kept(advice, error)
    return advice


def told_as_not_kept(advice: Advice, error: RecordsError) -> Advice:
    """The advice with that said in it."""
    return advice.model_copy(update={"not_kept": not_kept(error)})


def keep(store: Store, advice: Advice, *, events: Sequence[Event] = ()) -> None:
    """Keep an advice, and mark `events` with it: all or nothing."""
    store.keep_advice(
        advice.model_dump_json(),
        site=advice.site,
        night=advice.night,
        given_at=advice.now,
        digest=advice.inputs_digest,
        events=events,
    )


def demo_records() -> Records:
    """The demo's records."""
    path = shipped("data", "demo_records.json")
    return records_from_json(path.read_text(encoding="utf-8"), where=str(path))


def demo_weather() -> Weather:
    """The demo's weather, read from stored answers in the services' true shape."""
    from advisor.weather import read_ensemble, read_forecast, with_members

    def stored(name: str) -> object:
        return json.loads(shipped("data", name).read_text(encoding="utf-8"))

    forecast = read_forecast(stored("demo_forecast.json"), fetched_at=DEMO_FETCHED_AT)
    ensemble = read_ensemble(
        stored("demo_ensemble.json"), fetched_at=DEMO_FETCHED_AT, asked=("gfs_seamless",)
    )
    told = Note(level=NoteLevel.TOLD, kind=NoteKind.MADE_UP)
    weather = with_members(forecast, ensemble)
    return replace(weather, notes=(told, *weather.notes))


def csv_weather(path: Path, site: Site, now: datetime) -> Weather:
    """Weather from the owner's hourly CSV; members are made where it has none."""
    from advisor.weather import read_csv, with_built_members

    place = site.place
    weather = read_csv(
        path,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        now=now,
    )
    return with_built_members(weather, now)


def fetched_weather(site: Site, records: Records, now: datetime) -> Weather:
    """Weather from the open services, the next serving where one fails."""
    from advisor.weather import gather_weather

    return gather_weather(
        site.place, site.weather, client_for(site), now, archive=records.archive, judgement=site.judgement
    )


def client_for(site: Site) -> Client:
    """Who asks the services for this site: with its contact, its answers kept beside its records."""
    from advisor.weather import Client

    cache = site.weather.cache or site.records_path.parent / CACHE
    return Client(user_agent_contact=site.place.contact, cache_dir=cache)


def weather_for(
    asked: Sequence[tuple[Site, Records]], now: datetime, *, members: bool = True
) -> list[Weather | AdvisorError]:
    """The weather of several sites, in order, in as few requests as the sources allow.

    What failed stands in the place of its weather. `members` False leaves the rain members unasked.
    """
    from advisor.weather import Ask, gather_together

    found: dict[int, Weather | AdvisorError] = {}
    asks: dict[int, Ask] = {}
    for index, (site, records) in enumerate(asked):
        if site.weather.csv is None:
            asks[index] = Ask(site.place, site.weather, records.archive, site.judgement)
            continue
        try:
            found[index] = csv_weather(site.weather.csv, site, now)
        except AdvisorError as error:
            found[index] = error
    if asks:
        client = client_for(asked[next(iter(asks))][0])
        answers = gather_together(list(asks.values()), client, now, members=members)
        found.update(zip(asks, answers, strict=True))
    return [found[index] for index in range(len(asked))]


def settled(weather: Weather, records: Records, now: datetime) -> Weather:
    """Screened, and with the past as gauge and archive tell it."""
    return settle_past(screen(weather), gauge=records.gauge, archive=records.archive, now=now)
