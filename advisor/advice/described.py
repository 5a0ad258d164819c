"""The published schema of what is handed out: each property with the docstring under its field.

The docstrings are read when a schema is asked for and not when a class is made, so that showing an advice
need not wait for it.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Iterator
from textwrap import dedent
from typing import Any

from pydantic import BaseModel

from advisor.advice.frozen import Frozen
from advisor.lawn import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Run,
    StockChange,
)

RECORDS = (Application, ArchivedHour, Audit, GaugeReading, ProbeReading, RainPair, Run, StockChange)


def schema_of(model: type[BaseModel]) -> dict[str, Any]:
    """The JSON schema of a model, every property with its description."""
    schema = model.model_json_schema()
    classes = {each.__name__: each for each in _classes()}
    for name, part in [(model.__name__, schema), *schema.get("$defs", {}).items()]:
        found = classes.get(name)
        told = {} if found is None else _docstrings(found)
        for field, value in part.get("properties", {}).items():
            if field in told:
                value.setdefault("description", told[field])
    return schema


def _classes(of: type[BaseModel] = Frozen) -> Iterator[type]:
    """Everything that is handed out, and the records in it."""
    if of is Frozen:
        yield from RECORDS
    for each in of.__subclasses__():
        yield each
        yield from _classes(each)


def _docstrings(cls: type) -> dict[str, str]:
    """The docstring under each field of a class and of those it is made from."""
    told: dict[str, str] = {}
    for each in reversed(cls.__mro__):
        if not each.__module__.startswith("advisor."):
            continue
        (found,) = ast.parse(dedent(inspect.getsource(each))).body
        assert isinstance(found, ast.ClassDef)
        for field, under in zip(found.body, found.body[1:], strict=False):
            if not (isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name)):
                continue
            if isinstance(under, ast.Expr) and isinstance(under.value, ast.Constant):
                told[field.target.id] = inspect.cleandoc(str(under.value.value))
    fields = cls.model_fields if issubclass(cls, BaseModel) else {}
    return {(fields[name].alias if name in fields else None) or name: text for name, text in told.items()}
