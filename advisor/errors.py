"""The tree of errors that a user can cause or meet.

AdvisorError
├── InputError            something the owner wrote: field, place, found, allowed
│   ├── QuantityError     a number without its unit, or with an unknown one
│   ├── Unlikely          it may be so, but a slip is likelier: it is asked
│   └── UsageError        what was typed is no command with its arguments and options
├── ManyProblems          several InputErrors of one file, told together
├── WeatherError          no weather that advice can honestly rest on
│   ├── SourceError       one service failed; the next may serve
│   └── StaleWeather      what is there is too old
├── RecordsError          the records cannot be read, written or understood
└── CannotAdvise          the inputs are readable but no honest advice follows

Every message is one sentence: what, where, found, allowed, way out.
A face turns an AdvisorError into exit code 2; any other exception is a bug and keeps
its traceback.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Self

from advisor.foreign_words import fit


class AdvisorError(Exception):
    """Anything the user can cause or meet; the message is one clear sentence."""


class InputError(AdvisorError):
    """Something the owner wrote is not usable.

    `field` is the field of what was asked that it is about, as a use case names it. `where` is the place
    as a face or a file has it: the option, or the file with its 1-based `line`; where nothing was said,
    the field stands for it. `found` is what stands there, `allowed` what may stand there.
    """

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        line: int | None = None,
        found: str = "",
        allowed: str = "",
        field: str = "",
    ) -> None:
        self.what, self.where, self.line, self.found, self.allowed = what, where, line, found, allowed
        self.field = field
        place = f"{where}:{line}: " if where and line is not None else f"{where or field}: "
        text = f"{place}{what}" if where or field else what
        if found:
            text += f"; found {found}"
        if allowed:
            text += f"; allowed: {allowed}"
        super().__init__(text)

    def at(self, where: str) -> Self:
        """The same error, told of this place."""
        return type(self)(
            self.what, where=where, line=self.line, found=self.found, allowed=self.allowed, field=self.field
        )


class QuantityError(InputError, ValueError):
    """A quantity without its unit or with one that does not fit (a ValueError for pydantic)."""


class Unlikely(InputError):
    """What the owner wrote may be so, but a slip is likelier: said again with its way out, it is taken."""


class UsageError(InputError):
    """What was typed is no command with its arguments and options; `of` is the parameter it is about."""

    def __init__(self, what: str, *, of: str = "") -> None:
        super().__init__(what)
        self.field = of


MOST_TOLD = 50


class ManyProblems(AdvisorError):
    """Several problems of one input, all told at once, in the order of their lines.

    The message tells MOST_TOLD of them and how many more there are; `problems` are all.
    """

    def __init__(self, problems: Sequence[InputError]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: (p.where, p.line or 0)))
        told = [str(p) for p in self.problems[:MOST_TOLD]]
        if more := len(self.problems) - len(told):
            told.append(f"... and {more:,} more problem{'s' if more > 1 else ''}; mend these first")
        super().__init__("\n".join(told))


class WeatherError(AdvisorError):
    """No weather that advice can honestly rest on."""


class SourceError(WeatherError):
    """One weather service failed or answered nonsense; `source` names it.

    The reason may be in the service's own words: what is unseen in them, or tells the place, is left out.
    """

    def __init__(self, source: str, reason: str) -> None:
        self.source, self.reason = source, fit(reason)
        super().__init__(f"{self.source}: {self.reason}")


class StaleWeather(WeatherError):
    """What is there is too old to advise on."""


class RecordsFault(StrEnum):
    """What is in the way of the records."""

    DISK_FULL = "disk full"
    DISK_FAILS = "disk fails"
    READ_ONLY = "read-only"
    LOCKED = "locked"
    OTHER = "other"


class RecordsError(AdvisorError):
    """The records cannot be read, written or understood.

    `what` is wrong, `way_out` is what can be done about it, `after` what it came to; `fault` is what is in the
    way. `why` says it without what it came to.
    """

    def __init__(
        self, what: str, *, way_out: str = "", after: str = "", fault: RecordsFault = RecordsFault.OTHER
    ) -> None:
        self.what, self.way_out, self.fault = what, way_out, fault
        self.why = f"{what}; {way_out}" if way_out else what
        super().__init__(f"{self.why}; {after}" if after else self.why)

    @property
    def may_pass(self) -> bool:
        """Whether the records themselves are sound, and only the way to them is blocked for now."""
        return self.fault is not RecordsFault.OTHER


class CannotAdvise(AdvisorError):
    """The inputs are readable but no honest advice follows from them."""
