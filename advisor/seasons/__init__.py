"""Many seasons at once: jobs shared out over processes or a cluster, kept as they finish.

Here what was asked becomes jobs, the jobs become results, and the results become a report; what a season
comes to is worked out in `replay`. A run that is broken off goes on where it stopped.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.seasons.digest import digest_of
    from advisor.seasons.kept import may_keep
    from advisor.seasons.pool import JobsFailed, run_jobs
    from advisor.seasons.report import Lawn, jobs_of, nothing_lived, replay_report
    from advisor.seasons.told_forecasts import ForecastsTold, forecasts_told
    from advisor.seasons.true_weather import (
        Span,
        recorded_hours,
        span_of,
        weather_of_archive,
        weather_of_file,
        weather_of_records,
    )
else:
    __getattr__ = lazy(
        __name__,
        {
            "digest": ["digest_of"],
            "kept": ["may_keep"],
            "pool": ["JobsFailed", "run_jobs"],
            "report": ["Lawn", "jobs_of", "nothing_lived", "replay_report"],
            "told_forecasts": ["ForecastsTold", "forecasts_told"],
            "true_weather": [
                "Span",
                "recorded_hours",
                "span_of",
                "weather_of_archive",
                "weather_of_file",
                "weather_of_records",
            ],
        },
    )

__all__ = [
    "ForecastsTold",
    "JobsFailed",
    "Lawn",
    "Span",
    "digest_of",
    "forecasts_told",
    "jobs_of",
    "may_keep",
    "nothing_lived",
    "recorded_hours",
    "replay_report",
    "run_jobs",
    "span_of",
    "weather_of_archive",
    "weather_of_file",
    "weather_of_records",
]
