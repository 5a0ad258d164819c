"""Tonight's advice, from the state of the lawn to the report.

The answers for all zones are made to agree in one night, and planned. What is handed out is one Advice. It
is pure: the same inputs give the same advice.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.tonight.advise import advise
    from advisor.tonight.decide_night import decide_night
    from advisor.tonight.lawn_state import lawn_state, what_is_asked
    from advisor.tonight.rain_answer import rain_answer
    from advisor.tonight.what_if_judged import judged_why
else:
    __getattr__ = lazy(
        __name__,
        {
            "advise": ["advise"],
            "decide_night": ["decide_night"],
            "lawn_state": ["lawn_state", "what_is_asked"],
            "rain_answer": ["rain_answer"],
            "what_if_judged": ["judged_why"],
        },
    )

__all__ = [
    "advise",
    "decide_night",
    "judged_why",
    "lawn_state",
    "rain_answer",
    "what_is_asked",
]
