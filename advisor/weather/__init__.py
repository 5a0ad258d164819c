"""Hourly weather in UTC with its provenance, and the services that it comes from.

Each service is a room of its own; what they tell is judged, completed and settled into one Weather. Only
here is the network reached for weather.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.weather.archiving import (
        ForecastDay,
        RainSoFar,
        forecast_day,
        new_hours,
        pairs_of,
        rain_so_far,
    )
    from advisor.weather.civil import as_date, civil_days
    from advisor.weather.client import Client
    from advisor.weather.climatology import usual_weather
    from advisor.weather.csv_file import read_csv
    from advisor.weather.ensemble import with_members
    from advisor.weather.gather import archived_weather, gather_weather
    from advisor.weather.members import with_built_members
    from advisor.weather.parts import cut, joined
    from advisor.weather.past import RECORDS, settle_past
    from advisor.weather.quality import eto_difference, screen
    from advisor.weather.sources.open_meteo import read_ensemble, read_forecast
    from advisor.weather.together import Ask, gather_together
    from advisor.weather.weather import SERIES, Array, SourceUse, Weather, blank, hours_between
else:
    __getattr__ = lazy(
        __name__,
        {
            "archiving": ["ForecastDay", "RainSoFar", "forecast_day", "new_hours", "pairs_of", "rain_so_far"],
            "civil": ["as_date", "civil_days"],
            "client": ["Client"],
            "climatology": ["usual_weather"],
            "csv_file": ["read_csv"],
            "ensemble": ["with_members"],
            "gather": ["archived_weather", "gather_weather"],
            "members": ["with_built_members"],
            "parts": ["cut", "joined"],
            "past": ["RECORDS", "settle_past"],
            "quality": ["eto_difference", "screen"],
            "sources.open_meteo": ["read_ensemble", "read_forecast"],
            "together": ["Ask", "gather_together"],
            "weather": ["Array", "SERIES", "SourceUse", "Weather", "blank", "hours_between"],
        },
    )

__all__ = [
    "RECORDS",
    "SERIES",
    "Array",
    "Ask",
    "Client",
    "ForecastDay",
    "RainSoFar",
    "SourceUse",
    "Weather",
    "archived_weather",
    "as_date",
    "blank",
    "civil_days",
    "cut",
    "eto_difference",
    "forecast_day",
    "gather_together",
    "gather_weather",
    "hours_between",
    "joined",
    "new_hours",
    "pairs_of",
    "rain_so_far",
    "read_csv",
    "read_ensemble",
    "read_forecast",
    "screen",
    "settle_past",
    "usual_weather",
    "with_built_members",
    "with_members",
]
