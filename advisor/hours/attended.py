"""When a person can act: the waking hours in which a sprinkler can be moved by hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import time, timedelta
from zoneinfo import ZoneInfo

from advisor.hours.window import Window, overlap
from advisor.hours.windows import local_hours

DAY = timedelta(days=1)


def waking_hours(windows: Sequence[Window], awake: tuple[time, time], local: ZoneInfo) -> tuple[Window, ...]:
    """The waking stretches over the dates that some windows reach, in order; none without windows."""
    if not windows:
        return ()
    first = min(w.starts_at for w in windows).astimezone(local).date()
    last = max(w.ends_at for w in windows).astimezone(local).date()
    return local_hours([awake], first - DAY, last, local)


def attended(
    windows: Sequence[Window],
    awake: tuple[time, time],
    local: ZoneInfo,
    *,
    least: timedelta = timedelta(),
) -> tuple[Window, ...]:
    """The parts of the windows in which somebody is awake, none shorter than `least`."""
    return overlap(windows, waking_hours(windows, awake, local), least=least)
