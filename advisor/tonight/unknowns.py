"""What tonight's advice does not know or only guesses, each with its numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from advisor.advice import Reason, ReasonKind
from advisor.lawn import RateBasis
from advisor.soil_water import Requirement, RootZone

ENOUGH_PAIRS = 30
GAUGE_H = 72  # without a gauge reading for so long the rain is the model's
FAR_H = 72


def unknowns(root_zone: RootZone, requirements: Sequence[Requirement]) -> tuple[Reason, ...]:
    """The doubts about the lawn: what a person can mend, then what only time can."""
    return (*_zones(root_zone), *_soil_state(root_zone, requirements), *_rain(root_zone))


def _zones(root_zone: RootZone) -> Iterator[Reason]:
    zones = root_zone.site.zones
    named = tuple(zones[z].name for z in root_zone.unwatered)
    if named:
        days = (root_zone.first - root_zone.begin) / 24.0
        until = root_zone.weather.starts_at(root_zone.guessed_until)
        is_earlier = root_zone.guessed_until < root_zone.first
        yield Reason(
            kind=ReasonKind.NOTHING_RECORDED, zones=named, days=days, until=until if is_earlier else None
        )
    both = list(zip(zones, root_zone.figures, strict=True))
    for zone, figures in both:
        if figures.rate_basis == RateBasis.GUESS:
            yield Reason(
                kind=ReasonKind.RATE_GUESSED,
                zones=(zone.name,),
                rate_mm_h=figures.rate_mm_h,
                rate_low_mm_h=figures.low_mm_h,
                rate_high_mm_h=figures.high_mm_h,
            )
    supply = root_zone.site.supply.flow_l_min
    for zone, figures in both:
        if supply is not None and figures.draws_l_min is not None and figures.draws_l_min > supply:
            yield Reason(
                kind=ReasonKind.DRAWS_MORE_THAN_SUPPLY,
                zones=(zone.name,),
                flow_l_min=figures.draws_l_min,
                of_l_min=supply,
            )
    uneven = tuple(zone.name for zone, figures in both if not figures.uniformity_known)
    if uneven:
        yield Reason(kind=ReasonKind.EVENNESS_NOT_MEASURED, zones=uneven)
    rooted = tuple(zone.name for zone in zones if not zone.root_depth_known)
    if rooted:
        yield Reason(kind=ReasonKind.ROOT_DEPTH_FROM_TABLE, zones=rooted)


def _soil_state(root_zone: RootZone, requirements: Sequence[Requirement]) -> Iterator[Reason]:
    doubtful = [each for each in requirements if each.is_unsure]
    if doubtful:
        yield Reason(
            kind=ReasonKind.SOIL_STATE_UNSURE,
            zones=tuple(root_zone.site.zones[each.zone].name for each in doubtful),
            ranges_mm=tuple((each.low_mm, each.high_mm) for each in doubtful),
        )


def _rain(root_zone: RootZone) -> Iterator[Reason]:
    basis = root_zone.weather.rain_basis[max(0, root_zone.first - GAUGE_H) : root_zone.first]
    if len(basis) and not np.any(basis == "gauge"):
        yield Reason(kind=ReasonKind.RAIN_FROM_MODEL)
    pairs = root_zone.calibration.pairs
    if root_zone.rain_ahead_mm.shape[0] > 1 and pairs < ENOUGH_PAIRS:
        yield Reason(kind=ReasonKind.CHANCES_NOT_TESTED, count=pairs)
    if root_zone.hours_ahead < FAR_H:
        yield Reason(kind=ReasonKind.FORECAST_SHORT, count=root_zone.hours_ahead)
