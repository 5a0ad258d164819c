"""The weather of several sites in one request each for forecast and members, where the source allows it.

Each site's weather is then gathered as if it had asked alone: the same fail-over, screening and notes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from advisor.errors import SourceError, WeatherError
from advisor.lawn.records import ArchivedHour
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.gather import SERVICES, Fetch, default_order, gather_weather, with_ensemble
from advisor.weather.weather import Weather

if TYPE_CHECKING:
    from advisor.weather.client import Client
    from advisor.weather.sources.open_meteo import Ensemble

AT_ONCE = 50
"""Places in one request, so that its address stays well under what servers take."""

Found = tuple[Weather | SourceError, "Ensemble | SourceError | None"]


@dataclass(frozen=True, slots=True)
class Ask:
    """One site's question."""

    place: Place
    settings: WeatherSettings
    archive: Sequence[ArchivedHour] = ()


def gather_together(
    asks: Sequence[Ask], client: Client, now: datetime, *, members: bool = True
) -> list[Weather | WeatherError]:
    """Each site's weather, or why it has none, in order.

    Sites whose first source takes several places are asked for together. `members` False leaves the
    rain members unasked; they are then built from the forecast.
    """
    ready = _asked_together(asks, client, now, members=members)
    answers: list[Weather | WeatherError] = []
    for index, ask in enumerate(asks):
        sources = SERVICES if index not in ready else {**SERVICES, "open_meteo": _given(ready[index])}
        try:
            found = gather_weather(ask.place, ask.settings, client, now, archive=ask.archive, sources=sources)
        except WeatherError as failure:
            answers.append(failure)
        else:
            answers.append(found)
    return answers


def _given(found: Found) -> Fetch:
    """A source that hands out what was fetched for all."""

    def fetch(client: Client, place: Place, settings: WeatherSettings, now: datetime) -> Weather:  # noqa: ARG001
        weather, ensemble = found
        if isinstance(weather, SourceError):
            raise weather
        if ensemble is None:
            return weather
        return with_ensemble(weather, ensemble, place, settings, now)

    return fetch


def _asked_together(
    asks: Sequence[Ask], client: Client, now: datetime, *, members: bool
) -> Mapping[int, Found]:
    from advisor.weather.client import OUR_FAULT, Refused
    from advisor.weather.sources import open_meteo

    groups: dict[tuple[object, ...], list[int]] = {}
    for index, ask in enumerate(asks):
        settings = ask.settings
        order = settings.sources or default_order(ask.place.country)
        if order[0] == "open_meteo":
            key = (tuple(sorted(settings.base_urls.items())), settings.ensemble_models)
            groups.setdefault(key, []).append(index)
    ready: dict[int, Found] = {}
    for group in groups.values():
        for part in (group[n : n + AT_ONCE] for n in range(0, len(group), AT_ONCE)):
            places, settings = [asks[i].place for i in part], asks[part[0]].settings
            try:
                weathers: Sequence[Weather | SourceError] = open_meteo.get_forecasts(
                    client, places, settings, now
                )
            except SourceError as failure:
                if isinstance(failure, Refused) and failure.status in OUR_FAULT:
                    continue  # one place may be at fault: each asks for itself
                ready.update((i, (failure, None)) for i in part)
                continue
            ensembles: Sequence[Ensemble | SourceError | None] = [None] * len(part)
            if members:
                try:
                    ensembles = open_meteo.get_ensembles(client, places, settings, now)
                except SourceError as failure:
                    ensembles = [failure] * len(part)
            ready.update(zip(part, zip(weathers, ensembles, strict=True), strict=True))
    return ready
