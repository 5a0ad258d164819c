"""advisor: what to water tonight, in which zones, for how many minutes, and why.

The command line stands on this library. The names below are its front; each package exports what else there
is. An evening of the invented demo, from what its owner declared to the advice:

>>> from datetime import UTC, datetime
>>> from advisor import advise, cycle_and_soak, load_site, survey
>>> from advisor.night import gather_demo
>>> from advisor.shipped import shipped
>>> site = load_site(shipped("config", "demo.yaml"))
>>> given = gather_demo(site, datetime(2026, 6, 18, 1, 15, tzinfo=UTC))

The water in the soil of each zone, and what is used of it:

>>> ground = survey(site=site, records=given.records, weather=given.weather, now=given.now)
>>> for zone, taw_mm, used_mm in zip(site.zones, ground.taw_mm, ground.depletion_mm[:, 1, -1]):
...     print(f"{zone.name}: {used_mm:.1f} of {taw_mm:.1f} mm")
Front: 12.3 of 38.8 mm
Back: 9.6 of 38.8 mm
Side: 17.2 of 32.5 mm
Bank: 16.9 of 31.5 mm

How long a sprinkler of 40 mm/h may run on the first of them before water runs off, and the pause after it:

>>> cycle_min, soak_min = cycle_and_soak(site.zones[0], 40.0)
>>> print(f"{cycle_min:.0f} min, then {soak_min:.0f} min")
11 min, then 78 min

Tonight's advice, and what each answer for a product that is to be watered in may be expected to lose:

>>> advice = advise(site=site, records=given.records, weather=given.weather, now=given.now)
>>> for run in advice.runs:
...     print(f"{run.zone}: {run.minutes:.0f} min{', if ' + run.only_if if run.only_if else ''}")
Bank: 72 min
Back: 36 min
Front: 34 min
>>> waits = next(each for each in advice.obligations if each.options)
>>> print(waits.product, {str(each.action): f"{each.cost:.2f}" for each in waits.options})
Potash solution {'rain': '0.25', 'run': '0.15', 'wait': '0.15'}
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy
from advisor.version import VERSION as __version__

if TYPE_CHECKING:
    from advisor.advice import Advice
    from advisor.lawn import Records, Site, load_site
    from advisor.soil_water import RootZone, cycle_and_soak, survey
    from advisor.tonight import advise
    from advisor.watering_in import ExpectedLoss
    from advisor.weather import Weather
else:
    __getattr__ = lazy(
        __name__,
        {
            "advice.advice": ["Advice"],
            "lawn": ["Records", "Site", "load_site"],
            "soil_water": ["RootZone", "cycle_and_soak", "survey"],
            "tonight": ["advise"],
            "watering_in": ["ExpectedLoss"],
            "weather": ["Weather"],
        },
    )

__all__ = [
    "Advice",
    "ExpectedLoss",
    "Records",
    "RootZone",
    "Site",
    "Weather",
    "__version__",
    "advise",
    "cycle_and_soak",
    "load_site",
    "survey",
]
