"""What the cautions of tonight rest on: what is on the lawn, what is to run, what meets seed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from advisor.advice import Asking, Caution, PlannedRun
from advisor.lawn import Product, Records, SeedConflict, Site, seed_conflicts
from advisor.soil_water import RootZone
from advisor.watering_in import NightRisks, PutDown, ZoneApplication, cautions_for

NEAR_H = 14  # the hours from now on in which it may freeze
TAKEN_MM = 2.0  # runoff from here on has probably taken product along


def meeting_seed(
    site: Site, records: Records, obligations: Sequence[ZoneApplication]
) -> dict[ZoneApplication, tuple[SeedConflict, ...]]:
    """What harms grass that comes up from seed, or is seed that something keeps from growing, and why."""
    found = {}
    for one in obligations:
        here = replace(one.application, zones=(one.zone,))
        conflicts = seed_conflicts([here], records.applications, site)
        if conflicts:
            found[one] = conflicts
    return found


def cautions(
    ground: RootZone,
    obligations: Sequence[ZoneApplication],
    runs: Sequence[PlannedRun],
    meet_seed: Mapping[ZoneApplication, Sequence[SeedConflict]],
) -> tuple[Caution, ...]:
    """Cautions for what is on the lawn and what is to run, the gravest first; the label overrides.

    `meet_seed` as `meeting_seed` gives it.
    """
    recent = [o for o in obligations if o.status not in ("watered in", "nothing asked")]
    night = NightRisks(
        seed=tuple(conflict for conflicts in meet_seed.values() for conflict in conflicts),
        ran_off=_put_down(o for o in recent if o.runoff_mm > TAKEN_MM),
        water_runs=bool(runs),
        coldest_c=_coldest(ground),
    )
    return cautions_for(Asking.TONIGHT, _put_down(recent), night)


def _put_down(those: Iterable[ZoneApplication]) -> tuple[PutDown, ...]:
    """Each product once, with the zones on which it lies."""
    zones: dict[str, dict[str, None]] = {}
    products: dict[str, Product] = {}
    for one in those:
        products[one.product.name] = one.product
        zones.setdefault(one.product.name, {})[one.zone] = None
    return tuple(PutDown(product, tuple(zones[name])) for name, product in products.items())


def _coldest(ground: RootZone) -> float:
    temps = ground.weather.temp_c[ground.first : ground.first + NEAR_H]
    return float(np.nanmin(temps)) if np.isfinite(temps).any() else float("nan")
