"""The clock sheet as plain text, as a page to print, and as CSV. Computes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from html import escape

from advisor.advice.climate import MONTHS
from advisor.advice.clock_sheet import ClockSheet, SheetLine, SheetMonth
from advisor.advice.say import listed
from advisor.faces.paragraphs import bullets, wrapped
from advisor.units import show

HEADS = ("Month", "Zone", "Days", "Start", "Minutes", "Depth", "Water a month")
WORDS = 4  # columns of words before those of numbers
SHORT = "The allowed days leave the root zone up to {mm} past its allowance: expect some stress."
PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title><style>
@page {{ size: auto; margin: 12mm }}
body {{ font: 10.5pt/1.35 system-ui, sans-serif; color: #111; max-width: 190mm; margin: 1em auto; padding: 0 1em }}
h1 {{ font-size: 15pt; margin: 0 0 .2em }}
table {{ border-collapse: collapse; width: 100%; margin: .6em 0 }}
th, td {{ text-align: left; padding: .12em .5em .12em 0; border-bottom: 1px solid #ccc; vertical-align: top }}
tbody + tbody {{ border-top: 2px solid #555 }}
td.n, th.n {{ text-align: right }}
ul {{ padding-left: 1.2em; margin: .4em 0; font-size: 9pt }}
</style></head><body>
{body}
</body></html>
"""


def sheet_text(sheet: ClockSheet, *, width: int, demo: bool = False) -> str:
    """The sheet for a terminal or a printer of `width` columns."""
    title = _title(sheet)
    lines = [title, "=" * len(title)]
    if demo:
        lines += ["Invented demo: no such lawn or climate exists.", ""]
    lines += _table([list(HEADS), *_rows(sheet)])
    lines += ["", *wrapped(_off(sheet), width)]
    notes = _notes(sheet)
    if notes:
        lines += ["", *bullets(notes, width)]
    lines += ["", "What it assumes", *bullets(sheet.assumptions, width)]
    lines += bullets([f"Climate: {sheet.climate_source}."], width)
    lines += ["", "Take care", *bullets(sheet.cautions, width)]
    return "\n".join(lines) + "\n"


def sheet_html(sheet: ClockSheet, *, demo: bool = False) -> str:
    """The sheet as one page to print."""
    rows = _rows(sheet)
    parts = [f"<h1>{escape(_title(sheet))}</h1>"]
    if demo:
        parts.append("<p>Invented demo: no such lawn or climate exists.</p>")
    head = "".join(_cell("th", i, text) for i, text in enumerate(HEADS))
    parts.append(f"<table><thead><tr>{head}</tr></thead>")
    for i, row in enumerate(rows):
        parts.append(("</tbody>" if i else "") + "<tbody>" if row[0] else "")
        parts.append(f"<tr>{''.join(_cell('td', n, text) for n, text in enumerate(row))}</tr>")
    parts.append("</tbody></table>" if rows else "</table>")
    parts.append(f"<p>{escape(_off(sheet))}</p>")
    notes = [*_notes(sheet), *sheet.assumptions, f"Climate: {sheet.climate_source}.", *sheet.cautions]
    parts.append("<ul>" + "".join(f"<li>{escape(note)}</li>" for note in notes) + "</ul>")
    return PAGE.format(title=escape(_title(sheet)), body="\n".join(part for part in parts if part))


def sheet_csv(sheet: ClockSheet) -> str:
    """One row a zone and month in SI, off months left out."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        [
            *("month", "zone", "days", "days_a_week", "starts", "cycles", "cycle_minutes", "minutes"),
            *("effective_mm", "depth_mm", "litres", "use_mm_d", "rain_mm_d", "need_mm_d", "short_mm"),
        ]
    )
    for month in sheet.months:
        for x in month.lines:
            writer.writerow(
                [
                    *(month.month, x.zone, x.days, round(x.days_a_week, 3), " ".join(x.starts)),
                    *(x.cycles, x.cycle_minutes, x.minutes, round(x.effective_mm, 2), round(x.depth_mm, 2)),
                    *(round(x.litres, 1), round(x.use_mm_d, 3), round(x.rain_mm_d, 3)),
                    *(round(x.need_mm_d, 3), round(x.short_mm, 2)),
                ]
            )
    return out.getvalue()


def _title(sheet: ClockSheet) -> str:
    return f"{sheet.site} — clock sheet {sheet.made_on.year}"


def _rows(sheet: ClockSheet) -> list[list[str]]:
    rows = []
    for month in sheet.months:
        for i, line in enumerate(month.lines):
            name = MONTHS[month.month - 1] if i == 0 else ""
            total = show(month.litres, "volume", sheet.units, 0) if i == 0 else ""
            rows.append([name, *_line(line, sheet.units), total])
    return rows


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows under each other: words flush left, numbers flush right."""
    wide = [max(len(row[i]) for row in rows) for i in range(len(HEADS))]
    return [
        "  ".join(
            cell.rjust(width) if i >= WORDS else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, wide, strict=True))
        ).rstrip()
        for row in rows
    ]


def _line(line: SheetLine, units: str) -> list[str]:
    minutes = f"{line.minutes}" if line.cycles == 1 else f"{line.cycles} × {line.cycle_minutes}"
    mark = " *" if line.short_mm > 0.5 else ""
    depth = show(line.effective_mm, "depth", units)
    return [line.zone, line.days + mark, ", ".join(line.starts), minutes, depth]


def _off(sheet: ClockSheet) -> str:
    by_why: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for month in sheet.months:
        if month.off:
            zones = month.off if month.lines or month.not_fitting else ()
            by_why.setdefault((month.why_off, zones), []).append(MONTHS[month.month - 1])
    told = [
        f"{listed(zones) if zones else 'all zones'} in {listed(months)} ({why})"
        for (why, zones), months in by_why.items()
    ]
    return f"Off: {'; '.join(told)}." if told else "On all year."


def _notes(sheet: ClockSheet) -> list[str]:
    worst = max((line.short_mm for month in sheet.months for line in month.lines), default=0.0)
    notes = ["Depth is what the drier part of a zone gets; a run puts down a little more on average."]
    if worst > 0.5:
        notes.append("* " + SHORT.format(mm=show(worst, "depth", sheet.units)))
    soaks = {line.zone: line.soak_min for month in sheet.months for line in month.lines if line.soak_min}
    notes += [
        f"{zone}: at least {soak} min between two cycles, so that the first has soaked in."
        for zone, soak in soaks.items()
    ]
    return notes + _unfit(sheet.months)


def _unfit(months: Sequence[SheetMonth]) -> list[str]:
    by_zones: dict[tuple[str, ...], list[str]] = {}
    for month in months:
        if month.not_fitting:
            by_zones.setdefault(month.not_fitting, []).append(MONTHS[month.month - 1])
    return [
        f"DOES NOT FIT: {listed(zones)} in {listed(names)}. The allowed hours, days and minutes are too few; "
        "allow more, or let zones run at once where the supply carries them."
        for zones, names in by_zones.items()
    ]


def _cell(tag: str, number: int, text: str) -> str:
    kind = ' class="n"' if number >= WORDS else ""
    return f"<{tag}{kind}>{escape(text)}</{tag}>"
