"""What if this went down: a product that is only asked about goes through tonight's decision; nothing is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from advisor.advice import Asking, Equipment
from advisor.lawn import Application, Site
from advisor.recording.put_down import said_equipment
from advisor.recording.said import all_named, full_time, product_of, quantity
from advisor.sentences import equipment_words
from advisor.units import clock_time
from advisor.watering_in import usual_equipment

if TYPE_CHECKING:
    from advisor.advice import RainAnswer
    from advisor.night import Inputs

ONLY_ASKED = -1  # the id of an application that is not in the records
TIME_FORMS = "17:00, 2026-06-18T17:00"


@dataclass(frozen=True, slots=True)
class Question:
    """A product that might go down; what is None was not said."""

    product: str
    zones: str | None = None
    at: str | None = None
    method: str | None = None
    dilution: str | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """The application that is only asked about, and with what it is taken as put down."""

    application: Application
    equipment: Equipment


def asked_about(question: Question, site: Site, now: datetime) -> Asked:
    """What is only asked about, as it would be recorded; a time may lie ahead."""
    product = site.products[product_of(question.product, site)]
    zones = [zone.name for zone in site.zones]
    chosen: Sequence[str] = [part for part in (question.zones or "").split(",") if part.strip()] or zones
    equipment = (
        usual_equipment(site, [product]) if question.method is None else said_equipment(question.method, site)
    )
    if question.dilution is not None:
        ratio = quantity(question.dilution, "dilution", field="dilution")
        equipment = equipment.model_copy(update={"dilution": ratio})
    at = _when(question.at, site, now).astimezone(UTC)
    asked = Application(
        product=product.name,
        zones=all_named(chosen, zones, what="zone", field="zones"),
        started_at=at,
        ended_at=at,
        method=equipment.method,
        dilution=equipment.dilution,
        id=ONLY_ASKED,
    )
    return Asked(asked, equipment)


def will_rain_do_it(inputs: Inputs, asked: Asked | None = None) -> RainAnswer:
    """The decision for all that is open, or for the application that is only asked about, from when it is done."""
    from advisor.advice import WhatIf
    from advisor.tonight import rain_answer

    if asked is None:
        return rain_answer(inputs.advise())
    application = asked.application
    with_it = replace(
        inputs,
        records=replace(inputs.records, applications=(*inputs.records.applications, application)),
        now=max(inputs.now, application.ended_at.astimezone(inputs.now.tzinfo)),
        previous=None,
    )
    what_if = WhatIf(
        product=application.product,
        zones=application.zones,
        at=application.ended_at,
        method=application.method,
        dilution=application.dilution,
        equipment=asked.equipment,
        equipment_note=equipment_words(asked.equipment, Asking.RAIN),
    )
    return rain_answer(with_it.advise(), what_if, application.id)


def _when(text: str | None, site: Site, now: datetime) -> datetime:
    """The moment asked about; a clock time is that of today."""
    if text is None:
        return now
    local = site.place.zone
    clock = clock_time(text)
    if clock is not None:
        return datetime.combine(now.astimezone(local).date(), clock, local)
    parsed = full_time(text.strip(), field="at", allowed=TIME_FORMS)
    return parsed.replace(tzinfo=local) if parsed.tzinfo is None else parsed
