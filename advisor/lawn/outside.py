"""What the gate finds: a record, or a value of one, that cannot be or hardly is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How a finding is taken."""

    CANNOT_BE = "cannot be"
    """It is refused."""
    UNLIKELY = "unlikely"
    """It is asked: a slip is likelier, but it may be so."""


class OutsideWhy(StrEnum):
    """Why a record is outside."""

    MAKES_NO_SENSE = "makes no sense"
    TOO_MUCH = "too much or too little"
    NAME_UNKNOWN = "a name that the site file does not have"
    WRONG_METHOD = "a method that does not fit the product"
    FUTURE = "of the future"
    LONG_AGO = "long ago"
    LENGTH = "too long, or longer than it lasted"
    RECORDED_ALREADY = "recorded already"
    PERHAPS_TWICE = "perhaps recorded twice"
    COUNTED_TWICE = "may be counted twice"
    CANNOT_TELL = "the method cannot tell it"


@dataclass(frozen=True, slots=True)
class Outside:
    """One thing that holds a record back: why, of which field, what was found and what is allowed."""

    why: OutsideWhy
    weight: Weight
    field: str
    what: str
    found: str = ""
    allowed: str = ""

    def __str__(self) -> str:
        text = self.what
        if self.found:
            text += f"; found {self.found}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        return text
