"""What the program itself can come to: from the commands, the service and `advise` on, by the names that code uses.

Read from the code alone. A function is reached where reached code names it, a class as a whole with all its
methods; that a condition may never hold is not seen.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable
from functools import cache

from house.structure import ROOMS, dotted, imports_in, tree_of

Name = tuple[str, str]
"""A module, from the house on, and a name defined in it; the name "" is the module itself."""

ROOTS = ("faces.cli", "store.migrations", "weather.sources")
"""Rooms called from outside or by a table of names: commands, changes of the records' form, weather sources."""


@cache
def modules() -> dict[str, ast.Module]:
    """Every room with its code, by its name from the house on."""
    return {dotted(path): tree_of(path) for path in ROOMS}


@cache
def definitions() -> dict[Name, list[ast.stmt]]:
    """What is defined at the top of each room: functions, classes, and names that are given a value."""
    found: dict[Name, list[ast.stmt]] = {}
    for module, tree in modules().items():
        otherwise = [inner for node in tree.body if isinstance(node, ast.If) for inner in node.orelse]
        for node in [*tree.body, *otherwise]:
            for name in _defined_by(node):
                found.setdefault((module, name), []).append(node)
    return found


def _defined_by(node: ast.stmt) -> Iterable[str]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        return [node.name]
    targets = node.targets if isinstance(node, ast.Assign) else []
    targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
    return [each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name)]


@cache
def imported() -> dict[str, dict[str, tuple[str, str]]]:
    """By room the names that it imports from the house, under the name by which it calls them."""
    found: dict[str, dict[str, tuple[str, str]]] = {}
    for room, tree in modules().items():
        mine = found.setdefault(room, {})
        for node, module, name in imports_in(tree):
            assert isinstance(node, ast.Import | ast.ImportFrom)
            called = next((a.asname for a in node.names if a.name in (name, f"advisor.{module}")), None)
            mine[called or name or module.split(".")[0]] = (module, name)
    return found


@cache
def meant(module: str, name: str) -> Name | None:
    """What a name means in a room: something defined in a room, or a room."""
    if (module, name) in definitions():
        return module, name
    whole = f"{module}.{name}".strip(".")
    if name in imported().get(module, {}):
        where, what = imported()[module][name]
        if (where, what) != (module, name):
            found = meant(where, what) if what else (where, "")
            if found is not None:
                return found
    return (whole, "") if whole in modules() else None


def _named_by(module: str, node: ast.AST) -> Name | None:
    if isinstance(node, ast.Name):
        return meant(module, node.id)
    if isinstance(node, ast.Attribute):
        owner = _named_by(module, node.value)
        return meant(owner[0], node.attr) if owner and not owner[1] else None
    return None


def names_in(module: str, node: ast.AST) -> set[Name]:
    """All of the house that a piece of a room's code names."""
    found = {_named_by(module, each) for each in ast.walk(node)}
    return {each for each in found if each is not None and each[1]}


@cache
def reached() -> frozenset[Name]:
    """Everything that the roots come to."""
    todo = [name for name in definitions() if name[0].startswith(ROOTS) or name[1] == "__getattr__"]
    todo += [name for name in [meant("tonight", "advise")] if name is not None]
    seen: set[Name] = set()
    while todo:
        name = todo.pop()
        if name not in seen:
            seen.add(name)
            todo += [found for node in definitions()[name] for found in names_in(name[0], node)]
    return frozenset(seen)


def not_reached() -> list[str]:
    """Public functions and classes that no command, no service and no advice comes to."""
    return sorted(
        f"{module}.{name}"
        for (module, name), nodes in definitions().items()
        if isinstance(nodes[0], ast.FunctionDef | ast.ClassDef)
        and (module, name) not in reached()
        and not name.startswith("_")
    )


def members_not_asked_for(package: str) -> list[str]:
    """Public methods and properties of a package's classes whose name no code of the house reads."""
    asked = {n.attr for tree in modules().values() for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    return sorted(
        f"{module}.{name}.{inner.name}"
        for (module, name), nodes in definitions().items()
        if module.startswith(package) and isinstance(nodes[0], ast.ClassDef)
        for inner in nodes[0].body
        if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_") and inner.name not in asked
    )
