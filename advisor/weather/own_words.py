"""Notes as the owner reads them: times on their clock and depths in their units.

Notes are written where neither is known, with times as 2026-06-17 21:00 UTC and depths in mm.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, tzinfo

from advisor.units import show
from advisor.wording import short_day

_TIME = re.compile(r"\d{4}-\d{2}-\d{2} \d{2}:\d{2} UTC")
_DEPTH = re.compile(r"(?:(?P<low>\d+(?:\.\d+)?) (?P<word>to|and) )?(?P<depth>\d+(?:\.\d+)?) mm\b(?!/)")


def in_own_words(text: str, units: str, local: tzinfo) -> str:
    """The text of a note for one place; `units` "metric" or "us".

    >>> from zoneinfo import ZoneInfo
    >>> in_own_words("5.1 mm until 2026-06-18 02:00 UTC", "us", ZoneInfo("America/Chicago"))
    '0.20 in until Wed 17 Jun 2026 21:00'
    """

    def time(found: re.Match[str]) -> str:
        utc = datetime.strptime(found[0], "%Y-%m-%d %H:%M UTC").replace(tzinfo=UTC)
        there = utc.astimezone(local)
        return f"{short_day(there, year=True)} {there:%H:%M}"

    def depth(found: re.Match[str]) -> str:
        shown = show(float(found["depth"]), "depth", units)
        if not found["low"]:
            return shown
        return f"{show(float(found['low']), 'depth', units).split()[0]} {found['word']} {shown}"

    told = _TIME.sub(time, text)
    return told if units == "metric" else _DEPTH.sub(depth, told)
