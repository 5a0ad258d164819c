"""Packages meet only through the names that they export; what they export costs nothing until it is used."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from pathlib import Path

import pytest
from house.structure import HOUSE, ROOMS, dotted, file_of, imports_of, package_of, packages, tree_of

OPEN = {"science"}
"""Packages every room of which is open to all: pure functions, a room for each piece of physics."""
PACKAGES = [name for name in packages() if file_of(name).name == "__init__.py" and name not in OPEN]
FRONTS = ["", *PACKAGES]
MANY = 40
"""More names than these are no front. What the owner declares and what is handed out are a language of their own."""
LANGUAGES = {"lawn", "advice", "sentences"}


def exported(package: str) -> list[str]:
    """The names in `__all__`."""
    init = file_of(package) if package else HOUSE / "__init__.py"
    for node in tree_of(init).body:
        target = node.target if isinstance(node, ast.AnnAssign) else None
        if isinstance(node, ast.Assign):
            target = node.targets[0]
        if isinstance(target, ast.Name) and target.id == "__all__":
            names: list[str] = ast.literal_eval(node.value)  # type: ignore[attr-defined]
            return names
    raise AssertionError(f"{package or 'advisor'} says nothing of what it exports")


def past_the_front(path: Path) -> list[str]:
    """What a room imports from the inside of another package."""
    mine = package_of(dotted(path))
    found = []
    for node, module, name in imports_of(path):
        whole = f"{module}.{name}".strip(".")
        theirs = next((p for p in PACKAGES if whole == p or whole.startswith(f"{p}.")), None)
        if theirs is None or theirs == mine:
            continue
        if module != theirs or name not in exported(theirs):
            found.append(f"{dotted(path)}:{node.lineno}: {whole}")
    return found


def test_packages_meet_only_through_the_names_they_export() -> None:
    assert [found for path in ROOMS for found in past_the_front(path)] == []


def test_a_way_past_the_front_would_be_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = tmp_path / "loose.py"
    room.write_text(
        "from advisor.lawn.site_values import Site\nfrom advisor.lawn import load\nimport advisor.lawn.load\n"
        "from advisor.lawn import Site\nfrom advisor.science.soil import total_available_water\n"
    )
    monkeypatch.setattr(sys.modules[__name__], "dotted", lambda _: "night")
    assert [found.split(": ")[1] for found in past_the_front(room)] == [
        "lawn.site_values.Site",
        "lawn.load",
        "lawn.load",
    ]


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_says_in_a_few_sentences_what_it_is_for_and_exports_few_names(package: str) -> None:
    said = ast.get_docstring(tree_of(file_of(package))) or ""
    assert len(said.replace("\n", " ").split(". ")) >= 3, said
    assert len(exported(package)) <= MANY or package in LANGUAGES


@pytest.mark.parametrize("package", FRONTS, ids=lambda name: name or "advisor")
def test_every_exported_name_is_there_and_is_used(package: str) -> None:
    module = importlib.import_module(f"advisor.{package}" if package else "advisor")
    for name in exported(package):
        assert getattr(module, name) is not None
        assert not isinstance(getattr(module, name), type(sys)), f"{name} is a room"
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = module.no_such_name
    if package:
        asked = {n for path in ROOMS for _, where, n in imports_of(path) if where == package}
        asked |= {n for _, where, n in _imports_of_tests() if where == package}
        assert set(exported(package)) <= asked


def _imports_of_tests() -> list[tuple[ast.stmt, str, str]]:
    return [found for path in sorted((HOUSE.parent / "tests").rglob("*.py")) for found in imports_of(path)]


def test_the_fronts_load_no_room() -> None:
    code = (
        "import importlib, sys\n"
        f"for name in {PACKAGES!r}: importlib.import_module('advisor.' + name)\n"
        "print(sorted(m for m in sys.modules if m.startswith('advisor')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    rooms = set(ast.literal_eval(done.stdout))
    above = {p.rpartition(".")[0] for p in PACKAGES} - {""}
    fronts = {f"advisor.{name}" for name in [*PACKAGES, *above]} | {"advisor"}
    assert rooms <= fronts | {"advisor.exports", "advisor.version"}
