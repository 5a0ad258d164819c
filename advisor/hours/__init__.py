"""When water may run and who can act.

The owner's rules, the sun and the clock become windows of a night. Local time and daylight saving are dealt
with here.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.hours.attended import attended, waking_hours
    from advisor.hours.night import BY_DAY, Night, chances_to_run, look_at_night
    from advisor.hours.window import Window, overlap, without
    from advisor.hours.windows import NightWindows, closed_date, local_hours, night_of, windows_for
else:
    __getattr__ = lazy(
        __name__,
        {
            "attended": ["attended", "waking_hours"],
            "night": ["BY_DAY", "Night", "chances_to_run", "look_at_night"],
            "window": ["Window", "overlap", "without"],
            "windows": ["NightWindows", "closed_date", "local_hours", "night_of", "windows_for"],
        },
    )

__all__ = [
    "BY_DAY",
    "Night",
    "NightWindows",
    "Window",
    "attended",
    "chances_to_run",
    "closed_date",
    "local_hours",
    "look_at_night",
    "night_of",
    "overlap",
    "waking_hours",
    "windows_for",
    "without",
]
