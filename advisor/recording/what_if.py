"""What if this went down: a product that is only asked about goes through tonight's decision; nothing is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from advisor.errors import InputError
from advisor.lawn.products import Product
from advisor.lawn.records import METHODS, Application
from advisor.lawn.site_values import Site
from advisor.recording.said import all_named, full_time, product_of, quantity
from advisor.units import clock_time

if TYPE_CHECKING:
    from advisor.advice.rain_answer import RainAnswer
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


def asked_about(question: Question, site: Site, now: datetime) -> Application:
    """The application that is only asked about; a time may lie ahead."""
    product = site.products[product_of(question.product, site)]
    zones = [zone.name for zone in site.zones]
    chosen: Sequence[str] = [part for part in (question.zones or "").split(",") if part.strip()] or zones
    method = usual_method(site, product) if question.method is None else question.method
    if method not in METHODS:
        raise InputError("no such method", field="method", found=repr(method), allowed=", ".join(METHODS))
    dilution = (
        None if question.dilution is None else quantity(question.dilution, "dilution", field="dilution")
    )
    if dilution is None and method == "hose-end":
        dilution = next((s.dilution for s in site.sprayers if s.method == method), None)
    at = _when(question.at, site, now).astimezone(UTC)
    return Application(
        product=product.name,
        zones=all_named(chosen, zones, what="zone", field="zones"),
        started_at=at,
        ended_at=at,
        method=method,
        dilution=dilution,
        id=ONLY_ASKED,
    )


def usual_method(site: Site, product: Product) -> str:
    """How a product most likely goes down on this site."""
    if product.kind.form != "liquid":
        return "spreader"
    return next((s.method for s in site.sprayers if s.method in ("tank", "backpack", "hose-end")), "tank")


def will_rain_do_it(inputs: Inputs, asked: Application | None = None) -> RainAnswer:
    """The decision for all that is open, or for the application that is only asked about, from when it is done."""
    from advisor.advice.rain_answer import WhatIf
    from advisor.tonight.rain_answer import rain_answer

    if asked is None:
        return rain_answer(inputs.advise())
    with_it = replace(
        inputs,
        records=replace(inputs.records, applications=(*inputs.records.applications, asked)),
        now=max(inputs.now, asked.ended_at.astimezone(inputs.now.tzinfo)),
        previous=None,
    )
    what_if = WhatIf(
        product=asked.product,
        zones=asked.zones,
        at=asked.ended_at,
        method=asked.method,
        dilution=asked.dilution,
    )
    return rain_answer(with_it.advise(), what_if, asked.id)


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
