"""What an audit's figures mean in plain words: how sure, how good, what to look at, what to mind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.advice.cautions import TOPIC, Asking, Caution, CautionKind
from advisor.lawn.records import Audit
from advisor.lawn.site_values import Zone
from advisor.sentences.cautions import told
from advisor.soil_water.zone_figures import cycle_and_soak
from advisor.units import show

ENOUGH_CANS = 20
"""At least 20 cans a zone: University of Minnesota Extension."""
FEW_CANS = 12
"""Below: too few to rely on (common practice, no source)."""
INCH_MM = 25.4
"""A run up to so much is looked at for its need of soaks (no source)."""
WIND_MOST_M_S = 2.2352
"""5 mph: New Mexico State University H-510; audit guidelines 2009."""
ASKED_OF_NEW = 0.65
"""DU_lq asked of new homes: EPA WaterSense audit guidelines."""
GOOD, POOR = 0.75, 0.50
"""Above: little to gain; below: mend before watering by it (common practice, no source)."""
LOOKS = ((GOOD, "even"), (ASKED_OF_NEW, "even enough"), (POOR, "uneven"), (0.0, "very uneven"))
LEANS = 0.5
"""A correlation of depth with place from which the fall-off is told (common practice, no source)."""

Can = tuple[float, float | None, float | None]


def confidence_of(audit: Audit, wind_m_s: float | None) -> str:
    """ "good", "fair" or "low", from the number of cans and the wind."""
    if audit.method == "flow meter":
        return "good"
    if audit.cans < FEW_CANS or _is_windy(wind_m_s):
        return "low"
    return "good" if audit.cans >= ENOUGH_CANS else "fair"


def _is_windy(wind_m_s: float | None) -> bool:
    return wind_m_s is not None and wind_m_s > WIND_MOST_M_S


def verdict_of(audit: Audit, wind_m_s: float | None, units: str) -> str:
    """One sentence on the zone, no surer than the audit."""
    rate = show(audit.rate_mm_h, "rate", units)
    if audit.uniformity is None:
        return f"It gives {rate}; how evenly, this way of measuring cannot tell."
    even = show(audit.uniformity, "share", units)
    if confidence_of(audit, wind_m_s) == "low":
        looks = next(words for least, words in LOOKS if audit.uniformity >= least)
        weak = [f"{audit.cans} cans"] if audit.cans < FEW_CANS else []
        if wind_m_s is not None and _is_windy(wind_m_s):
            weak.append(f"wind {show(wind_m_s, 'wind', units)}")
        return (
            f"It gives about {rate} and looks {looks} ({even}), but this audit is too weak to rely on "
            f"({', '.join(weak)}): measure again."
        )
    if audit.uniformity >= GOOD:
        return f"It gives {rate} and waters evenly ({even}); little is to be gained."
    if audit.uniformity >= ASKED_OF_NEW:
        return f"It gives {rate} and waters evenly enough ({even}; 65 % is asked of new homes)."
    if audit.uniformity >= POOR:
        return f"It gives {rate} and waters unevenly ({even}; 65 % is asked of new homes): worth mending."
    return f"It gives {rate} and waters very unevenly ({even}): mend it before watering by these figures."


def what_to_look_at(
    zone: Zone, audit: Audit, cans: Sequence[Can], *, wind_m_s: float | None, units: str
) -> tuple[str, ...]:
    """What the figures point at, most useful first. `cans` are (depth mm, x m, y m)."""
    said: list[str] = []
    if wind_m_s is not None and _is_windy(wind_m_s):
        said.append(
            f"Wind of {show(wind_m_s, 'wind', units)} is above {show(WIND_MOST_M_S, 'wind', units)}: "
            "measure again on a calm morning."
        )
    if audit.method == "catch cans" and audit.cans < ENOUGH_CANS:
        said.append(f"{audit.cans} cans are few: {ENOUGH_CANS} or more make the figures firm.")
    if audit.method == "single can":
        said.append("One can stands for one spot only: set out several, or read the meter.")
    said += _against_head(zone, audit, units)
    if audit.uniformity is not None and audit.uniformity < GOOD:
        said += [
            *_where_dry(cans),
            "Pressure: too low leaves dry rings, too high drifts as mist.",
            "Tilted, sunken or clogged heads, and grass in front of them.",
            "Spacing: each head should throw to the next one.",
        ]
    said += _odd_cans(cans, units)
    cycle, soak = cycle_and_soak(zone, audit.rate_mm_h)
    if cycle is not None and 60.0 * INCH_MM / audit.rate_mm_h > cycle:
        said.append(
            f"It gives water faster than the soil takes it in: no more than {cycle:.0f} min without a pause, "
            f"then a soak of {soak:.0f} min."
        )
    return tuple(said)


def _against_head(zone: Zone, audit: Audit, units: str) -> list[str]:
    head = zone.head
    if head is None or head.rate_low_mm_h <= audit.rate_mm_h <= head.rate_high_mm_h:
        return []
    side, cause = (
        ("less", "low pressure, clogged nozzles or wide spacing")
        if audit.rate_mm_h < head.rate_low_mm_h
        else ("more", "large nozzles, close spacing, or an area or unit noted wrongly")
    )
    low, high = (show(r, "rate", units) for r in (head.rate_low_mm_h, head.rate_high_mm_h))
    return [f"{head.name} heads usually give {low} to {high}; this is {side}: {cause}."]


def _where_dry(cans: Sequence[Can]) -> list[str]:
    """Which way the zone falls off, where the places are known."""
    placed = np.array([c for c in cans if c[1] is not None and c[2] is not None], dtype=np.float64)
    if len(placed) < ENOUGH_CANS // 2 or np.ptp(placed[:, 0]) == 0.0:
        return []
    said = []
    for axis, name in ((1, "x"), (2, "y")):
        if np.ptp(placed[:, axis]) == 0.0:
            continue
        leans = float(np.corrcoef(placed[:, axis], placed[:, 0])[0, 1])
        if abs(leans) >= LEANS:
            end = "small" if leans > 0 else "large"
            said.append(f"It is drier towards {end} {name}: look at the heads on that side first.")
    return said


def _odd_cans(cans: Sequence[Can], units: str) -> list[str]:
    """A single can far from all others: tipped, under a leaf, or beside a leak."""
    depths = np.array([c[0] for c in cans], dtype=np.float64)
    if depths.size < ENOUGH_CANS // 2:
        return []
    middle = float(np.median(depths))
    odd = [i for i in range(depths.size) if depths[i] < 0.3 * middle or depths[i] > 2.5 * middle]
    if not 0 < len(odd) <= 2:
        return []
    told = " and ".join(f"can {i + 1} ({show(float(depths[i]), 'depth', units)})" for i in odd)
    return [f"Far from the others: {told}; was it tipped, sheltered or beside a leak?"]


def audit_cautions(audit: Audit) -> tuple[Caution, ...]:
    """What to mind while measuring."""
    kinds = [CautionKind.WET_PAVING]
    if audit.method != "flow meter":
        kinds.append(CautionKind.CLEAN_CANS)
    return told([Caution(topic=TOPIC[kind], kind=kind) for kind in kinds], Asking.AUDIT)
