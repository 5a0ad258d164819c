"""What is doubtful in records: what makes no sense, and what the gate would not let in today."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from advisor.advice import Doubt, RecordKind
from advisor.lawn import Records, called, kind_of, outside_of, stock_below_zero

if TYPE_CHECKING:
    from advisor.lawn import Site


def doubts(records: Records, *, site: Site | None = None, now: datetime | None = None) -> list[Doubt]:
    """Each thing that is doubtful, with the record to mend; without a site and a time what makes no sense."""
    found = [
        Doubt(
            text=f"{called(there)} cannot be used and is left out of every advice: {wrong}",
            kind=RecordKind(there.kind),
            id=there.id,
            field=wrong.field,
        )
        for there in records.unusable
        for wrong in there.wrong
    ]
    if site is None or now is None:
        return found
    found += [
        Doubt(
            text=f"{called(record)}: {outside}",
            kind=RecordKind(kind_of(record)),
            id=record.id,
            field=outside.field,
            why=outside.why,
            weight=outside.weight,
        )
        for record, outside in outside_of(site, records, now)
    ]
    return found + [Doubt(text=text) for text in stock_below_zero(records.stock, site, site.products)]
