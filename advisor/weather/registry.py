"""The weather sources there are, and what each of them offers.

Each room in `advisor.weather.sources` declares its offer in a value `SOURCE`; a further source is a further
room and a further line in `ROOMS`. Whoever gathers weather asks here and names no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from importlib import import_module
from typing import TYPE_CHECKING, Protocol

from advisor.lawn import ArchivedHour, Place, WeatherSettings
from advisor.weather.ensemble import Ensemble
from advisor.weather.weather import Weather

if TYPE_CHECKING:
    from advisor.weather.client import Client

ROOMS = (
    "advisor.weather.sources.open_meteo",
    "advisor.weather.sources.met_norway",
    "advisor.weather.sources.nws",
)
"""The rooms of the sources; they are loaded when weather is first gathered."""

Forecast = Callable[["Client", Place, WeatherSettings, datetime], Weather]
GetEnsemble = Callable[["Client", Place, WeatherSettings, datetime], Ensemble]
Observed = Callable[["Client", Place, WeatherSettings, datetime], tuple[ArchivedHour, ...]]


class Archive(Protocol):
    """Past weather of the UTC days `first` to `last`, both included; SourceError where there is none."""

    def __call__(
        self,
        client: Client,
        place: Place,
        settings: WeatherSettings,
        now: datetime,
        /,
        *,
        first: date,
        last: date,
    ) -> Weather: ...


@dataclass(frozen=True, slots=True)
class Together:
    """Several places in one request: at most `most` of them, their answers in order."""

    most: int
    forecasts: Callable[[Client, Sequence[Place], WeatherSettings, datetime], Sequence[Weather]]
    ensembles: Callable[[Client, Sequence[Place], WeatherSettings, datetime], Sequence[Ensemble]] | None


@dataclass(frozen=True, slots=True)
class Source:
    """What one source offers. Every function raises SourceError in one sentence where it has nothing.

    `name` is the one allowed in the site file. `rank` orders the sources, the lowest is asked first;
    `countries` are the ISO codes of those that it serves, none for the whole world. `past` says that its
    forecast brings past days with it. `ensemble` gives rain members, `archive` long past days, `observed`
    the last days' hours as a station measured them. `addresses` are its usual ones by the names that the
    site file may give others for.
    """

    name: str
    rank: int
    forecast: Forecast
    countries: frozenset[str] = frozenset()
    past: bool = False
    ensemble: GetEnsemble | None = None
    archive: Archive | None = None
    observed: Observed | None = None
    together: Together | None = None
    addresses: Mapping[str, str] = field(default_factory=dict)


Sources = Mapping[str, Source]


def registered() -> Sources:
    """All sources by their names, in the order of their ranks."""
    found: list[Source] = [import_module(room).SOURCE for room in ROOMS]
    return {source.name: source for source in sorted(found, key=lambda source: source.rank)}


def default_order(country: str, sources: Sources) -> tuple[str, ...]:
    """The names of the sources that suit a country (ISO code, or "" where it is not said).

    Those that serve other countries only are left out; where the country is not said they come last.
    """
    code = country.upper()
    suits = [s for s in sources.values() if not s.countries or not code or code in s.countries]
    return tuple(s.name for s in sorted(suits, key=lambda s: (not code and bool(s.countries), s.rank)))
