"""Sheets for a clock that is set by hand, from the usual year.

A month asks for a depth, the clock has programs, starts and minutes. What the clock cannot do is told.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.clock.sheet import clock_sheet
else:
    __getattr__ = lazy(
        __name__,
        {
            "sheet": ["clock_sheet"],
        },
    )

__all__ = ["clock_sheet"]
