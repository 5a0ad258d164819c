"""What others say, made fit to be shown and logged: nothing unseen in it, and not where the home is."""

from __future__ import annotations

import re
import unicodedata

LEFT_OUT = "•••"
LONGEST = 400
_ESCAPES = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]?"  # colours and the cursor
    r"|(?:\x1b[PX\]^_]|[\x90\x98\x9d\x9e\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)?"  # titles and the like
    r"|\x1b[ -/]*[0-~]?"
)
"""Escape sequences after ECMA-48, 5th edition, 5.3 to 5.6; what has no end reaches to the end of the text."""
_AS_SPACE = frozenset({"Cc", "Zl", "Zp"})
_UNSEEN = frozenset({"Cf", "Cs", "Co", "Cn"})
_QUERY = re.compile(r"(?<=[\w/.\-])\?[^\s\"'<>)\]]*=[^\s\"'<>)\]]*")
_PAIR = re.compile(r"-?\d{1,3}\.\d{2,}(?:,|%2[Cc])\s?-?\d{1,3}\.\d{2,}")
_NAMED = re.compile(
    r"\b(lat|latitude|lon|lng|longitude)\b([\"']?\s*[=:]\s*[\"']?|\s+(?:of\s|is\s)?)-?\d{1,3}(?:\.\d+)?", re.I
)


def plain(text: str) -> str:
    """`text` without terminal escapes and without characters that are not seen but change what is; lines stay.

    >>> plain("\\x1b[31mred\\x1b[0m \\u202eright to left\\u200b\\x07")
    'red right to left '
    """
    if text.isprintable():
        return text
    return "".join(_seen(one) for one in _ESCAPES.sub("", text))


def _seen(one: str) -> str:
    kind = unicodedata.category(one)
    if kind in _AS_SPACE:
        return one if one == "\n" else " "
    return "" if kind in _UNSEEN else one


def without_place(text: str) -> str:
    """`text` without the queries of addresses and without coordinates.

    >>> without_place("no answer from /v1/forecast?latitude=40.5200&longitude=-96.7400 (refused)")
    'no answer from /v1/forecast?••• (refused)'
    >>> without_place("nothing for 40.5200,-96.7400; latitude 40.52 is far")
    'nothing for •••; latitude ••• is far'
    """
    text = _PAIR.sub(LEFT_OUT, _QUERY.sub(f"?{LEFT_OUT}", text))
    return _NAMED.sub(rf"\1\2{LEFT_OUT}", text)


def fit(text: str, *, most: int = LONGEST) -> str:
    """`text` on one line of at most `most` letters, `plain` and `without_place`.

    >>> fit("two\\r\\nlines"), fit("x" * 9, most=4)
    ('two lines', 'xxx…')
    """
    line = " ".join(without_place(plain(text)).split())
    return line if len(line) <= most else line[: most - 1] + "…"
