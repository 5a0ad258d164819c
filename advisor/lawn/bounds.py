"""What a record may hold on this lawn: slips of unit, of the decimal point and of the name, held against the site.

`record_fields` says what makes no sense anywhere; here the site's zones, products and hours set the bounds.
Where no source is named beside a bound it is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, time, timedelta

from advisor.lawn.fields import close_to
from advisor.lawn.outside import Outside, OutsideWhy, Weight
from advisor.lawn.products import Product
from advisor.lawn.record_fields import KINDS, MOST_MM_H, kind_of
from advisor.lawn.records import (
    Application,
    Audit,
    AuditMethod,
    GaugeReading,
    ProbeReading,
    Record,
    Run,
    StockChange,
)
from advisor.lawn.site_values import Site
from advisor.lawn.understood import declared_figures
from advisor.units import convert, show, show_amount

MOST_RAIN_MM_D = 250.0
"""Rain in a day from which on a slip is likelier than the rain: common practice, no source."""
MOST_OF_LABEL = 3.0
LEAST_OF_LABEL = 0.05
MOST_OF_RATE = 4.0
"""A run that gave so many times what its minutes give by the highest rate that is told is likely a slip."""
MOST_STOCK = 1e6
FIRST_READING = timedelta(hours=24)
LONGEST_SPAN = timedelta(days=92)
A_DAY = timedelta(days=1)
SPRAYED = ("tank", "backpack", "hose-end")
SPREAD = ("spreader", "by hand")
FEWEST_FOR_EVENNESS = 2
CANS_OF = {AuditMethod.FLOW_METER: 0, AuditMethod.SINGLE_CAN: 1}
"""The ways of measuring that cannot tell the evenness, and how many cans stand out in each."""
Why = OutsideWhy


def cannot(why: OutsideWhy, field: str, what: str, found: str = "", allowed: str = "") -> Outside:
    """Something that is refused."""
    return Outside(why, Weight.CANNOT_BE, field, what, found, allowed)


def unlikely(why: OutsideWhy, field: str, what: str, found: str = "", allowed: str = "") -> Outside:
    """Something that is asked."""
    return Outside(why, Weight.UNLIKELY, field, what, found, allowed)


def at_words(when: datetime, site: Site) -> str:
    """A local time: 2026-06-17 16:30."""
    return f"{when.astimezone(site.place.zone):%Y-%m-%d %H:%M}"


def out_of_bounds(
    record: Record, site: Site, gauge: Sequence[GaugeReading], now: datetime
) -> Iterator[Outside]:
    """What of a record, by itself, lies outside on this site; `gauge` are the readings that are known."""
    yield from _names(record, site)
    yield from _future(record, site, now)
    match record:
        case GaugeReading():
            yield from _rain(record, site, gauge)
        case ProbeReading():
            yield from _probe(record, site)
        case Application():
            yield from _application(record, site)
        case Run():
            yield from _run(record, site)
        case Audit():
            yield from _audit(record)
        case StockChange():
            yield from _stock(record, site)


def _names(record: Record, site: Site) -> Iterator[Outside]:
    zones = [zone.name for zone in site.zones]
    field = "zones" if isinstance(record, Application) else "zone"
    for name in record.zones if isinstance(record, Application) else [getattr(record, "zone", None)]:
        if name is not None and name not in zones:
            what = f"there is no such zone in {site.path.name}"
            yield unlikely(Why.NAME_UNKNOWN, field, what, repr(name), close_to(name, zones))
    product = getattr(record, "product", None)
    if product is not None and product not in site.products:
        what = f"there is no such product in {site.path.name}"
        near = close_to(product, site.products) if site.products else "none are in it yet"
        yield unlikely(Why.NAME_UNKNOWN, "product", what, repr(product), near)


def _future(record: Record, site: Site, now: datetime) -> Iterator[Outside]:
    """Of the future is what was not over at `now`; a run counts from its beginning on."""
    sort = KINDS[kind_of(record)]
    field = sort.time if isinstance(record, Run) else sort.until
    when: datetime = getattr(record, field)
    if when > now:
        what = "only what has happened is recorded"
        yield cannot(Why.FUTURE, field, what, at_words(when, site), f"up to now, {at_words(now, site)}")


def _rain(reading: GaugeReading, site: Site, gauge: Sequence[GaugeReading]) -> Iterator[Outside]:
    """More than MOST_RAIN_MM_D for each day of the reading's span, which counts as a day at least."""
    others = (g for g in gauge if g.id != reading.id or not reading.id)
    earlier = [g.read_at for g in others if g.read_at < reading.read_at]
    since: datetime = reading.since or max(earlier, default=reading.read_at - FIRST_READING)
    days = max((reading.read_at - since) / A_DAY, 1.0)
    if reading.since is not None and reading.read_at - reading.since > LONGEST_SPAN:
        yield unlikely(
            Why.LENGTH,
            "since",
            "no gauge is left for so long",
            at_words(reading.since, site),
            f"from {at_words(reading.read_at - LONGEST_SPAN, site)} on",
        )
        days = LONGEST_SPAN / A_DAY
    most = MOST_RAIN_MM_D * days
    if reading.depth_mm <= most:
        return
    units = site.place.units
    per_day = show(MOST_RAIN_MM_D, "depth", units)
    yield unlikely(
        Why.TOO_MUCH,
        "depth_mm",
        f"so much rain is likely a slip of the unit or the point (more than {per_day} a day)",
        show(reading.depth_mm, "depth", units),
        f"up to {show(most, 'depth', units)} for {_days(days)}",
    )


def _probe(reading: ProbeReading, site: Site) -> Iterator[Outside]:
    zone = next((z for z in site.zones if z.name == reading.zone), None)
    if zone is None:
        return
    held = declared_figures(zone).taw_mm
    units = site.place.units
    digit = 0.005 if units == "us" else 0.05  # what is shown may be typed back
    if convert(reading.depletion_mm - held, "depth", units) <= digit:
        return
    yield cannot(
        Why.TOO_MUCH,
        "depletion_mm",
        f"more water cannot be missing than the root zone of {zone.name} holds",
        show(reading.depletion_mm, "depth", units),
        f"0 to {show(held, 'depth', units)}, by its soil and root_depth in the site file",
    )


def _application(application: Application, site: Site) -> Iterator[Outside]:
    lasted = application.ended_at - application.started_at
    if lasted > A_DAY:
        what, found = "nothing is put down for more than a day", _days(lasted / A_DAY)
        yield unlikely(Why.LENGTH, "ended_at", what, found, "the end of the same day")
    product = site.products.get(application.product)
    if product is None:
        return
    liquid = product.kind.form == "liquid"
    if application.method not in (("by hand", *SPRAYED) if liquid else SPREAD):
        told = "is a liquid" if liquid else f"is no liquid ({product.kind.form})"
        allowed = ", ".join(("by hand", *SPRAYED) if liquid else SPREAD)
        dissolved = "" if liquid else "; what is dissolved and sprayed is of a liquid kind in the site file"
        what = f"{product.name} {told}, and does not go down so"
        yield cannot(Why.WRONG_METHOD, "method", what, repr(application.method), allowed + dissolved)
    elif application.dilution is not None and not liquid:
        what = f"{product.name} is no liquid, so that nothing is diluted"
        found = show(application.dilution, "dilution", site.place.units)
        yield cannot(Why.WRONG_METHOD, "dilution", what, found, "none")
    yield from _rate(application, product, site)


def _rate(application: Application, product: Product, site: Site) -> Iterator[Outside]:
    if product.rate is None or application.rate is None:
        return
    share = application.rate / product.rate
    if LEAST_OF_LABEL <= share <= MOST_OF_LABEL:
        return
    dimension = "liquid rate" if product.kind.form == "liquid" else "granule rate"
    said, label = (show(rate, dimension, site.place.units) for rate in (application.rate, product.rate))
    bound = f"up to {MOST_OF_LABEL:g} times" if share > 1 else f"from {LEAST_OF_LABEL:g} times on of"
    yield unlikely(
        Why.TOO_MUCH,
        "rate",
        f"the rate is {share:.3g} times that of {product.name} in the site file",
        said,
        f"{bound} {label}; if the label says {'more' if share > 1 else 'less'}, put its rate into the site file",
    )


def _run(run: Run, site: Site) -> Iterator[Outside]:
    lasted_min = (run.ended_at - run.started_at) / timedelta(minutes=1)
    if run.minutes > lasted_min + 1:
        lasts = f"it lasts from {at_words(run.started_at, site)} to {at_words(run.ended_at, site)}"
        yield cannot(
            Why.LENGTH,
            "minutes",
            f"water cannot run for longer than a run lasts: {lasts}",
            f"{run.minutes:g} min",
            f"up to {lasted_min:.0f} min",
        )
    longest_min = _longest_min(site)
    if lasted_min > 1440:
        what, found = "no zone runs for more than a day", f"{lasted_min:,.0f} min from first to last water"
        yield cannot(Why.LENGTH, "ended_at", what, found, "up to 1,440 min")
    elif lasted_min > longest_min:
        yield unlikely(
            Why.LENGTH,
            "minutes" if run.minutes > longest_min else "ended_at",
            "it lasts longer than the longest stretch of hours in which water may run here",
            f"{lasted_min:,.0f} min",
            f"up to {longest_min:,.0f} min",
        )
    yield from _depth(run, site)


def _longest_min(site: Site) -> float:
    def minute(at: time) -> int:
        return at.hour * 60 + at.minute

    spans = [(minute(end) - minute(start)) % 1440 or 1440 for start, end in site.rules.hours]
    return float(max(spans, default=1440))


def _depth(run: Run, site: Site) -> Iterator[Outside]:
    if run.depth_mm is None:
        return
    units = site.place.units
    found = show(run.depth_mm, "depth", units)
    if run.minutes == 0:
        if run.depth_mm > 0:
            yield cannot(Why.TOO_MUCH, "depth_mm", "a run that did not take place gave no water", found, "0")
        return
    given_mm_h = 60.0 * run.depth_mm / run.minutes
    zone = next((z for z in site.zones if z.name == run.zone), None)
    if given_mm_h > MOST_MM_H:
        most = show(MOST_MM_H * run.minutes / 60.0, "depth", units)
        what = f"no lawn sprinkler gives so much in {run.minutes:g} min"
        yield cannot(Why.TOO_MUCH, "depth_mm", what, found, f"up to {most}")
    elif zone is not None and given_mm_h > MOST_OF_RATE * zone.rate.high_mm_h:
        rate = show(zone.rate.high_mm_h, "rate", units)
        most = show(MOST_OF_RATE * zone.rate.high_mm_h * run.minutes / 60.0, "depth", units)
        what = f"it is far more than {run.minutes:g} min give on {zone.name} by its rate of up to {rate}"
        yield unlikely(Why.TOO_MUCH, "depth_mm", what, found, f"up to {most}")


def _audit(audit: Audit) -> Iterator[Outside]:
    cans = CANS_OF.get(AuditMethod(audit.method))
    if cans is not None and audit.cans != cans:
        what = f"by {audit.method} no other number of cans stands out"
        yield cannot(Why.CANNOT_TELL, "cans", what, str(audit.cans), str(cans))
    for field in ("uniformity", "christiansen"):
        value = getattr(audit, field)
        if value is not None and (cans is not None or 0 < audit.cans < FEWEST_FOR_EVENNESS):
            what = "the evenness is told by several cans alone"
            yield cannot(Why.CANNOT_TELL, field, what, f"{value:g}", "none")


def _stock(change: StockChange, site: Site) -> Iterator[Outside]:
    if change.amount == 0:
        what = "nothing was bought and nothing used"
        yield cannot(Why.TOO_MUCH, "amount", what, "0", "an amount")
    product = site.products.get(change.product)
    if abs(change.amount) > MOST_STOCK and product is not None:
        liquid = product.kind.form == "liquid"
        much, most = (
            show_amount(amount, liquid=liquid, system=site.place.units)
            for amount in (abs(change.amount), MOST_STOCK)
        )
        what = f"so much {product.name} is likely a slip of the unit or the point"
        yield unlikely(Why.TOO_MUCH, "amount", what, much, f"up to {most}")


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


def _days(days: float) -> str:
    whole = round(days, 1)
    return "a day" if whole == 1 else f"{whole:g} days"
