"""The one gate for every record, whoever brings it: a command, a file, an edit, or the records themselves.

What cannot be is refused, what hardly is is asked. Nothing that stands already is taken out: it is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from advisor.lawn.bounds import at_words, out_of_bounds, unlikely
from advisor.lawn.cross_checks import A_YEAR, Days, Known, crossing
from advisor.lawn.outside import Outside, OutsideWhy, Weight
from advisor.lawn.record_fields import KINDS, RANGES, is_sound, kind_of, of_kind, record_problems
from advisor.lawn.records import Application, GaugeReading, ProbeReading, Record, Records, Run, Wrong
from advisor.lawn.site_values import Site
from advisor.units import show

OWN = ("applications", "runs", "gauge", "probes", "audits", "stock")
"""The kinds that an owner records; the others are kept by the service."""
_DIMENSIONS = {"mm": "depth", "mm_h": "rate"}
TOLD_BELOW = 1e9
"""Beyond it a number is told as it stands: no unit makes it any clearer."""


class Gate:
    """The gate of a site at `now`, before which `records` stand.

    `batch` are records that come together, from a file: an old day among others of its year is no slip.
    Where None, a record is told by itself, and is hardly ever a year old.
    """

    def __init__(
        self, site: Site, records: Records, now: datetime, *, batch: Iterable[Record] | None = None
    ) -> None:
        self._site, self._now = site, now
        present = [record for kind in OWN for record in of_kind(records, kind)]
        self._known = Known(present)
        self._days = None if batch is None else Days(map(self._day, filter(_is_dated, (*present, *batch))))

    def outside(self, record: Record) -> tuple[Outside, ...]:
        """Everything that holds a record back; empty where it may pass."""
        if not is_sound(record):
            return tuple(self._no_sense(record, wrong) for wrong in record_problems(record))
        gauge = self._known.near(record, A_YEAR) if isinstance(record, GaugeReading) else ()
        return (
            *out_of_bounds(record, self._site, gauge, self._now),
            *self._long_ago(record),
            *crossing(record, self._known, self._site),
        )

    def _no_sense(self, record: Record, wrong: Wrong) -> Outside:
        """What makes no sense anywhere; an amount out of its range in the owner's units."""
        what, found, allowed = f"{wrong.field} is not usable", wrong.found, wrong.allowed
        bounds = RANGES.get((kind_of(record), wrong.field))
        dimension = _DIMENSIONS.get(wrong.field.partition("_")[2])
        value = getattr(record, wrong.field)
        if bounds is not None and dimension is not None and abs(value) < TOLD_BELOW:
            units = self._site.place.units
            found, low, high = (show(each, dimension, units) for each in (value, bounds.low, bounds.high))
            allowed = f"{low} to {high}"
        return Outside(OutsideWhy.MAKES_NO_SENSE, Weight.CANNOT_BE, wrong.field, what, found, allowed)

    def let_in(self, record: Record) -> None:
        """From here on the record stands, and others are held against it."""
        if kind_of(record) in OWN:
            self._known.add(record)

    def _day(self, record: Record) -> date:
        when: datetime = getattr(record, KINDS[kind_of(record)].time)
        return when.astimezone(self._site.place.zone).date()

    def _long_ago(self, record: Record) -> Iterator[Outside]:
        if kind_of(record) not in OWN or (self._days is not None and not _is_dated(record)):
            return
        field = KINDS[kind_of(record)].time
        when: datetime = getattr(record, field)
        ago = self._now - when
        if ago > A_YEAR and (self._days is None or self._days.is_alone(self._day(record))):
            alone = "" if self._days is None else ", a year and more from everything else that is recorded"
            what = f"it is dated {_years(ago)} back{alone}"
            yield unlikely(
                OutsideWhy.LONG_AGO, field, what, at_words(when, self._site), "a day of the last year"
            )


def _years(ago: timedelta) -> str:
    years = round(ago / timedelta(days=365.25))
    return "a year" if years == 1 else f"{years} years"


def _is_dated(record: Record) -> bool:
    """Whether the day of a record says when the lawn was tended."""
    return isinstance(record, Application | Run | GaugeReading | ProbeReading)


def outside_of(site: Site, records: Records, now: datetime) -> Iterator[tuple[Record, Outside]]:
    """What of the records that stand lies outside: each is held against those of its kind before it."""
    gate = Gate(site, Records(), now, batch=[r for kind in OWN for r in of_kind(records, kind)])
    for kind in KINDS:
        for record in of_kind(records, kind):
            for found in gate.outside(record):
                yield record, found
            gate.let_in(record)
