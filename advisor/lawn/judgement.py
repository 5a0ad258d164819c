"""The numbers that steer an answer and have no publication behind them: data/judgement.csv, one row each.

They hang on the site, so that whoever decides takes them from there and another table gives other answers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import Field, dataclass, fields, replace
from functools import cache
from math import isfinite
from pathlib import Path
from types import MappingProxyType
from typing import Any

from advisor.errors import InputError
from advisor.lawn.csv_lines import cells_of, csv_lines
from advisor.shipped import shipped

NAMES = ("key", "value", "thrifty", "cautious", "unit", "least", "most", "steers", "source")
UNITS = ("mm", "h", "min", "days", "°C", "share", "times", "to one", "cost", "√mm", "pairs")


@dataclass(frozen=True, slots=True)
class ByDial:
    """A number with its value for each position of the dial."""

    thrifty: float
    balanced: float
    cautious: float

    def of(self, dial: str) -> float:
        """Its value where the dial stands."""
        return float(getattr(self, dial))


@dataclass(frozen=True, slots=True)
class TurfJudged:
    """When the turf is run for its own sake, and how deep."""

    stress: ByDial
    run_mm: float
    room_share: ByDial
    room_h: float
    least_run_mm: float


@dataclass(frozen=True, slots=True)
class RainJudged:
    """What rain comes to, and how sure it is."""

    interception_mm: float
    wild_mm: float
    wild_ratio: float
    doubt: float
    doubt_of_spread: float
    half_weight_pairs: float
    made_up_pairs: float


@dataclass(frozen=True, slots=True)
class CostsJudged:
    """What being wrong about watering in costs, in shares of the worth of all that was put down."""

    shortfall: ByDial
    loss: ByDial
    water: ByDial
    run: float
    look: float
    delay: float
    aim: float
    still_saves: float
    flood_h: float


@dataclass(frozen=True, slots=True)
class LooksJudged:
    """When a look is worth it, and which of nearly equal ways is taken."""

    nearly: float
    keep_within: float
    soonest_min: float
    due_min: float
    asleep: float
    asleep_per_h: float
    odd_time: float
    useful_mm: float
    useful_share: float
    useful_chance: float
    skip_chance: float
    seen_before_min: float
    takes_min: float


@dataclass(frozen=True, slots=True)
class ApplicationsJudged:
    """What water has done to a product on the lawn."""

    given_up_d: float
    trace_mm: float
    disturbing_mm: float
    ran_off_mm: float
    leached: float
    caught_short_mm: float


@dataclass(frozen=True, slots=True)
class NeedJudged:
    """What the way a liquid was put down means for watering it in."""

    enough_dilution: float
    hose_end_low_min: float
    hose_end_high_min: float
    tank_low_min: float
    tank_high_min: float


@dataclass(frozen=True, slots=True)
class AlarmsJudged:
    """From when on a thing is worth an alarm."""

    likely: float
    wetted_mm: float
    lost_share: float
    rain_mm: float


@dataclass(frozen=True, slots=True)
class LightJudged:
    """Light runs: seed kept moist, turf cooled at midday."""

    spare_share: float
    cool_mm: float
    hot_c: float


@dataclass(frozen=True, slots=True)
class Judgement:
    """All of them, by what they are about; a row of the table is named `turf.stress`."""

    turf: TurfJudged
    rain: RainJudged
    costs: CostsJudged
    looks: LooksJudged
    applications: ApplicationsJudged
    need: NeedJudged
    alarms: AlarmsJudged
    light: LightJudged

    def number(self, key: str, dial: str) -> float:
        """One number where the dial stands so."""
        group, name = key.split(".")
        found = getattr(getattr(self, group), name)
        return found.of(dial) if isinstance(found, ByDial) else float(found)

    def with_number(self, key: str, dial: str, value: float) -> Judgement:
        """The same with another value of one number, for this dial."""
        group, name = key.split(".")
        those = getattr(self, group)
        found = getattr(those, name)
        new = replace(found, **{dial: value}) if isinstance(found, ByDial) else value
        return replace(self, **{group: replace(those, **{name: new})})


@dataclass(frozen=True, slots=True)
class JudgedRow:
    """A row of the table: what the number steers, in which unit and range, and on whose word."""

    key: str
    value: float | ByDial
    unit: str
    least: float
    most: float
    steers: str
    source: str


GROUPS: Mapping[str, type[Any]] = MappingProxyType(
    {
        "turf": TurfJudged,
        "rain": RainJudged,
        "costs": CostsJudged,
        "looks": LooksJudged,
        "applications": ApplicationsJudged,
        "need": NeedJudged,
        "alarms": AlarmsJudged,
        "light": LightJudged,
    }
)


@cache
def judged_rows() -> Mapping[str, JudgedRow]:
    """The rows of the shipped table by key."""
    return rows_of(shipped("data", "judgement.csv"))


@cache
def shipped_judgement() -> Judgement:
    """The numbers of the shipped table."""
    return judgement_of(judged_rows())


def judgement_of(rows: Mapping[str, JudgedRow]) -> Judgement:
    """The numbers of these rows, as `rows_of` gives them."""
    return Judgement(
        **{
            group: cls(**{field.name: rows[f"{group}.{field.name}"].value for field in fields(cls)})
            for group, cls in GROUPS.items()
        }
    )


def rows_of(path: Path) -> Mapping[str, JudgedRow]:
    """The rows of a table like data/judgement.csv; every number that is asked for once, and no other.

    Raises InputError with file and line for the first thing that is wrong.
    """
    names, *lines = csv_lines(path)
    if tuple(cells_of(names[1], str(path), names[0])) != NAMES:
        raise InputError(
            "the row of names is not understood", where=str(path), line=names[0], allowed=",".join(NAMES)
        )
    known = dict(_known())
    rows: dict[str, JudgedRow] = {}
    for number, line in lines:
        cells = cells_of(line, str(path), number, count=len(NAMES))
        reading = _Row(str(path), number, cells)
        if cells[0] not in known or cells[0] in rows:
            twice = "stands here twice" if cells[0] in rows else "is no number that steers an answer"
            raise reading.wrong(f"{cells[0]!r} {twice}")
        rows[cells[0]] = reading.row(by_dial=known[cells[0]].type == "ByDial")
    left_out = [key for key in known if key not in rows]
    if left_out:
        raise InputError("numbers are missing", where=str(path), found=f"no {', '.join(left_out)}")
    return MappingProxyType(rows)


def _known() -> Iterator[tuple[str, Field[Any]]]:
    for group, cls in GROUPS.items():
        for field in fields(cls):
            yield f"{group}.{field.name}", field


class _Row:
    """One line of the table while it is read."""

    def __init__(self, where: str, line: int, cells: Sequence[str]) -> None:
        self.where, self.line, self.cell = where, line, dict(zip(NAMES, cells, strict=True))

    def wrong(self, what: str, *, found: str = "", allowed: str = "") -> InputError:
        """What is wrong with this line."""
        return InputError(what, where=self.where, line=self.line, found=found, allowed=allowed)

    def row(self, *, by_dial: bool) -> JudgedRow:
        """The row; `by_dial` where it has a value for each position of the dial."""
        cell = self.cell
        least, most = self._number("least", isfinite), self._number("most", isfinite)

        def inside(value: float) -> bool:
            return least <= value <= most

        value: float | ByDial = self._number("value", inside, f"{cell['least']} to {cell['most']}")
        if by_dial:
            thrifty, cautious = (self._number(name, inside) for name in ("thrifty", "cautious"))
            value = ByDial(thrifty, float(self.cell["value"]), cautious)
        elif cell["thrifty"] or cell["cautious"]:
            raise self.wrong(f"{cell['key']} is the same whatever the dial")
        if cell["unit"] not in UNITS:
            raise self.wrong("the unit is not known", found=repr(cell["unit"]), allowed=", ".join(UNITS))
        for name in ("steers", "source"):
            if not cell[name]:
                raise self.wrong(f"{name!r} is empty")
        return JudgedRow(cell["key"], value, cell["unit"], least, most, cell["steers"], cell["source"])

    def _number(
        self, name: str, holds: Callable[[float], bool], allowed: str = "a number in its range"
    ) -> float:
        try:
            found = float(self.cell[name])
        except ValueError:
            found = float("nan")
        if not holds(found):
            raise self.wrong(
                f"{name!r} of {self.cell['key']} will not do", found=repr(self.cell[name]), allowed=allowed
            )
        return found
