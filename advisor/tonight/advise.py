"""advise(): from the site, the records, the weather and the time to one Advice. Pure."""

from __future__ import annotations

from datetime import datetime

from advisor.advice import Advice
from advisor.lawn import Records, Site
from advisor.tonight.decide_night import decide_night
from advisor.tonight.lawn_state import LawnState, lawn_state, what_is_asked
from advisor.tonight.plan_night import plan_night
from advisor.tonight.report import report
from advisor.weather import Weather


def advise(
    *, site: Site, records: Records, weather: Weather, now: datetime, previous: Advice | None = None
) -> Advice:
    """Tonight's advice. The same inputs give the same advice; `now` is aware.

    `previous` is the advice given before: for the same night an answer stands while it costs hardly
    more than the best, and what did change is told. Raises CannotAdvise where the weather does not
    cover `now`.
    """
    return advise_on(lawn_state(site=site, records=records, weather=weather, now=now, previous=previous))


def advise_on(lawn: LawnState) -> Advice:
    """Tonight's advice for a lawn whose state is worked out."""
    asked = what_is_asked(lawn)
    decided = decide_night(lawn, asked)
    plan = plan_night(lawn, decided)
    return report(lawn, asked, decided, plan)
