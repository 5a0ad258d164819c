"""The next round of products, the hours that suit it, and the tank that it is mixed in.

Hours are barred for typed reasons, or ranked by their worth. Products that must not meet in a tank are kept
apart.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.rounds.next_round import next_rounds
    from advisor.rounds.spray_window import MAY_RAIN, MAY_WASH
    from advisor.rounds.tank_mix import MixAsked, on_hand, plan_mix
else:
    __getattr__ = lazy(
        __name__,
        {
            "next_round": ["next_rounds"],
            "spray_window": ["MAY_RAIN", "MAY_WASH"],
            "tank_mix": ["MixAsked", "on_hand", "plan_mix"],
        },
    )

__all__ = ["MAY_RAIN", "MAY_WASH", "MixAsked", "next_rounds", "on_hand", "plan_mix"]
