"""The weather of several sites in one request each for forecast and members, where the source allows it.

Each site's weather is then gathered as if it had asked alone: the same fail-over, screening and notes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

from advisor.errors import SourceError, WeatherError
from advisor.lawn import ArchivedHour, Judgement, Place, WeatherSettings
from advisor.weather.ensemble import Ensemble
from advisor.weather.gather import gather_weather
from advisor.weather.registry import Source, Sources, Together, default_order, registered
from advisor.weather.weather import Weather

if TYPE_CHECKING:
    from advisor.weather.client import Client

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Ask:
    """One site's question; `judgement` the site's, else the shipped one."""

    place: Place
    settings: WeatherSettings
    archive: Sequence[ArchivedHour] = ()
    judgement: Judgement | None = None


def gather_together(
    asks: Sequence[Ask],
    client: Client,
    now: datetime,
    *,
    members: bool = True,
    sources: Sources | None = None,
) -> list[Weather | WeatherError]:
    """Each site's weather, or why it has none, in order.

    Sites whose first source takes several places are asked for together. `members` False leaves the
    rain members of those unasked; they are then built from the forecast. `sources`: those to ask, else the
    registered ones.
    """
    known = sources if sources is not None else registered()
    ready: dict[int, Source] = {}
    for source, together, indices in _groups(asks, known):
        part = [asks[i] for i in indices]
        given_out = _asked_together(source, together, part, client, now, members=members)
        ready.update(zip(indices, given_out, strict=True))
    answers: list[Weather | WeatherError] = []
    for index, ask in enumerate(asks):
        given = ready.get(index)
        mine = known if given is None else {**known, given.name: given}
        try:
            found = gather_weather(
                ask.place,
                ask.settings,
                client,
                now,
                archive=ask.archive,
                sources=mine,
                judgement=ask.judgement,
            )
        except WeatherError as failure:
            answers.append(failure)
        else:
            answers.append(found)
    return answers


def _groups(asks: Sequence[Ask], sources: Sources) -> Iterator[tuple[Source, Together, list[int]]]:
    """The sites that one request can serve: same first source, same addresses, same models."""
    groups: dict[tuple[object, ...], list[int]] = {}
    first: dict[tuple[object, ...], tuple[Source, Together]] = {}
    for index, ask in enumerate(asks):
        settings = ask.settings
        order = settings.sources or default_order(ask.place.country, sources)
        source = sources[order[0]]
        if source.together is not None:
            key = (source.name, tuple(sorted(settings.base_urls.items())), settings.ensemble_models)
            groups.setdefault(key, []).append(index)
            first[key] = (source, source.together)
    for same, group in groups.items():
        source, together = first[same]
        for n in range(0, len(group), together.most):
            yield source, together, group[n : n + together.most]


def _asked_together(
    source: Source, together: Together, asks: Sequence[Ask], client: Client, now: datetime, *, members: bool
) -> list[Source]:
    """For each site the source that hands out what was fetched for all, forecast and members."""
    from advisor.weather.client import OUR_FAULT, Refused

    places, settings = [ask.place for ask in asks], asks[0].settings
    forecasts: Sequence[Weather | SourceError]
    try:
        forecasts = together.forecasts(client, places, settings, now)
    except SourceError as failure:
        if isinstance(failure, Refused) and failure.status in OUR_FAULT:
            return [source] * len(asks)  # one place may be at fault: each asks for itself
        forecasts = [failure] * len(asks)
        members = False
    if not members or together.ensembles is None:
        return [_given(source, forecast, None) for forecast in forecasts]
    ensembles: Sequence[Ensemble | SourceError]
    try:
        ensembles = together.ensembles(client, places, settings, now)
    except SourceError as failure:
        ensembles = [failure] * len(asks)
    return [_given(source, *both) for both in zip(forecasts, ensembles, strict=True)]


def _given(
    source: Source, forecast: Weather | SourceError, ensemble: Ensemble | SourceError | None
) -> Source:
    """The source as one that hands out what was fetched; without members where there is no `ensemble`."""
    return replace(
        source,
        forecast=lambda *_: _or_raised(forecast),
        ensemble=None if ensemble is None else lambda *_: _or_raised(ensemble),
    )


def _or_raised(found: T | SourceError) -> T:
    if isinstance(found, SourceError):
        raise found
    return found
