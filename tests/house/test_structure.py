"""The house as it is drawn is the house as it stands: packages, arrows, names.

    python tests/house/test_structure.py

draws it anew into DEVELOPERS.md and prints it with the lines of code of every package.
"""

from __future__ import annotations

import builtins
import re
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from house.structure import HOUSE, ROOMS, ROOT, arrows, dotted, drawn, lines_of

DEVELOPERS = ROOT / "DEVELOPERS.md"
BLOCK = re.compile(r"(<!-- house -->\n).*?(\n<!-- end -->)", re.DOTALL)
TAKEN = sys.stdlib_module_names | set(dir(builtins))


def test_the_house_is_drawn_as_it_stands() -> None:
    found = BLOCK.search(DEVELOPERS.read_text(encoding="utf-8"))
    assert found is not None
    assert found.group(0) == f"<!-- house -->\n{drawn()}\n<!-- end -->", (
        "python tests/house/test_structure.py"
    )


def test_packages_import_each_other_in_no_circle() -> None:
    try:
        TopologicalSorter(arrows()).prepare()
    except CycleError as circle:
        raise AssertionError(" → ".join(circle.args[1])) from None


def test_a_circle_would_be_seen() -> None:
    to = arrows()
    to["errors"] = {"faces.cli"}
    try:
        TopologicalSorter(to).prepare()
    except CycleError:
        return
    raise AssertionError("the circle was not seen")


def test_no_package_or_room_bears_the_name_of_the_language_or_its_library() -> None:
    names = {part for path in ROOMS for part in dotted(path).split(".") if part}
    assert sorted(names & TAKEN) == []


def test_every_folder_of_the_house_is_a_package_that_says_what_it_is_for() -> None:
    folders = {path.parent for path in ROOMS}
    silent = [
        str(folder.relative_to(HOUSE))
        for folder in sorted(folders)
        if not (folder / "__init__.py").is_file()
        or not (folder / "__init__.py").read_text(encoding="utf-8").startswith('"""')
    ]
    assert silent == []


def redraw() -> None:
    """Draw the house anew into DEVELOPERS.md."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    made = BLOCK.sub(lambda found: f"{found.group(1)}{drawn()}{found.group(2)}", text)
    DEVELOPERS.write_text(made, encoding="utf-8")
    for package, to in arrows().items():
        print(f"{package:<14}{lines_of(package):>6}  → {', '.join(sorted(to)) or '–'}")


if __name__ == "__main__":
    redraw()
