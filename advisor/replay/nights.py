"""The nights of a season as every rival meets them: when water may run, and when it may run next.

The same hours and dates bind a rival and our own plan. A rival's water is given in the last allowed hour of
the night, all zones at once; a rule's is cut to what the minutes of the night allow (`within_the_night`).
Foresight's is not: it is to stay a bound, so it may know more and also run deeper than any plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from advisor.hours import chances_to_run, look_at_night
from advisor.replay.season import Season
from advisor.replay.true_lawn import TrueLawn
from advisor.weather import Array


@dataclass(frozen=True, slots=True)
class SeasonNight:
    """One night by hours of the truth: `asked` in the evening, `run` in which it is watered (None where the
    rules allow none), `next` in which it may be watered after that, `until` the next evening; and the run
    time it has, min."""

    at: datetime
    asked: int
    run: int | None
    next: int
    until: int
    minutes: float


def season_nights(season: Season) -> list[SeasonNight]:
    """Every night of a season."""
    site, lawn = season.site, season.lawn
    evenings = [*season.evenings(), season.ends_at]
    found = []
    for now, after in pairwise(evenings):
        night = look_at_night(site, now)
        run_at, next_at = chances_to_run(night, now)
        minutes = sum((w.ends_at - w.starts_at).total_seconds() / 60.0 for w in night.windows)
        if site.rules.minutes_a_night is not None:
            minutes = min(minutes, site.rules.minutes_a_night)
        tonight = bool(night.windows) and run_at <= after
        found.append(
            SeasonNight(
                at=now,
                asked=lawn.hour(now),
                run=max(lawn.hour(run_at) - 1, lawn.hour(now)) if tonight else None,
                next=lawn.hour(next_at) - 1 if next_at is not None else lawn.hour(after),
                until=lawn.hour(after),
                minutes=minutes if tonight else 0.0,
            )
        )
    return found


def within_the_night(lawn: TrueLawn, depth_mm: Array, minutes: float) -> Array:
    """Effective depths (z, m) cut to the run time that a night has, all zones by the same share."""
    figures = lawn.ground.figures
    per_mm = np.array([60.0 * f.multiplier / f.rate_mm_h for f in figures])
    wanted = (depth_mm * per_mm[:, None]).sum(axis=0)
    share = np.minimum(1.0, minutes / np.maximum(wanted, 1e-9))
    return np.asarray(depth_mm * share)
