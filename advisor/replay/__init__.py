"""Use case: nights gone by, argued with.

A night is advised again from what was known then, our answer is held against plain rules in the rain that
fell, and forecasts are made from true weather so that whole seasons can be replayed. Pure: no files, no
clock.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.replay.made_forecast import RECIPES, MadeForecasts, Recipe
    from advisor.replay.past_nights import (
        OURS,
        PLAIN_RULES,
        PastNight,
        choices_of,
        night,
        replay_costs,
    )
else:
    __getattr__ = lazy(
        __name__,
        {
            "made_forecast": ["MadeForecasts", "RECIPES", "Recipe"],
            "past_nights": [
                "OURS",
                "PLAIN_RULES",
                "PastNight",
                "choices_of",
                "night",
                "replay_costs",
            ],
        },
    )

__all__ = [
    "OURS",
    "PLAIN_RULES",
    "RECIPES",
    "MadeForecasts",
    "PastNight",
    "Recipe",
    "choices_of",
    "night",
    "replay_costs",
]
