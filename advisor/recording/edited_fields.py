"""What an owner writes after `--set` as values of a record's fields."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, Any

from advisor.errors import InputError
from advisor.faces.cli.asked import quantity
from advisor.lawn.fields import close_to
from advisor.lawn.record_fields import KINDS, Field, fields_of, kind_of
from advisor.lawn.records import Record
from advisor.recording.entry import dimension_of, moment_of, named, zones_of

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened

DIMENSIONS = {
    "minutes": "duration",
    "dilution": "dilution",
    "rate_mm_h": "rate",
    "uniformity": "share",
    "christiansen": "share",
    "temp_c": "temperature",
    "dew_c": "temperature",
    "wind10_m_s": "wind",
}
UNIT_IN_NAME = re.compile(r".*_(mm|mm_h|c|m_s|m2_h|h)$|minutes|hours|members|cans|uniformity|christiansen")


def changes_of(texts: Iterable[str], record: Record, opened: Opened) -> dict[str, Any]:
    """Fields and their new values; a bare number is in the unit that the field's name says.

    "none" empties a field that may be empty. "16:30" is on the local day that stands there.
    """
    fields = {field.name: field for field in fields_of(kind_of(record)) if field.name != "id"}
    changes: dict[str, Any] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        name = name.strip()
        if not equals or name not in fields:
            raise InputError(
                f"a change of this {KINDS[kind_of(record)].one} is FIELD=VALUE",
                where="--set",
                found=repr(text),
                allowed=close_to(name, fields),
            )
        changes[name] = _value(fields[name], value.strip(), record, opened)
    return changes


def _value(field: Field, text: str, record: Record, opened: Opened) -> Any:
    where = f"--set {field.name}"
    if field.optional and text.lower() in ("", "none"):
        return None
    if field.holds == "names":
        return zones_of(text, opened.site, where=where)
    if field.name == "zone":
        return named(text, [zone.name for zone in opened.site.zones], what="zone", where=where)
    if field.name == "product":
        return named(text, opened.site.products, what="product", where=where)
    if field.holds == "time":
        there: datetime = getattr(record, field.name) or getattr(record, KINDS[kind_of(record)].time)
        day = there.astimezone(opened.site.place.zone).date()
        return moment_of(text, opened, where=where, day=day)[0]
    if field.holds == "text":
        return text
    return _number(field, text, record, opened, where)


def _number(field: Field, text: str, record: Record, opened: Opened, where: str) -> float | int:
    try:
        bare = int(text) if field.holds == "whole" else float(text)
    except ValueError:
        bare = None
    if bare is not None and UNIT_IN_NAME.fullmatch(field.name):
        return bare
    if field.holds == "whole":
        raise InputError("a whole number is asked here", where=where, found=repr(text))
    dimension = DIMENSIONS.get(field.name) or ("depth" if field.name.endswith("_mm") else None)
    product = getattr(record, "product", None)
    if product is not None and field.name in ("rate", "amount"):
        dimension = dimension_of(product, opened.site, " rate" if field.name == "rate" else "")
    if dimension is None:
        raise InputError("a number is asked here", where=where, found=repr(text))
    return quantity(text, dimension, where=where)
