"""Use case: nights and whole seasons gone by, lived again and argued with.

A season is lived evening by evening through the very `advise` that serves tonight, in weather that is
known by now, by forecasts as they were or as they are made from it; then it is reckoned up beside plain
rules and beside what could have been done by one who knew all. Pure: no files, no clock.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.replay.equal_unmet import ALIKE_MM, least_unmet, water_at
    from advisor.replay.job import BEST, RESULT, Job, Part, Result, work
    from advisor.replay.made_forecast import RECIPES, Recipe
    from advisor.replay.own_season import own_season, recorded_weather
    from advisor.replay.past_nights import OURS, USUAL, earned, rows_of
    from advisor.replay.rivals import Point
    from advisor.replay.scores import Scores
    from advisor.replay.season import Sky
else:
    __getattr__ = lazy(
        __name__,
        {
            "equal_unmet": ["ALIKE_MM", "least_unmet", "water_at"],
            "own_season": ["own_season", "recorded_weather"],
            "job": ["BEST", "Job", "Part", "RESULT", "Result", "work"],
            "made_forecast": ["RECIPES", "Recipe"],
            "past_nights": ["OURS", "USUAL", "earned", "rows_of"],
            "rivals": ["Point"],
            "scores": ["Scores"],
            "season": ["Sky"],
        },
    )

__all__ = [
    "ALIKE_MM",
    "BEST",
    "OURS",
    "RECIPES",
    "RESULT",
    "USUAL",
    "Job",
    "Part",
    "Point",
    "Recipe",
    "Result",
    "Scores",
    "Sky",
    "earned",
    "least_unmet",
    "own_season",
    "recorded_weather",
    "rows_of",
    "water_at",
    "work",
]
