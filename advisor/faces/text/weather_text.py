"""The weather day by day as a compact picture for a terminal, and as CSV. Computes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from itertools import groupby
from zoneinfo import ZoneInfo

from advisor.advice import DayIs, WeatherDay, WeatherDays
from advisor.faces.text.paragraphs import bullets, wrapped
from advisor.lawn import cell_of_text
from advisor.units import show_number, unit
from advisor.wording import INVENTED, Say, day_in_table, day_of_month, heading_time, short_day

BAR = 14
FELL, COMING = "█", "▒"
EIGHTHS = " ▏▎▍▌▋▊▉"
UNKNOWN = "?"
TRACE_MM = 0.1  # less leaves no mark
CSV_COLUMNS = tuple(name for name in WeatherDay.model_fields if name != "rain_from")  # that is no cell


def weather_text(report: WeatherDays, *, width: int, demo: bool = False) -> str:
    """The days in one table with bars of rain, and below it what each column rests on."""
    local = ZoneInfo(report.time_zone)
    say = Say(report.units, local, report.now.astimezone(local))
    title = f"{report.site} — weather at {heading_time(say.now)}"
    lines = [title, "=" * len(title)]
    if demo:
        lines.append(INVENTED)
    lines += ["", *_table(report), "", *_legend(report, say, width), "", "Rests on"]
    lines += bullets(_rests_on(report), width)
    for source in report.sources:
        fetched = source.fetched_at.astimezone(local)
        told = f"{source.name} ({source.serves}), fetched {short_day(fetched)} {fetched:%H:%M}"
        lines += bullets([f"{told}. {source.attribution}".strip()], width)
    lines += bullets(report.provenance, width)
    return "\n".join(lines) + "\n"


def _table(report: WeatherDays) -> list[str]:
    units = report.units
    amounts = [show_number(mm, "depth", units).rstrip("0").rstrip(".") for mm in (1.0, 5.0, 10.0)]
    most = max((d.rain_mm or 0.0 for d in report.days), default=0.0)
    rain, wind, temp = (unit(of, units) for of in ("depth", "wind", "temperature"))
    lines = [
        f"{'':<11}{'Rain':>6} {'':<{BAR}} {'from':<9}{'chance of, %':>14}{'ETo':>6}{'wind':>6}{'min':>6}",
        f"{'':<11}{rain:>6} {'':<{BAR}} {'':<9}"
        + "".join(f"{amount:>{w}}" for amount, w in zip(amounts, (4, 5, 5), strict=True))
        + f"{rain:>6}{wind:>6}{temp:>6}",
    ]
    before = None
    for day in report.days:
        if before == DayIs.PAST and day.when != DayIs.PAST:
            lines.append("-" * len(lines[0]))
        lines.append(_line(day, most, units))
        before = day.when
    return lines


def _line(day: WeatherDay, most_mm: float, units: str) -> str:
    chances = (day.chance_1mm, day.chance_5mm, day.chance_10mm)
    name = "today" if day.when == DayIs.TODAY else day_in_table(day.day)
    snow = "*" if (day.snow_mm or 0.0) >= 0.1 else ""
    return (
        f"{name:<11}{_number(day.rain_mm, 'depth', units) + snow:>6} {_bar(day, most_mm):<{BAR}} "
        f"{_basis(day):<9}"
        + "".join(f"{_percent(c):>{w}}" for c, w in zip(chances, (4, 5, 5), strict=True))
        + f"{_number(day.eto_mm, 'depth', units):>6}{_number(day.wind10_m_s, 'wind', units):>6}"
        f"{_number(day.tmin_c, 'temperature', units):>6}"
    ).rstrip()


def _bar(day: WeatherDay, most_mm: float) -> str:
    """What fell in full blocks, what is expected in light ones, on one scale for all days."""
    if day.rain_mm is None or most_mm <= 0.0:
        return ""
    eighths = round(8 * BAR * day.rain_mm / max(most_mm, 1.0))
    if day.when == DayIs.PAST:
        return FELL * (eighths // 8) + EIGHTHS[eighths % 8].strip()
    cells = max(round(eighths / 8), 1 if day.rain_mm >= TRACE_MM else 0)
    fell = round(BAR * min(day.fell_mm or 0.0, day.rain_mm) / max(most_mm, 1.0))
    return FELL * fell + COMING * max(0, cells - fell)


def _basis(day: WeatherDay) -> str:
    if day.rain_mm is None:
        return f"{day.known_hours:.0f} of {day.hours:.0f} h" if day.known_hours else "unknown"
    first = day.rain_basis[0]
    return first + ("+" if len(day.rain_basis) > 1 else "")


def _percent(chance: float | None) -> str:
    if chance is None:
        return ""
    return "<1" if 0.0 < chance < 0.01 else ">99" if 0.99 < chance < 1.0 else f"{100.0 * chance:.0f}"


def _number(value: float | None, dimension: str, units: str) -> str:
    return UNKNOWN if value is None else show_number(value, dimension, units)


def _legend(report: WeatherDays, say: Say, width: int) -> Iterable[str]:
    most = max((d.rain_mm or 0.0 for d in report.days), default=0.0)
    scale = f"a whole bar is {say.depth(max(most, 1.0))}" if most > 0.0 else "no rain on any day"
    parts = [f"{FELL} fell, {COMING} expected; {scale}."]
    if any(day.rain_mm is None for day in report.days):
        parts.append(f"{UNKNOWN} is not known, which is not dry.")
    if any(len(day.rain_basis) > 1 for day in report.days):
        parts.append("+ and in part from another (see below).")
    if any((day.snow_mm or 0.0) >= 0.1 for day in report.days):
        parts.append("* with snow, as its water; it waters nothing until it melts.")
    parts.append("Wind is the day's mean at 10 m.")
    return wrapped(" ".join(parts), width)


def _rests_on(report: WeatherDays) -> list[str]:
    """Each column's sources with the days that they serve."""
    columns = {
        "Rain": lambda d: d.rain_source or "not known",
        "Chances": lambda d: d.chance_source,
        "ETo": lambda d: d.eto_source,
        "Wind": lambda d: d.wind_source,
        "Minimum": lambda d: d.tmin_source,
    }
    told: dict[str, list[str]] = {}
    for name, of in columns.items():
        spans = []
        for source, days in groupby(report.days, key=of):
            run = list(days)
            if not source:
                continue
            first, last = run[0].day, run[-1].day
            when = day_of_month(first) if first == last else f"{day_of_month(first)} to {day_of_month(last)}"
            spans.append(f"{source}, {when}")
        told.setdefault("; ".join(spans) or "not known", []).append(name)
    return [f"{' and '.join(names)}: {spans}." for spans, names in told.items()]


def weather_csv(report: WeatherDays) -> str:
    """One line a day in SI units, the columns named as in the JSON; lists are joined by +."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for day in report.days:
        values = day.model_dump(mode="json")
        writer.writerow(_cell(values[name]) for name in CSV_COLUMNS)
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, list):
        return cell_of_text("+".join(str(v) for v in value))
    if isinstance(value, str):
        return cell_of_text(value)
    return round(value, 4) if isinstance(value, float) else "" if value is None else value
