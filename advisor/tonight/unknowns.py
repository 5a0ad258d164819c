"""What tonight's advice does not know or only guesses, each in one sentence with what would help."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.soil_water.requirement import Requirement
from advisor.soil_water.root_zone import RootZone
from advisor.weather.own_words import in_own_words
from advisor.wording import Say, listed

DOUBT_MM = 3.0


def unknowns(say: Say, ground: RootZone, needs: Sequence[Requirement]) -> tuple[str, ...]:
    """The doubts: what the weather lacks first, then what a person can mend."""
    zones = ground.site.zones
    warnings = (n.text for n in (*ground.weather.notes, *ground.notes) if n.level == "warning")
    place = ground.site.place
    told = [_sentence(in_own_words(text, place.units, place.zone)) for text in dict.fromkeys(warnings)]
    unwatered = [zones[z].name for z in ground.unwatered]
    if unwatered:
        told.append(
            f"{listed(unwatered)}: no run and no probe reading is recorded, so how dry the soil is can only be "
            "guessed. It is taken as watered whenever it reached its allowance. Record the last runs "
            "(`advisor record run`) or a probe reading (`advisor record probe`)."
        )
    for zone, figures in zip(zones, ground.figures, strict=True):
        if figures.rate_basis == "guess":
            told.append(
                f"{zone.name}: the precipitation rate {say.rate(figures.rate_mm_h)} is a guess from the head type "
                f"(it may be {say.rate(figures.low_mm_h)} to {say.rate(figures.high_mm_h)}); measure it with `advisor audit`."
            )
    supply = ground.site.supply.flow_l_min
    for zone, figures in zip(zones, ground.figures, strict=True):
        if supply is not None and figures.draws_l_min is not None and figures.draws_l_min > supply:
            told.append(
                f"{zone.name} draws {say.flow(figures.draws_l_min)} by its figures, more than the {say.flow(supply)} "
                "that the supply is said to carry: one of them is off. It is planned to run alone."
            )
    uneven = [z.name for z, f in zip(zones, ground.figures, strict=True) if not f.uniformity_known]
    if uneven:
        told.append(f"{listed(uneven)}: evenness is not measured and taken from the head type.")
    rooted = [z.name for z in zones if not z.root_depth_known]
    if rooted:
        told.append(f"{listed(rooted)}: root depth is a table value; dig a plug and measure it.")
    doubtful = [
        f"{zones[n.zone].name} {say.span(n.low_mm, n.high_mm)}"
        for n in needs
        if n.high_mm - n.low_mm > DOUBT_MM
    ]
    if doubtful:
        told.append(
            f"How dry the soil is now is not sure ({listed(doubtful)} used); a soaking rain or a probe "
            "reading (`advisor record probe`) settles it."
        )
    basis = ground.weather.rain_basis[max(0, ground.first - 72) : ground.first]
    if len(basis) and not np.any(basis == "gauge"):
        told.append(
            "Rain of the last 3 days is from the weather model, not from a gauge: `advisor record rain`."
        )
    if ground.rain_ahead_mm.shape[0] > 1 and ground.calibration.pairs < 30:
        told.append(
            "Chances of rain are not yet tested on this lawn "
            f"({ground.calibration.pairs} forecast-and-gauge pairs): taken with a cautious default."
        )
    if ground.hours_ahead < 72:
        told.append(f"The forecast is known for {ground.hours_ahead} hours only; later is unknown, not dry.")
    return tuple(told)


def _sentence(text: str) -> str:
    """A note as a sentence; a file's name at its head keeps its small letter."""
    first = text.split(maxsplit=1)[0]
    return f"{text if '.' in first else text[:1].upper() + text[1:]}".rstrip(".") + "."
