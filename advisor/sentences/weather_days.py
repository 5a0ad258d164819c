"""What the numbers of one day rest on, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from advisor.advice import RainBasis, RainFrom
from advisor.science.stand_in import StandIn
from advisor.wording import listed


def rain_source(rain_from: Iterable[RainFrom]) -> str:
    """What a day's rain rests on.

    >>> past = RainFrom(basis=RainBasis.ARCHIVE, sources=("A",), hours=20)
    >>> coming = RainFrom(basis=RainBasis.MEMBERS, sources=("B", "C"), hours=4)
    >>> rain_source((past, coming))
    'archived hours of A and members of B and C'
    """
    return " and ".join(dict.fromkeys(_one(each) for each in rain_from))


def _one(rain_from: RainFrom) -> str:
    names = listed(rain_from.sources)
    if rain_from.basis == RainBasis.GAUGE:
        return str(RainBasis.GAUGE)
    if rain_from.basis == RainBasis.ARCHIVE:
        return f"archived hours of {names}"
    return f"members of {names}" if rain_from.basis == RainBasis.MEMBERS else names


def chance_source(members: int, sources: Sequence[str], pairs: int) -> str:
    """What the chances are counted over and calibrated on.

    >>> chance_source(31, ["A"], 0)
    '31 members of A, default calibration'
    """
    counted = f"{members} members of {listed(sources)}"
    return f"{counted}, calibrated on {pairs} pairs" if pairs else f"{counted}, default calibration"


def eto_source(stand_ins: Sequence[StandIn], air_source: str) -> str:
    """How a day's ETo was made.

    >>> eto_source([StandIn.WIND_2_M_S], "A")
    'FAO-56 Penman–Monteith (u2=2) from A'
    """
    how = f" ({', '.join(stand_ins)})" if stand_ins else ""
    return f"FAO-56 Penman–Monteith{how} from {air_source}"
