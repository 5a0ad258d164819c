"""The cautions that apply tonight. The label and local rules win over everything printed here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from advisor.advice.advice import PlannedRun
from advisor.advice.cautions import Caution, CautionTopic
from advisor.lawn.records import Records
from advisor.lawn.seedbeds import seed_warnings
from advisor.lawn.site_values import Site
from advisor.soil_water.root_zone import RootZone
from advisor.watering_in.applications import ZoneApplication

ICE_C = 4.0
HEAVY_RAIN = "nothing before heavy rain or on saturated or frozen ground"
GENERAL = frozenset(
    {
        "the label is the law and overrides every number here",
        "stay off until dry, people and pets",
        "wear the clothing and waterproof gloves the label asks for",
        "keep off hard surfaces and away from water; local rules set the buffer",
        "keep off hard surfaces and away from water",
        "an air gap when filling and a vacuum breaker on every hose",
        "sweep granules off hard surfaces back onto the lawn",
        HEAVY_RAIN,
        "keep away from water; local rules set the buffer and the months",
    }
)
"""Cautions of the kinds that are said once for all, or belong to the mixing and not to the night."""


def meeting_seed(
    site: Site, records: Records, obligations: Sequence[ZoneApplication]
) -> dict[ZoneApplication, tuple[str, ...]]:
    """What harms grass that comes up from seed, or is seed that something keeps from growing, and why."""
    found = {}
    for one in obligations:
        here = replace(one.application, zones=(one.zone,))
        told = seed_warnings([here], records.applications, site)
        if told:
            found[one] = told
    return found


def cautions(
    ground: RootZone,
    obligations: Sequence[ZoneApplication],
    runs: Sequence[PlannedRun],
    meet_seed: Mapping[ZoneApplication, Sequence[str]],
) -> tuple[Caution, ...]:
    """Cautions for what is on the lawn and what is to run, the gravest first; the label overrides.

    `meet_seed` as `meeting_seed` gives it.
    """
    found = [
        Caution(topic=CautionTopic.SEED, text=f"{text}.") for told in meet_seed.values() for text in told
    ]
    recent = [o for o in obligations if o.status not in ("watered in", "nothing asked")]
    if recent:
        found.append(
            Caution(
                topic=CautionTopic.LABEL,
                text="The label is the law and overrides every number here; so do local rules.",
            )
        )
        found.append(
            Caution(
                topic=CautionTopic.RE_ENTRY,
                text="People and pets stay off treated grass until it is dry or as long as the label says.",
            )
        )
    for name in dict.fromkeys(o.product.name for o in recent if HEAVY_RAIN in o.product.kind.cautions):
        found.append(Caution(topic=CautionTopic.HEAVY_RAIN, text=f"{name}: put down {HEAVY_RAIN}."))
    for one in recent:
        special = [c for c in (*one.product.kind.cautions, *one.product.cautions) if c not in GENERAL]
        found += [
            Caution(topic=CautionTopic.PRODUCT, text=f"{one.product.name}: {text}.") for text in special
        ]
    if any(o.product.kind.form == "granule" for o in recent):
        found.append(
            Caution(
                topic=CautionTopic.HARD_SURFACES,
                text="Sweep granules off walks and drives before any water runs.",
            )
        )
    ran_off = [o for o in recent if o.runoff_mm > 2.0]
    if ran_off:
        found.append(
            Caution(
                topic=CautionTopic.RUNOFF,
                text="A hard shower ran off; some product may have gone with it. Do not re-treat at once.",
            )
        )
    if runs:
        found.append(
            Caution(
                topic=CautionTopic.BACKFLOW,
                text="A sprinkler system and every hose need a working backflow preventer.",
            )
        )
        found.append(
            Caution(
                topic=CautionTopic.RUNOFF,
                text="Stop a run when water stands or runs off, whatever the plan says.",
            )
        )
    if runs and _coldest(ground) < ICE_C:
        found.append(
            Caution(
                topic=CautionTopic.ICE, text="It may freeze: wet walks turn slippery, keep water off them."
            )
        )
    return tuple({(c.topic, c.text): c for c in found}.values())


def _coldest(ground: RootZone) -> float:
    temps = ground.weather.temp_c[ground.first : ground.first + 14]
    return float(temps[temps == temps].min()) if (temps == temps).any() else 99.0
