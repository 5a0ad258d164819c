"""Mutants of the rooms that decide: one small wrong change each, and the tests that pass by the changed line."""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cosmic_ray.plugins
import parso
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Operator

PACKAGES = ("watering_in", "tonight", "schedule", "soil_water", "science")
"""Deciding and planning first, the arithmetic last."""

FAMILIES = {
    "a number": ["NumberReplacer"],
    "a sign": ["ReplaceUnaryOperator_Delete_USub"],
    "arithmetic": [f"ReplaceBinaryOperator_{pair}" for pair in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul")],
    "a comparison": [
        f"ReplaceComparisonOperator_{pair}"
        for pair in (
            *("Lt_LtE", "Lt_GtE", "LtE_Lt", "LtE_Gt", "Gt_GtE", "Gt_LtE", "GtE_Gt", "GtE_Lt"),
            *("Eq_NotEq", "NotEq_Eq", "Is_IsNot", "IsNot_Is"),
        )
    ],
    "a condition": ["AddNot", "ReplaceUnaryOperator_Delete_Not", "ReplaceAndWithOr", "ReplaceOrWithAnd"],
    "true or false": ["ReplaceTrueWithFalse", "ReplaceFalseWithTrue"],
    "a loop": ["ZeroIterationForLoop", "ReplaceBreakWithContinue", "ReplaceContinueWithBreak"],
    "an exception": ["ExceptionReplacer"],
}
"""What is changed, by the library's operators. Left out are those that only make noise: two dozen ways to swap one
arithmetic sign for another, identity for equality, and decorators, which are mostly caches."""

SWAPPED = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum"}
"""Names that are easily taken for each other, which the library does not swap."""


class SwapNames(Operator):
    """The least for the greatest, any for all."""

    def mutation_positions(self, node):
        if isinstance(node, parso.python.tree.Name) and node.value in SWAPPED:
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):
        node.value = SWAPPED[node.value]
        return node

    @classmethod
    def examples(cls):
        return ()


@dataclass(frozen=True)
class Mutant:
    """One changed room."""

    file: str
    """From the top of the tree on."""
    inside: str
    """The function or class that the change stands in, "" at the level of the room."""
    line: int
    before: str
    after: str
    code: str
    """The whole changed room."""

    @property
    def key(self) -> str:
        return digest(self.file, self.inside, self.before, self.after)

    @property
    def diff(self) -> str:
        return f"{self.file}:{self.line} in {self.inside or 'the room'}\n  - {self.before}\n  + {self.after}"


@cache
def _operators() -> dict[str, list[Operator]]:
    known = {
        family: [cosmic_ray.plugins.get_operator(f"core/{name}")() for name in names]
        for family, names in FAMILIES.items()
    }
    return {**known, "a name": [SwapNames()]}


def mutants_of(root: Path, package: str, seed: int) -> Iterator[Mutant]:
    """The mutants of a package in the order of a sample: a later one is drawn only where more are asked.

    The order hangs on the changed lines alone, so a change elsewhere leaves the rest of the sample as it is.
    Of the changes possible at one place one is drawn.
    """
    rooms = {
        path: path.read_text(encoding="utf-8")
        for path in sorted((root / "advisor" / package).rglob("*.py"))
        if path.name != "__init__.py"
    }
    drawn = []
    for path, source in rooms.items():
        lines, file = source.splitlines(), str(path.relative_to(root))
        for place, options in _places(source).items():
            text = lines[place[0] - 1].strip()
            again = [line.strip() for line in lines[: place[0] - 1]].count(text)
            lot = digest(str(seed), file, text, place[2], str(place[1]), *([str(again)] if again else []))
            drawn.append((lot, path, options[int(lot[:8], 16) % len(options)]))
    for _, path, (operator, occurrence) in sorted(drawn, key=lambda one: one[0]):
        mutant = _mutant(root, path, rooms[path], operator, occurrence)
        if mutant is not None:
            yield mutant


def places(root: Path, package: str) -> int:
    """In how many places a package can be changed."""
    rooms = (root / "advisor" / package).rglob("*.py")
    return sum(len(_places(p.read_text(encoding="utf-8"))) for p in rooms if p.name != "__init__.py")


@cache
def _places(source: str) -> dict[tuple[int, int, str], list[tuple[Operator, int]]]:
    """By line, column and family, what may be changed: an operator and its how-manieth place in the room."""
    found: dict[tuple[int, int, str], list[tuple[Operator, int]]] = {}
    nodes = list(ast_nodes(get_ast(source)))
    for family, operators in _operators().items():
        for operator in operators:
            count = 0
            for node in nodes:
                for (line, column), _ in operator.mutation_positions(node):
                    found.setdefault((line, column, family), []).append((operator, count))
                    count += 1
    return found


def _mutant(root: Path, path: Path, source: str, operator: Operator, occurrence: int) -> Mutant | None:
    """The mutant, or None where the change is none to what the program does.

    So it is in an annotation, where the code does not parse, in how a dataclass is stored, and where names must be given.
    """
    code = mutate_code(source, operator, occurrence)
    if code is None:
        return None
    line = first_difference(source, code)
    before, after = (text.splitlines()[line - 1].strip() for text in (source, code))
    if before.startswith(("@dataclass", "if TYPE_CHECKING")) or ("*, " in before and "/, " in after):
        return None
    try:
        changed = meaning(code)
    except SyntaxError:
        return None
    if changed == meaning(source):
        return None
    return Mutant(str(path.relative_to(root)), function_at(source, line)[0], line, before, after, code)


def first_difference(source: str, code: str) -> int:
    """The first line, from 1, in which two texts differ."""
    pairs = zip(source.splitlines(), code.splitlines(), strict=False)
    return next(number for number, (a, b) in enumerate(pairs, start=1) if a != b)


@cache
def meaning(source: str) -> str:
    """The program without its annotations and docstrings."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.arg):
            node.annotation = None
        if isinstance(node, ast.FunctionDef):
            node.returns = None
        if isinstance(node, ast.AnnAssign):
            node.annotation = ast.Constant(0)
    return ast.dump(tree)


@cache
def _spans(source: str) -> list[tuple[int, int, str]]:
    """First and last line and dotted name of every function and class, the outer before the inner."""
    found = []

    def look(node: ast.AST, outer: str) -> None:
        for child in ast.iter_child_nodes(node):
            name = outer
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                name = f"{outer}.{child.name}" if outer else child.name
                if isinstance(child, ast.FunctionDef):
                    found.append((child.body[0].lineno, child.end_lineno or child.lineno, name))
            look(child, name)

    look(ast.parse(source), "")
    return found


def function_at(source: str, line: int) -> tuple[str, int]:
    """The innermost function whose body holds a line, and the body's first line; "" and 0 where there is none.

    Defaults and decorators are read where the function stands, not when it runs.
    """
    inside = [(first, name) for first, last, name in _spans(source) if first <= line <= last]
    first, name = max(inside, default=(0, ""))
    return name, first


def statement_at(source: str, line: int) -> range:
    """The lines of the innermost statement on a line, of a compound one its head alone."""
    best = range(line, line + 1)
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or node.lineno):
            body = getattr(node, "body", None)
            last = body[0].lineno - 1 if body else node.end_lineno or node.lineno
            if node.lineno <= line <= max(last, node.lineno):
                best = range(node.lineno, max(last, node.lineno) + 1)
    return best


def function_text(source: str, name: str) -> str:
    """The text of a function, by its dotted name; of the room where the name is ""."""
    lines = source.splitlines()
    return "\n".join(
        next(("\n".join(lines[a - 1 : b]) for a, b, named in _spans(source) if named == name), source)
        if name
        else source
    )


def tests_for(mutant: Mutant, source: str, seen: Mapping[str, Mapping[str, object]]) -> list[str]:
    """The tests that pass by the changed line, by what was seen of every function of a room.

    Where the function has changed since, or the line is read when the room is loaded, all that enter it.
    """
    rooms = {name: one for name, one in seen.items() if name.startswith(f"{mutant.file}::")}
    name, first = function_at(source, mutant.line)
    one = rooms.get(f"{mutant.file}::{name}") if name else None
    if one is None:
        return sorted({test for room in rooms.values() for tests in room["lines"].values() for test in tests})
    wanted = {str(line - first) for line in statement_at(source, mutant.line)}
    fresh = one["text"] == digest(function_text(source, name))
    return sorted(
        {test for offset, tests in one["lines"].items() if offset in wanted or not fresh for test in tests}
    )


def digest(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:20]
