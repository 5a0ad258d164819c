"""The state of each zone and what it asks.

Weather, rain and runs of a month become the depletion of the root zone, now and for every member ahead.
Nothing is kept: the state is worked out anew every time.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.soil_water.calibration import columns, fit_days, prior_of, usable
    from advisor.soil_water.daily_balance import balance_terms
    from advisor.soil_water.rain_outlook import chance_of, coming_periods, rain_outlook
    from advisor.soil_water.requirement import Requirement, turf_requirement
    from advisor.soil_water.root_zone import PAST_DAYS, RootZone, survey
    from advisor.soil_water.usual_year import LENGTHS, Climate, Month, climate_of, climate_of_months
    from advisor.soil_water.water_received import (
        Water,
        fallen_weights,
        given_by,
        hour_weights,
        irrigation_by_hour,
    )
    from advisor.soil_water.weather_days import weather_days
    from advisor.soil_water.zone_figures import (
        ZoneFigures,
        audit_range,
        cycle_and_soak,
        student_95,
        zone_figures,
    )
else:
    __getattr__ = lazy(
        __name__,
        {
            "calibration": ["columns", "fit_days", "prior_of", "usable"],
            "daily_balance": ["balance_terms"],
            "rain_outlook": ["chance_of", "coming_periods", "rain_outlook"],
            "requirement": ["Requirement", "turf_requirement"],
            "root_zone": ["PAST_DAYS", "RootZone", "survey"],
            "usual_year": ["Climate", "LENGTHS", "Month", "climate_of", "climate_of_months"],
            "water_received": ["Water", "fallen_weights", "given_by", "hour_weights", "irrigation_by_hour"],
            "weather_days": ["weather_days"],
            "zone_figures": ["ZoneFigures", "audit_range", "cycle_and_soak", "student_95", "zone_figures"],
        },
    )

__all__ = [
    "LENGTHS",
    "PAST_DAYS",
    "Climate",
    "Month",
    "Requirement",
    "RootZone",
    "Water",
    "ZoneFigures",
    "audit_range",
    "balance_terms",
    "chance_of",
    "climate_of",
    "climate_of_months",
    "columns",
    "coming_periods",
    "cycle_and_soak",
    "fallen_weights",
    "fit_days",
    "given_by",
    "hour_weights",
    "irrigation_by_hour",
    "prior_of",
    "rain_outlook",
    "student_95",
    "survey",
    "turf_requirement",
    "usable",
    "weather_days",
    "zone_figures",
]
