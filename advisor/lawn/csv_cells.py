"""Texts as cells of a CSV file that no spreadsheet takes for a formula, and back, without loss.

A text that begins with = + - @, a tab, a carriage return or a line feed (or their wide forms) gets an
apostrophe before it (OWASP, CSV Injection: from memory). So does one that has apostrophes and then such a
sign; so just one apostrophe is taken away again, and every text comes back as it was.
"""

from __future__ import annotations

import re

_SIGN = "[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]"
_FORMULA = re.compile(f"'*{_SIGN}")
_GUARDED = re.compile(f"'+{_SIGN}")


def cell_of_text(text: str) -> str:
    """The text as a cell.

    >>> cell_of_text("=1+1"), cell_of_text("'-"), cell_of_text("a=b")
    ("'=1+1", "''-", 'a=b')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def text_of_cell(cell: str) -> str:
    """The text that `cell_of_text` made a cell of.

    >>> text_of_cell("'=1+1"), text_of_cell("''-"), text_of_cell("'tis")
    ('=1+1', "'-", "'tis")
    """
    return cell[1:] if _GUARDED.match(cell) else cell
