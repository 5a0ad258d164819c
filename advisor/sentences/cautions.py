"""The sentences of cautions: one for each kind, worded anew where the moment of asking needs it.

The label and local rules win over everything printed here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

from advisor.advice import Asking, Caution, CautionKind
from advisor.lawn import Application, Seedbed, SeedConflict, Site, seed_conflicts
from advisor.wording import listed, short_day

Kind = CautionKind

SENTENCES: Mapping[tuple[Asking, CautionKind], str] = {
    (Asking.TONIGHT, Kind.LABEL): (
        "The label is the law and overrides every number here; so do local rules."
    ),
    (Asking.TONIGHT, Kind.STAY_OFF): (
        "People and pets stay off treated grass until it is dry or as long as the label says."
    ),
    (Asking.TONIGHT, Kind.SWEEP): "Sweep granules off walks and drives before any water runs.",
    (Asking.TONIGHT, Kind.RAN_OFF): (
        "A hard shower ran off; some product may have gone with it. Do not re-treat at once."
    ),
    (Asking.TONIGHT, Kind.BACKFLOW): ("A sprinkler system and every hose need a working backflow preventer."),
    (Asking.TONIGHT, Kind.STANDING_WATER): (
        "Stop a run when water stands or runs off, whatever the plan says."
    ),
    (Asking.TONIGHT, Kind.FREEZING): ("It may freeze: wet walks turn slippery, keep water off them."),
    (Asking.MIX, Kind.LABEL): (
        "The label is the law: where it differs from anything here, follow the label, "
        "and ask a licensed applicator where it leaves doubt."
    ),
    (Asking.MIX, Kind.GLOVES): (
        "Long sleeves and trousers, closed shoes, waterproof gloves; eye cover when pouring."
    ),
    (Asking.MIX, Kind.STAY_OFF): (
        "People and pets stay off until it has dried, or longer if the label says so."
    ),
    (Asking.MIX, Kind.AIR_GAP): (
        "A backflow preventer or vacuum breaker on anything joined to a hose; when filling, "
        "keep an air gap between the hose and the tank, and never leave it unwatched."
    ),
    (Asking.MIX, Kind.SWEEP): ("Sweep what falls on paving, drives and gutters back onto the lawn."),
    (Asking.MIX, Kind.HARD_SURFACES): ("Keep spray off paving and drives; rinse none of it to a drain."),
    (Asking.MIX, Kind.BUFFER): (
        "Keep away from ponds, streams, wells and drains; local rules set the distance and some set dates."
    ),
    (Asking.NEXT_ROUND, Kind.LABEL): (
        "The label is the law: its wind, heat, rain, mowing and re-entry rules override these; "
        "so do local dates and buffers."
    ),
    (Asking.AUDIT, Kind.WET_PAVING): "Wet paving is slippery, and icy below freezing.",
    (Asking.AUDIT, Kind.CLEAN_CANS): "Use clean cans, never ones that held a product.",
    (Asking.RUN_TIME, Kind.STANDING_WATER): (
        "Puddles or runoff override every minute here: stop, let it soak, and shorten the cycle."
    ),
    (Asking.CLOCK_SHEET, Kind.STANDING_WATER): (
        "Puddles or runoff override every minute: stop, let it soak, and shorten the cycle."
    ),
    (Asking.CLOCK_SHEET, Kind.CLOCK_OFF): (
        "Turn the clock off when rain is likely to do it, when it may freeze, and while a product has to "
        "stay dry."
    ),
    (Asking.CLOCK_SHEET, Kind.LOCAL_RULES): "Local watering rules win over this sheet.",
    (Asking.CLOCK_SHEET, Kind.BACKFLOW): "The system needs a working backflow preventer.",
}
"""What is said once for all, by who asks."""

ABOUT_PRODUCTS: Mapping[CautionKind, str] = {
    Kind.LABEL: "the label is the law and overrides every number here",
    Kind.STAY_OFF: "stay off until dry, people and pets",
    Kind.GLOVES: "wear the clothing and waterproof gloves the label asks for",
    Kind.HARD_SURFACES: "keep off hard surfaces",
    Kind.BUFFER: "keep away from water; local rules set the buffer",
    Kind.MONTHS: "local rules set the months in which it may go down",
    Kind.AIR_GAP: "an air gap when filling and a vacuum breaker on every hose",
    Kind.SWEEP: "sweep granules off hard surfaces back onto the lawn",
    Kind.HEAVY_RAIN: "put down nothing before heavy rain or on saturated or frozen ground",
    Kind.DRY_LEAVES: "spread on dry leaves",
    Kind.LIGHT_SHOWERS: "light showers do not add up and can raise the loss to the air",
    Kind.WET_LEAVES: "the leaves must be wet before spreading, then stay unwatered for 24 h",
    Kind.IRON: "iron stains concrete: sweep or rinse at once, from memory of extension advice",
    Kind.BEES: "mow off flowering weeds before, for the bees: common practice, no source",
    Kind.MOW_FIRST: "mow and dethatch first",
    Kind.NO_BAG: "do not mow with the bag on before it is watered in",
    Kind.NO_SEED: "do not seed where it lies",
    Kind.BURNS: "left on the leaves in heat it can burn them",
    Kind.SEED_LABEL: ("the seed's label and any pre-emergent put down before decide whether it can grow"),
    Kind.KEEP_OFF: "keep off until it is up",
    Kind.SHORTEN: "stop and shorten the runs when water stands or runs off",
}
"""What is said of the products that ask it."""


def caution_words(caution: Caution, asking: Asking) -> str:
    """A caution in a sentence; one of the owner's own keeps the owner's words, with the product before."""
    once = SENTENCES.get((asking, caution.kind))
    if once is not None:
        return once
    said = caution.text if caution.kind == Kind.OWN else ABOUT_PRODUCTS[caution.kind]
    return f"{listed(caution.products)}: {said.rstrip('.')}."


def told(cautions: Sequence[Caution], asking: Asking) -> tuple[Caution, ...]:
    """The same cautions with their sentences; those about seed bring theirs."""
    return tuple(
        c
        if c.kind in (Kind.HARMS_SEED, Kind.MAY_NOT_GROW)
        else c.model_copy(update={"text": caution_words(c, asking)})
        for c in cautions
    )


def seedbed_words(bed: Seedbed) -> str:
    """Why a zone is a seedbed."""
    if bed.sown_on is None:
        return f"it is in seed mode until {short_day(bed.young_until, year=True)}"
    return f"{bed.seed} was sown there on {short_day(bed.sown_on, year=True)}"


def seed_conflict_words(conflict: SeedConflict) -> str:
    """What does not go with seed, as a sentence without its full stop."""
    if conflict.bed is not None:
        return (
            f"{conflict.product} on {conflict.zone} can stop or kill grass that comes up from seed, and "
            f"{seedbed_words(conflict.bed)}: read its label now"
        )
    assert conflict.other_on is not None
    until = conflict.other_on + timedelta(days=conflict.wait_d)
    return (
        f"{conflict.product} may not grow on {conflict.zone}: {conflict.other} went there on "
        f"{short_day(conflict.other_on, year=True)}, and seed usually waits {conflict.wait_d:g} days, until {short_day(until, year=True)}; "
        "its label decides"
    )


def seed_warnings(
    put_down: Sequence[Application], earlier: Sequence[Application], site: Site
) -> tuple[str, ...]:
    """A sentence for each of `put_down` that hurts seedlings, or that is seed where it may not grow."""
    return tuple(dict.fromkeys(map(seed_conflict_words, seed_conflicts(put_down, earlier, site))))
