"""What a site file comes to: each zone's figures, and the guesses that are worth measuring."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from advisor.errors import InputError
from advisor.lawn.site_values import RateBasis, Site, Zone
from advisor.lawn.starter import EXAMPLE_ZONE
from advisor.lawn.yaml_lines import read_text, read_yaml
from advisor.science.soil import total_available_water
from advisor.units import show

TEN_MIN_H = 10 / 60
TINY = 1e-6


@dataclass(frozen=True, slots=True)
class DeclaredFigures:
    """One zone: total available water and allowed depletion in mm, and what 10 minutes use in L.

    TAW = available water · root depth; the allowed depletion is p · TAW at ETc 5 mm/d (FAO-56,
    chapter 8), or the owner's own share of TAW.
    """

    taw_mm: float
    allowed_mm: float
    ten_minutes_l: float


def declared_figures(zone: Zone) -> DeclaredFigures:
    """The figures of one zone."""
    taw = total_available_water(available_mm_m=zone.soil.available_mm_m, root_depth_m=zone.root_depth_m)
    share = zone.turf.p if zone.allowed_depletion is None else zone.allowed_depletion
    return DeclaredFigures(
        taw_mm=taw,
        allowed_mm=share * taw,
        ten_minutes_l=zone.rate.rate_mm_h * TEN_MIN_H * zone.area_m2,
    )


def at_odds(site: Site) -> tuple[str, ...]:
    """One sentence for each thing in the file that another thing in it contradicts."""
    supply, system = site.supply.flow_l_min, site.place.units
    found: list[str] = []
    for zone in site.zones:
        draws = zone.flow_l_min
        if draws is None and zone.rate.basis != RateBasis.GUESS:
            draws = zone.rate.rate_mm_h * zone.area_m2 / 60
        if supply is not None and draws is not None and draws > supply * (1 + TINY):
            found.append(
                f"{zone.name}: by its flow, or its rate and area, it draws {show(draws, 'flow', system)}, more "
                f"than the {show(supply, 'flow', system)} that the supply carries; one of them is off"
            )
    return tuple(found)


def dated_ahead(site: Site, today: date) -> tuple[InputError, ...]:
    """A problem, with its line in the site file, for each measurement dated after `today`."""
    problems: list[InputError] = []
    for index, zone in enumerate(site.zones):
        measured_on = zone.rate.measured_on
        if measured_on is not None and measured_on > today:
            problems.append(
                InputError(
                    f"zones[{zone.name}].rate.on: a measurement is dated ahead",
                    where=str(site.path),
                    line=read_yaml(read_text(site.path, ""), str(site.path)).line(
                        ("zones", index, "rate", "on")
                    ),
                    found=repr(str(measured_on)),
                    allowed=f"up to today, {today}",
                )
            )
    return tuple(problems)


def to_measure(site: Site) -> tuple[str, ...]:
    """One sentence for each thing that was guessed or that is still the starter's, in zone order."""
    system = site.place.units
    found: list[str] = []
    for zone in site.zones:
        if zone.name == EXAMPLE_ZONE:
            found.append(f"{zone.name}: this is the starter's example; put your own zones in its place")
        if zone.rate.basis == RateBasis.GUESS:
            low, high = (show(rate, "rate", system) for rate in (zone.rate.low_mm_h, zone.rate.high_mm_h))
            found.append(
                f"{zone.name}: the rate is a guess from its head type, anywhere from {low} to {high}; "
                "a catch-can audit settles it"
            )
        if not zone.uniformity_known and zone.head is not None:
            found.append(
                f"{zone.name}: the distribution uniformity of {show(zone.uniformity, 'share')} is what "
                f"{zone.head.name.lower()} heads usually give; a catch-can audit settles it"
            )
        if not zone.root_depth_known:
            depth = show(1000 * zone.root_depth_m, "depth", system, digits=0)
            found.append(f"{zone.name}: the root depth of {depth} is the grass's usual; dig and look")
    return tuple(found)
