"""Will the rain do it? The decision alone, as it is handed out."""

from __future__ import annotations

from typing import Literal

from advisor.advice.advice import ApplicationAdvice, Moment, RainChance
from advisor.advice.cautions import Caution
from advisor.advice.frozen import Frozen
from advisor.advice.unusable import UnusableRecord
from advisor.advice.water_need import Equipment

SCHEMA = "advisor.rain/2"


class WhatIf(Frozen):
    """An application that was only asked about."""

    product: str
    """The product."""
    zones: tuple[str, ...]
    """The zones it would go down on."""
    at: Moment
    """When it would be done."""
    method: str
    """How it would be put down."""
    dilution: float | None
    """Water to concentrate, where it is known."""
    equipment: Equipment | None = None
    """With what it is taken as put down, and how that is known."""
    equipment_note: str = ""
    """What is taken for granted about that, in a sentence; empty where nothing is."""


class RainAnswer(Frozen):
    """The answer for all that is open, or for one application that is only asked about."""

    schema_version: Literal["advisor.rain/2"] = "advisor.rain/2"
    """The version of this form."""
    site: str
    """The site's name."""
    time_zone: str
    """Its time zone (IANA)."""
    units: str
    """The owner's units: "metric" or "us"."""
    now: Moment
    """When it was given."""
    what_if: WhatIf | None
    """What was only asked about; none where the answer is for what was put down."""
    headline: str
    """What is wrong and what to do, in one breath."""
    verdicts: tuple[ApplicationAdvice, ...]
    """The verdict on each application and zone, of the same form as tonight's."""
    rain: tuple[RainChance, ...]
    """The rain that may come."""
    cautions: tuple[Caution, ...]
    """What to mind."""
    attribution: tuple[str, ...]
    """Whom to credit for the weather."""
    inputs_digest: str
    """A fingerprint of everything it was made from."""
    left_out: tuple[UnusableRecord, ...] = ()
    """Records that make no sense and are left out of this answer."""
