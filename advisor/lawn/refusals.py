"""Turns what pydantic found wrong into sentences: file, line, option, found, allowed."""

from __future__ import annotations

import typing
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from advisor.errors import InputError, QuantityError
from advisor.lawn.fields import Refused, close_to, told
from advisor.lawn.yaml_lines import Loc

Place = Callable[[Loc], tuple[str, int | None]]
"""From a path in the file to (file, line)."""
PYDANTIC_KEY = "[key]"
"""What pydantic adds to a path when the fault is in a mapping's key."""


def option(loc: Loc, value: Any) -> str:
    """A path as the owner reads it: zones[Front].area, by name where an entry has one, else by number."""
    text = ""
    for step in loc:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            value = None
        if isinstance(step, int):
            name = value.get("name") if isinstance(value, dict) else None
            text += f"[{_printable(name) if isinstance(name, str) else step + 1}]"
        elif step != PYDANTIC_KEY:
            text += f".{_printable(step)}" if text else _printable(step)
    return text


def _printable(name: str) -> str:
    return name if name.isprintable() else ascii(name)


def problems_of(
    error: ValidationError,
    model: type[BaseModel],
    before: Loc,
    whole: Mapping[str, Any],
    place: Place,
    *,
    is_named: bool = False,
    examples: Mapping[str, str] | None = None,
) -> Iterator[InputError]:
    """One InputError for each thing wrong in the piece at `before` of the `whole` file.

    `is_named`: what the place says names the value already. `examples` of what is missing go before the
    usual ones.
    """
    for entry in error.errors(include_url=False):
        loc: Loc = (*before, *entry["loc"])
        where, line = place(loc)
        name = option(loc, whole)
        if entry["type"] == "missing":
            key = str(loc[-1])
            example = (examples or {}).get(key) or EXAMPLES.get(key, "")
            yield InputError(f"{name} is missing", where=where, line=line, allowed=example)
        else:
            yield _problem(entry, model, loc, (name, "" if is_named else f"{name}: "), where, line)


def _problem(
    entry: Mapping[str, Any],
    model: type[BaseModel],
    loc: Loc,
    names: tuple[str, str],
    where: str,
    line: int | None,
) -> InputError:
    cause, (name, named) = entry.get("ctx", {}).get("error"), names
    if isinstance(cause, InputError):
        kind = QuantityError if isinstance(cause, QuantityError) else Refused
        return kind(f"{named}{cause.what}", where=where, line=line, found=cause.found, allowed=cause.allowed)
    keys = _keys(model, entry["loc"][:-1])
    match entry["type"]:
        case "extra_forbidden":
            return InputError(
                f"{name} is not a known key", where=where, line=line, allowed=close_to(str(loc[-1]), keys)
            )
        case "model_type" | "dict_type" | "mapping_type" | "model_attributes_type":
            allowed = "a mapping of " + (", ".join(_keys(model, entry["loc"])) or "names to values")
            return InputError(
                f"{name} is not understood",
                where=where,
                line=line,
                found=told(entry["input"]),
                allowed=allowed,
            )
    return InputError(f"{named}{entry['msg']}", where=where, line=line, found=told(entry["input"]))


def _keys(model: type[BaseModel], loc: Loc) -> list[str]:
    """The keys that may stand at `loc` inside `model`."""
    current: type[BaseModel] | None = model
    for step in loc:
        if isinstance(step, int) or current is None:
            continue
        fields = {one.alias or key: one for key, one in current.model_fields.items()}
        current = _model_in(fields[step].annotation) if step in fields else None
    if current is None:
        return []
    hidden = {"guess"}
    return [one.alias or key for key, one in current.model_fields.items() if key not in hidden]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for arg in typing.get_args(annotation) if (found := _model_in(arg))), None)


EXAMPLES: Mapping[str, str] = {
    "name": "name: Front",
    "latitude": "decimal degrees, south negative: latitude: 40.52",
    "longitude": "decimal degrees, west negative: longitude: -96.74",
    "elevation": "elevation: 381 m",
    "time_zone": "time_zone: America/Chicago",
    "units": "units: metric, or units: us",
    "area": "area: 2,400 sq ft",
    "grass": "grass: tall fescue",
    "soil": "soil: silty clay loam",
    "slope": "slope: 3 %",
    "exposure": "exposure: full sun",
    "rate": "rate: {measured: 0.5 in/h, on: 2026-05-02}, {flow: 6 gal/min} or guess",
    "hours": "hours: 21:00-08:00",
    "kind": "kind: soil-liquid",
    "method": "method: backpack",
    "products": "products: [Potash solution]",
    "every": "every: 30 days",
    "from": "from: 2026-07-01",
    "to": "to: 2026-07-14",
    "site": "the section site with name, latitude, longitude, elevation, time_zone, units",
    "zones": "a list of zones, each with name, area, grass, soil, slope, exposure, rate",
    "watering": "the section watering with hours",
}


def missing(key: str, where: str) -> InputError:
    """A whole section is not there."""
    return InputError(f"{key} is missing", where=where, line=1, allowed=EXAMPLES[key])
