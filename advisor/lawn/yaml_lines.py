"""A YAML 1.2 file → plain values, and the line on which each stands.

Every scalar stays the text that was written: what a key means decides how its value is read, so
22:30 is never a number of minutes and `no` never a falsehood. Keys may not repeat. Anchors,
aliases and tags are refused: a site file has no use for them, and they can hide what is read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.composer import Composer
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from advisor.errors import InputError, ManyProblems
from advisor.files import open_file

LARGEST_BYTES = 250_000
MOST_ENTRIES, DEEPEST = 10_000, 20
"""More keys and values than any lawn has, and deeper ones: such a file is no site file, and is slow to read."""
Loc = tuple[str | int, ...]


class Plain(str):
    """A scalar written without quotes."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Written:
    """What a file says: nested dict, list, text and None, and the 1-based line of every path in it."""

    value: Any
    lines: Mapping[Loc, int]

    def line(self, loc: Loc) -> int:
        """The line of `loc`, or of the nearest thing around it that is there."""
        for end in range(len(loc), -1, -1):
            if loc[:end] in self.lines:
                return self.lines[loc[:end]]
        return 1


def read_text(path: Path, way_out: str) -> str:
    """The text of a UTF-8 file; raises InputError in one sentence when it cannot be had."""
    try:
        with open_file(path) as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError("there is no such file", where=str(path), allowed=way_out) from None
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise InputError(f"the file cannot be read ({reason})", where=str(path), allowed=way_out) from None
    if len(data) > LARGEST_BYTES:
        raise InputError("the file is too large", where=str(path), allowed="at most 250 kB of text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            "this is not text in UTF-8",
            where=str(path),
            line=data.count(b"\n", 0, error.start) + 1,
            found=f"the byte 0x{data[error.start]:02x}",
            allowed="a YAML file saved as UTF-8",
        ) from None


def read_yaml(text: str, where: str) -> Written:
    """The values and lines of YAML `text`; `where` names the file in errors.

    Raises InputError when it is not YAML, ManyProblems for repeated keys, anchors or tags.
    """
    walk = _Walk(where)
    try:
        node = _composed(text)
        value = None if node is None else walk.value(node, ())
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise InputError(
            _yaml_sentence(error, text), where=where, line=mark.line + 1 if mark else None
        ) from None
    except YAMLError as error:
        raise InputError(
            "this is not a text file that YAML allows",
            where=where,
            found=" ".join(str(error).split())[:80],
            allowed="printable text",
        ) from None
    except _TooMuch as error:
        raise InputError(
            error.what, where=where, line=error.line, found=error.found, allowed=error.allowed
        ) from None
    if walk.problems:
        raise ManyProblems(walk.problems)
    return Written(value, walk.lines)


def typed(value: object) -> object:
    """`value` with unquoted scalars read by YAML 1.2's core schema: null, true/false, numbers, text."""
    if isinstance(value, dict):
        return {str(key): typed(one) for key, one in value.items()}
    if isinstance(value, list):
        return [typed(one) for one in value]
    if not isinstance(value, Plain):
        return value
    if value.lower() in ("true", "false"):
        return value.lower() == "true"
    if re.fullmatch(r"[-+]?[0-9]{1,15}", value):
        return int(value)
    if re.fullmatch(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,2})?", value):
        return float(value)
    return str(value)


def _yaml_sentence(error: MarkedYAMLError, text: str) -> str:
    mark = error.problem_mark or error.context_mark
    rows = text.splitlines()
    row = rows[mark.line] if mark and mark.line < len(rows) else ""
    if "\t" in row[: len(row) - len(row.lstrip())] or "\\t" in str(error.problem):
        return "a tab stands in the indentation; allowed: spaces"
    problem = " ".join(f"{error.context or ''} {error.problem or ''}".split()) or "it cannot be read"
    return f"this is not YAML: {problem if len(problem) <= 200 else problem[:197] + '...'}"


class _TooMuch(Exception):
    """The file holds more, or deeper, than a site file does."""

    def __init__(self, what: str, line: int, found: str, allowed: str) -> None:
        self.what, self.line, self.found, self.allowed = what, line, found, allowed


class _Bounded(Composer):
    """Composes no more and no deeper than a site file needs; the rest is not even looked at."""

    entries, depth = 0, 0

    def compose_node(self, parent: Any, index: Any) -> Any:
        """One node with all that is in it. Raises _TooMuch."""
        line = self.parser.peek_event().start_mark.line + 1
        self.entries, self.depth = self.entries + 1, self.depth + 1
        if self.entries > MOST_ENTRIES:
            found = f"more than {MOST_ENTRIES:,} keys and values by this line"
            raise _TooMuch("the file holds more than any lawn has", line, found, "the keys shown")
        if self.depth > DEEPEST:
            found = f"more than {DEEPEST} levels"
            raise _TooMuch("the file is nested too deep", line, found, "the keys shown")
        node = super().compose_node(parent, index)
        self.depth -= 1
        return node


def _composed(text: str) -> Node | None:
    yaml = YAML(typ="safe", pure=True)
    yaml.Composer = _Bounded
    found: Node | None = yaml.compose(text)
    return found


class _Walk:
    """Goes through the nodes once, noting lines and what may not be there."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.lines: dict[Loc, int] = {}
        self.problems: list[InputError] = []
        self.seen: set[int] = set()

    def value(self, node: Node, loc: Loc) -> Any:
        line = node.start_mark.line + 1
        self.lines.setdefault(loc, line)
        if node.anchor is not None:
            if id(node) not in self.seen:
                self._refuse("anchors and aliases are not used here", line, f"&{node.anchor}", "the value")
                self.seen.add(id(node))
            return None
        if not str(node.tag).startswith("tag:yaml.org,2002:"):
            self._refuse("tags are not used here", line, str(node.tag), "the plain value")
            return None
        if isinstance(node, MappingNode):
            return self._mapping(node, loc)
        if isinstance(node, SequenceNode):
            return [self.value(child, (*loc, index)) for index, child in enumerate(node.value)]
        return self._scalar(node)

    def _mapping(self, node: MappingNode, loc: Loc) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            if not isinstance(key_node, ScalarNode):
                self._refuse(
                    "a key is one word", line, "a list or a mapping as a key", "a name before the colon"
                )
                continue
            key = str(key_node.value)
            if key in result:
                self._refuse(
                    f"the key {key!r} stands twice",
                    line,
                    f"again after line {self.lines[*loc, key]}",
                    "each once",
                )
                continue
            self.lines[(*loc, key)] = line
            result[key] = self.value(value_node, (*loc, key))
        return result

    def _scalar(self, node: Node) -> str | None:
        if getattr(node, "style", None) is not None:
            return str(node.value)
        return None if node.value in ("", "~", "null", "Null", "NULL") else Plain(node.value)

    def _refuse(self, what: str, line: int, found: str, allowed: str) -> None:
        self.problems.append(InputError(what, where=self.where, line=line, found=found, allowed=allowed))
