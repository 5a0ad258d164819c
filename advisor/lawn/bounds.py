"""What a record may hold on this lawn: slips of unit and of the decimal point, held against the site.

`record_fields` says what makes no sense anywhere; here the site's zones and products set the bounds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from advisor.lawn.products import Product
from advisor.lawn.records import (
    Application,
    GaugeReading,
    ProbeReading,
    Record,
    Records,
    Run,
    StockChange,
)
from advisor.lawn.site_values import Site
from advisor.lawn.understood import declared_figures
from advisor.units import convert, show, show_amount

MOST_RAIN_MM_D = 250.0
"""Rain in a day from which on a slip is likelier than the rain: common practice, no source."""
MOST_OF_LABEL = 3.0
MOST_RUN_MIN = 1440.0
FIRST_READING = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Beyond:
    """What is out of bounds, what was found and what is allowed."""

    what: str
    found: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.what}; found {self.found}; allowed: {self.allowed}"


def beyond(record: Record, site: Site, gauge: Sequence[GaugeReading] = ()) -> Beyond | None:
    """What of a record lies out of bounds on this site; `gauge` are the readings that are known."""
    match record:
        case GaugeReading():
            return _rain(record, site, gauge)
        case ProbeReading():
            return _probe(record, site)
        case Application():
            return _rate(record, site)
        case Run() if record.minutes > MOST_RUN_MIN:
            return Beyond("no zone runs for more than a day", f"{record.minutes:g} min", "up to 1,440 min")
    return None


def _rain(reading: GaugeReading, site: Site, gauge: Sequence[GaugeReading]) -> Beyond | None:
    """More than MOST_RAIN_MM_D for each day of the reading's span, which counts as a day at least."""
    others = (g for g in gauge if g.id != reading.id or not reading.id)
    earlier = [g.read_at for g in others if g.read_at < reading.read_at]
    since: datetime = reading.since or max(earlier, default=reading.read_at - FIRST_READING)
    days = max((reading.read_at - since) / timedelta(days=1), 1.0)
    most = MOST_RAIN_MM_D * days
    if reading.depth_mm <= most:
        return None
    units = site.place.units
    per_day = show(MOST_RAIN_MM_D, "depth", units)
    return Beyond(
        f"so much rain is likely a slip of the unit or the point (more than {per_day} a day)",
        show(reading.depth_mm, "depth", units),
        f"up to {show(most, 'depth', units)} for {_days(days)}; if it really fell, record it in parts of a day, "
        "each with --since and --at",
    )


def _probe(reading: ProbeReading, site: Site) -> Beyond | None:
    zone = next((z for z in site.zones if z.name == reading.zone), None)
    if zone is None:
        return None
    held = declared_figures(zone).taw_mm
    units = site.place.units
    digit = 0.005 if units == "us" else 0.05  # what is shown may be typed back
    if convert(reading.depletion_mm - held, "depth", units) <= digit:
        return None
    return Beyond(
        f"more water cannot be missing than the root zone of {zone.name} holds",
        show(reading.depletion_mm, "depth", units),
        f"0 to {show(held, 'depth', units)}, by its soil and root_depth in the site file",
    )


def _rate(application: Application, site: Site) -> Beyond | None:
    product = site.products.get(application.product)
    if product is None or product.rate is None or application.rate is None:
        return None
    if application.rate <= MOST_OF_LABEL * product.rate:
        return None
    dimension = "liquid rate" if product.kind.form == "liquid" else "granule rate"
    said, label = (show(rate, dimension, site.place.units) for rate in (application.rate, product.rate))
    return Beyond(
        f"the rate is {application.rate / product.rate:.3g} times that of {product.name} in the site file",
        said,
        f"up to {MOST_OF_LABEL:g} times {label}; if the label says more, put its rate into the site file",
    )


def stock_left(product: Product, changes: Iterable[StockChange]) -> float | None:
    """What is left of a product, mL or g, below 0 where more was used than is known; None: not tracked."""
    moved = [c.amount for c in changes if c.product == product.name]
    return None if product.stock is None and not moved else (product.stock or 0.0) + sum(moved)


def stock_below_zero(changes: Sequence[StockChange], site: Site, names: Iterable[str]) -> Iterator[str]:
    """A sentence for each of the products whose recorded use is more than the stock that is known."""
    for name in dict.fromkeys(names):
        product = site.products.get(name)
        left = None if product is None else stock_left(product, changes)
        if product is None or left is None or left > -0.5 or product.stock is None:
            continue
        much = show_amount(-left, liquid=product.kind.form == "liquid", system=site.place.units)
        yield (
            f"the stock of {name} is {much} below zero: more was used than is "
            "known to be there; record what was bought with `advisor record stock`, or mend the rate"
        )


def out_of_bounds(records: Records, site: Site) -> Iterator[tuple[Record, Beyond]]:
    """Every record that lies out of bounds on this site."""
    for kind in (records.applications, records.runs, records.gauge, records.probes):
        for record in kind:
            found = beyond(record, site, records.gauge)
            if found is not None:
                yield record, found


def _days(days: float) -> str:
    whole = round(days, 1)
    return "a day" if whole == 1 else f"{whole:g} days"
