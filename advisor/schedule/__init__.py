"""From requests to runs inside the owner's rules.

Depths become minutes, minutes become cycles with soaks, and these find their place in the night between
supply, sun and wind. A plan is checked by code that did not make it.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.schedule.checks import check_plan
    from advisor.schedule.limits import Air, PlanInputs, Running
    from advisor.schedule.planner import SPARE, Plan, Planner, make_plan
    from advisor.schedule.request import DUE, SEED, TURF, Request
    from advisor.schedule.run_length import length_for, minutes_for, run_length
else:
    __getattr__ = lazy(
        __name__,
        {
            "checks": ["check_plan"],
            "limits": ["Air", "PlanInputs", "Running"],
            "planner": ["Plan", "Planner", "SPARE", "make_plan"],
            "request": ["DUE", "Request", "SEED", "TURF"],
            "run_length": ["length_for", "minutes_for", "run_length"],
        },
    )

__all__ = [
    "DUE",
    "SEED",
    "SPARE",
    "TURF",
    "Air",
    "Plan",
    "PlanInputs",
    "Planner",
    "Request",
    "Running",
    "check_plan",
    "length_for",
    "make_plan",
    "minutes_for",
    "run_length",
]
