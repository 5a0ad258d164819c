"""Use case: nights and whole seasons gone by, lived again and argued with.

A season is lived evening by evening through the very `advise` that serves tonight, in weather that is
known by now, by forecasts as they were or as they are made from it; then it is reckoned up beside plain
rules and beside what could have been done by one who knew all. Pure: no files, no clock.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.replay.past_nights import (
        OURS,
        PLAIN_RULES,
        PastNight,
        ReplayCosts,
        RuleCost,
        choices_of,
        night,
        replay_costs,
    )
else:
    __getattr__ = lazy(
        __name__,
        {
            "past_nights": [
                "OURS",
                "PLAIN_RULES",
                "PastNight",
                "ReplayCosts",
                "RuleCost",
                "choices_of",
                "night",
                "replay_costs",
            ],
        },
    )

__all__ = [
    "OURS",
    "PLAIN_RULES",
    "PastNight",
    "ReplayCosts",
    "RuleCost",
    "choices_of",
    "night",
    "replay_costs",
]
