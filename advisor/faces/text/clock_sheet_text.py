"""The clock sheet as plain text, as a page to print, and as CSV. Computes nothing."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from html import escape

from advisor.advice import ClockSheet, SheetProgram
from advisor.faces.text.paragraphs import bullets, wrapped
from advisor.lawn import cell_of_text
from advisor.sentences import TOLD_SHORT_MM, notes, off_words
from advisor.units import show
from advisor.wording import INVENTED, MONTHS

HEADS = ("Month", "Program", "Days", "Start times", "Zone", "Min", "Depth", "Water a month")
WORDS = 5  # columns of words before those of numbers
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
        lines += [INVENTED, ""]
    lines += [*wrapped(sheet.clock, width), "", *_table([list(HEADS), *_rows(sheet)])]
    lines += ["", *wrapped(off_words(sheet), width)]
    lines += ["", *bullets(notes(sheet), width)]
    lines += ["", "What it assumes", *bullets(sheet.assumptions, width)]
    lines += bullets([f"Climate: {sheet.climate_source}."], width)
    lines += ["", "Take care", *bullets(sheet.cautions, width)]
    return "\n".join(lines) + "\n"


def sheet_html(sheet: ClockSheet, *, demo: bool = False) -> str:
    """The sheet as one page to print."""
    rows = _rows(sheet)
    parts = [f"<h1>{escape(_title(sheet))}</h1>"]
    if demo:
        parts.append(f"<p>{INVENTED}</p>")
    parts.append(f"<p>{escape(sheet.clock)}</p>")
    head = "".join(_cell("th", i, text) for i, text in enumerate(HEADS))
    parts.append(f"<table><thead><tr>{head}</tr></thead>")
    for i, row in enumerate(rows):
        parts.append(("</tbody>" if i else "") + "<tbody>" if row[0] else "")
        parts.append(f"<tr>{''.join(_cell('td', n, text) for n, text in enumerate(row))}</tr>")
    parts.append("</tbody></table>" if rows else "</table>")
    parts.append(f"<p>{escape(off_words(sheet))}</p>")
    told = [*notes(sheet), *sheet.assumptions, f"Climate: {sheet.climate_source}.", *sheet.cautions]
    parts.append("<ul>" + "".join(f"<li>{escape(note)}</li>" for note in told) + "</ul>")
    return PAGE.format(title=escape(_title(sheet)), body="\n".join(part for part in parts if part))


def sheet_csv(sheet: ClockSheet) -> str:
    """One row a zone and month in SI, off months left out."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        [
            *("month", "program", "days", "days_a_week", "starts", "zone", "minutes_a_start", "minutes"),
            *("effective_mm", "depth_mm", "litres", "use_mm_d", "rain_mm_d", "need_mm_d", "short_mm"),
        ]
    )
    for month in sheet.months:
        for program in month.programs:
            name = cell_of_text(program.name)
            for x in program.zones:
                writer.writerow(
                    [
                        *(month.month, name, program.days, round(program.days_a_week, 3)),
                        *(" ".join(program.starts), cell_of_text(x.zone)),
                        *(x.minutes, len(program.starts) * x.minutes),
                        *(round(x.effective_mm, 2), round(x.depth_mm, 2), round(x.litres, 1)),
                        *(round(x.use_mm_d, 3), round(x.rain_mm_d, 3)),
                        *(round(x.need_mm_d, 3), round(x.short_mm, 2)),
                    ]
                )
    return out.getvalue()


def _title(sheet: ClockSheet) -> str:
    return f"{sheet.site} — clock sheet {sheet.made_on.year}"


def _rows(sheet: ClockSheet) -> list[list[str]]:
    rows = []
    for month in sheet.months:
        lines = [line for program in month.programs for line in _program(program, sheet.units)]
        for i, line in enumerate(lines):
            name = MONTHS[month.month - 1] if i == 0 else ""
            total = show(month.litres, "volume", sheet.units, 0) if i == 0 else ""
            rows.append([name, *line, total])
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


def _program(program: SheetProgram, units: str) -> list[list[str]]:
    """A line for each zone; what is the program's own stands on the first."""
    lines = []
    for i, zone in enumerate(program.zones):
        mark = " *" if any(z.short_mm > TOLD_SHORT_MM for z in program.zones) else ""
        own = [program.name, program.days + mark, ", ".join(program.starts)] if i == 0 else ["", "", ""]
        lines.append([*own, zone.zone, f"{zone.minutes}", show(zone.effective_mm, "depth", units)])
    return lines


def _cell(tag: str, number: int, text: str) -> str:
    kind = ' class="n"' if number >= WORDS else ""
    return f"<{tag}{kind}>{escape(text)}</{tag}>"
