"""Use case: nights and whole seasons gone by, lived again and argued with.

A season is lived evening by evening through the very `advise` that serves tonight, in weather that is
known by now, by forecasts as they were or as they are made from it; then it is reckoned up beside plain
rules and beside what could have been done by one who knew all. Pure: no files, no clock.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.replay.duty_rivals import live_by_rules
    from advisor.replay.equal_unmet import least_unmet, mixture, water_at
    from advisor.replay.foresight import foresight
    from advisor.replay.job import (
        BEST,
        CLOCK,
        CLOCK_RAIN_STOP,
        DEFICIT,
        DEFICIT_HALF,
        DEFICIT_MEDIAN,
        RESULT,
        Job,
        Part,
        Result,
        work,
    )
    from advisor.replay.made_forecast import RECIPES, MadeForecasts, Recipe
    from advisor.replay.own_season import cut, own_season, recorded_weather
    from advisor.replay.past_nights import (
        ALWAYS,
        FORESIGHT,
        HALF,
        NEVER,
        NO_LOOK,
        OUR_DEPTH,
        OURS,
        PLAIN_RULES,
        PRICES,
        USUAL,
        WHOLE,
        Outcome,
        PastNight,
        ReplayCosts,
        RuleCost,
        choices_of,
        earned,
        night,
        outcomes,
        replay_costs,
        rows_of,
        rule_name,
    )
    from advisor.replay.rivals import Clock, Deficit, Family, Point, frontier
    from advisor.replay.scores import DutyScores, GrassScores, Scores, scores
    from advisor.replay.season import Diary, Lived, Season, Sky, applications_of, live
    from advisor.replay.true_lawn import TrueLawn, true_lawn
else:
    __getattr__ = lazy(
        __name__,
        {
            "equal_unmet": ["least_unmet", "mixture", "water_at"],
            "own_season": ["cut", "own_season", "recorded_weather"],
            "job": [
                "BEST",
                "CLOCK",
                "CLOCK_RAIN_STOP",
                "DEFICIT",
                "DEFICIT_HALF",
                "DEFICIT_MEDIAN",
                "Job",
                "Part",
                "RESULT",
                "Result",
                "work",
            ],
            "made_forecast": ["MadeForecasts", "RECIPES", "Recipe"],
            "duty_rivals": ["live_by_rules"],
            "foresight": ["foresight"],
            "past_nights": [
                "ALWAYS",
                "FORESIGHT",
                "HALF",
                "NEVER",
                "NO_LOOK",
                "OURS",
                "OUR_DEPTH",
                "PLAIN_RULES",
                "PRICES",
                "USUAL",
                "WHOLE",
                "earned",
                "Outcome",
                "PastNight",
                "ReplayCosts",
                "RuleCost",
                "choices_of",
                "night",
                "outcomes",
                "replay_costs",
                "rows_of",
                "rule_name",
            ],
            "rivals": ["Clock", "Deficit", "Family", "Point", "frontier"],
            "scores": ["DutyScores", "GrassScores", "Scores", "scores"],
            "season": ["Diary", "Lived", "Season", "Sky", "applications_of", "live"],
            "true_lawn": ["TrueLawn", "true_lawn"],
        },
    )

__all__ = [
    "ALWAYS",
    "BEST",
    "CLOCK",
    "CLOCK_RAIN_STOP",
    "DEFICIT",
    "DEFICIT_HALF",
    "DEFICIT_MEDIAN",
    "FORESIGHT",
    "HALF",
    "NEVER",
    "NO_LOOK",
    "OURS",
    "OUR_DEPTH",
    "PLAIN_RULES",
    "PRICES",
    "RECIPES",
    "RESULT",
    "USUAL",
    "WHOLE",
    "Clock",
    "Deficit",
    "Diary",
    "DutyScores",
    "Family",
    "GrassScores",
    "Job",
    "Lived",
    "MadeForecasts",
    "Outcome",
    "Part",
    "PastNight",
    "Point",
    "Recipe",
    "ReplayCosts",
    "Result",
    "RuleCost",
    "Scores",
    "Season",
    "Sky",
    "TrueLawn",
    "applications_of",
    "choices_of",
    "cut",
    "earned",
    "foresight",
    "frontier",
    "least_unmet",
    "live",
    "live_by_rules",
    "mixture",
    "night",
    "outcomes",
    "own_season",
    "recorded_weather",
    "replay_costs",
    "rows_of",
    "rule_name",
    "scores",
    "true_lawn",
    "water_at",
    "work",
]
