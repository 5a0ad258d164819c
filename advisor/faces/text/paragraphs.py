"""Plain text for a terminal: wrapped lines, bullets and columns."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Sequence

from advisor.advice import NotKept

MOST_WIDE, LEAST_WIDE = 92, 40


def terminal_width() -> int:
    """How wide to write, from the terminal and within readable bounds."""
    return max(LEAST_WIDE, min(MOST_WIDE, shutil.get_terminal_size((MOST_WIDE, 24)).columns))


def wrapped(text: str, width: int, indent: str = "", hanging: str | None = None) -> list[str]:
    """`text` in lines no wider than `width`, later ones indented by `hanging`."""
    return textwrap.wrap(
        text,
        width,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )


def bullets(texts: Iterable[str], width: int, indent: str = "  ") -> list[str]:
    """Each text after a dash."""
    return [line for text in texts for line in wrapped(text, width, f"{indent}- ", f"{indent}  ")]


def not_kept_lines(found: NotKept | None, width: int) -> list[str]:
    """That an answer could not be kept, set off from what follows; nothing where it was."""
    return [] if found is None else ["", *wrapped(found.words, width, "! ", "  ")]


def columns(rows: Sequence[Sequence[str]], indent: str = "  ") -> list[str]:
    """Rows of cells under each other: the first column flush left, the others flush right."""
    if not rows:
        return []
    wide = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        (
            indent
            + "  ".join(
                [row[0].ljust(wide[0]), *(c.rjust(w) for c, w in zip(row[1:], wide[1:], strict=True))]
            )
        ).rstrip()
        for row in rows
    ]
