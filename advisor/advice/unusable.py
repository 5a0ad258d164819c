"""Records that make no sense, as they are handed out: named, with what is wrong."""

from __future__ import annotations

from enum import StrEnum

from advisor.advice.frozen import Frozen
from advisor.lawn import Unusable


class RecordKind(StrEnum):
    """The kinds of record."""

    APPLICATIONS = "applications"
    RUNS = "runs"
    GAUGE = "gauge"
    PROBES = "probes"
    AUDITS = "audits"
    ARCHIVE = "archive"
    PAIRS = "pairs"
    STOCK = "stock"


class WrongField(Frozen):
    """One field of a record that makes no sense."""

    field: str
    """The field."""
    found: str
    """What stands there."""
    allowed: str
    """What may stand there."""


class UnusableRecord(Frozen):
    """What stands in the place of a record and makes no sense: it is left out of everything."""

    kind: RecordKind
    """Its kind, which is its table too."""
    id: int
    """Its number within its kind."""
    wrong: tuple[WrongField, ...]
    """What is wrong with it."""
    text: str = ""
    """The same in a sentence, with the way to mend it or take it out."""


def unusable_told(there: Unusable, text: str = "") -> UnusableRecord:
    """An unusable record as it is handed out."""
    return UnusableRecord(
        kind=RecordKind(there.kind),
        id=there.id,
        wrong=tuple(
            WrongField(field=each.field, found=each.found, allowed=each.allowed) for each in there.wrong
        ),
        text=text,
    )
