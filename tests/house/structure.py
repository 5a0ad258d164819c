"""The packages of the house and the arrows between them, read from the code's own imports."""

from __future__ import annotations

import ast
import tomllib
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HOUSE = ROOT / "advisor"
ROOMS = sorted(HOUSE.rglob("*.py"))
SPLIT = ("faces",)
"""Packages that hold nothing but packages."""


def dotted(path: Path) -> str:
    """The module of a file, from the house on: `lawn.site_values`, "" for the house itself."""
    return ".".join(path.relative_to(HOUSE).with_suffix("").parts).removesuffix("__init__").removesuffix(".")


def package_of(module: str) -> str:
    """The package (or the single room at the top) that a module named from the house on stands in."""
    first, *rest = module.split(".")
    return f"{first}.{rest[0]}" if first in SPLIT and rest else first


@cache
def tree_of(path: Path) -> ast.Module:
    """The parsed file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def imports_of(path: Path) -> list[tuple[ast.stmt, str, str]]:
    """What a file imports of the house, wherever it says so: the statement, the module, the name ("" for all)."""
    return imports_in(tree_of(path))


def imports_in(tree: ast.Module) -> list[tuple[ast.stmt, str, str]]:
    """The same of code that is read already."""
    found: list[tuple[ast.stmt, str, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(node, n.name.removeprefix("advisor."), "") for n in node.names if _ours(n.name)]
        if isinstance(node, ast.ImportFrom) and _ours(node.module or ""):
            module = (node.module or "").removeprefix("advisor").removeprefix(".")
            found += [(node, module, one.name) for one in node.names]
    return found


def _ours(module: str) -> bool:
    return module == "advisor" or module.startswith("advisor.")


def packages() -> list[str]:
    """Every package and every room at the top, in the order of the floors, the highest first."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        contracts = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    floors = next(one["layers"] for one in contracts if one["type"] == "layers")
    named = [name.strip(" ()") for floor in floors for name in floor.split("|")]
    there = {package_of(dotted(path)) for path in ROOMS} - {"", *SPLIT}
    inside = {name: sorted(p for p in there if p.startswith(f"{name}.")) or [name] for name in named}
    ordered = [package for name in named for package in inside[name]]
    return [*ordered, *sorted(there - set(ordered))]


def arrows() -> dict[str, set[str]]:
    """Which packages each package imports; that every front makes itself with `exports` goes without saying."""
    found: dict[str, set[str]] = {package: set() for package in packages()}
    for path in ROOMS:
        mine = package_of(dotted(path))
        for _, module, name in imports_of(path):
            theirs = package_of(module or name)
            if theirs == "faces":
                theirs = package_of(f"{module}.{name}")
            if mine in found and theirs in found and theirs not in (mine, "exports"):
                found[mine].add(theirs)
    return found


def file_of(package: str) -> Path:
    """Where a package, or a single room, says what it is for."""
    path = HOUSE.joinpath(*package.split("."))
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def idea_of(package: str) -> str:
    """The first sentence of what a package says of itself."""
    whole = " ".join((ast.get_docstring(tree_of(file_of(package))) or "").split("\n\n")[0].split())
    return whole.split(". ")[0].rstrip(".")


def lines_of(package: str) -> int:
    """Its lines of code."""
    inside = [path for path in ROOMS if package_of(dotted(path)) == package]
    return sum(len(path.read_text(encoding="utf-8").splitlines()) for path in inside)


def drawn() -> str:
    """The house as a table: one line a package, the highest floor first."""
    order, to = packages(), arrows()
    lines = ["| package | idea | imports |", "|---|---|---|"]
    for package in order:
        below = ", ".join(name for name in order if name in to[package])
        lines.append(f"| `{package}` | {idea_of(package)} | {below or '–'} |")
    return "\n".join(lines)
