"""The house guards itself: floors, room size, sources on every row, words that must not be printed."""

from __future__ import annotations

import ast
import csv
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = sorted((ROOT / "advisor").rglob("*.py"))
LONGEST_ROOM = 600
FACES = ROOT / "advisor" / "faces"
SERVICE = ROOT / "advisor" / "service"


def test_the_floors_keep_their_order() -> None:
    code = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports())"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "."], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


def test_the_code_is_formatted() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "format", "--check", "."],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_the_type_checker_finds_nothing() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("room", ROOMS, ids=[str(p.relative_to(ROOT)) for p in ROOMS])
def test_no_room_is_too_large_or_badly_named(room: Path) -> None:
    assert len(room.read_text(encoding="utf-8").splitlines()) <= LONGEST_ROOM
    assert room.stem not in {
        "utils",
        "util",
        "core",
        "manager",
        "helper",
        "helpers",
        "base",
        "common",
        "misc",
    }


def _clock_calls(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and node.attr in {"now", "utcnow", "today"}:
            owner = ast.unparse(node.value)
            if owner.split(".")[-1] in {"datetime", "date", "Timestamp"}:
                found.append(f"{path.name}:{node.lineno}")
        if isinstance(node, ast.Attribute) and ast.unparse(node) in {
            "time.time",
            "time.time_ns",
            "time.localtime",
        }:
            found.append(f"{path.name}:{node.lineno}")
    return found


def test_no_clock_below_the_faces() -> None:
    below = [p for p in ROOMS if not {FACES, SERVICE} & set(p.parents)]
    assert [c for p in below for c in _clock_calls(p)] == []


def test_the_clock_check_sees_a_clock() -> None:
    assert _clock_calls(FACES / "cli" / "options.py")


NO_TABLES = {"demo_season.csv"}  # hours of invented weather, which say so in their first line
TABLES = sorted(path for path in (ROOT / "data").glob("*.csv") if path.name not in NO_TABLES)


@pytest.mark.parametrize("table", TABLES, ids=lambda p: p.name)
def test_every_row_of_a_table_has_a_source(table: Path) -> None:
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert rows
    assert [row for row in rows if not (row.get("source") or "").strip()] == []


def test_every_product_kind_has_a_source() -> None:
    with (ROOT / "data" / "product_kinds.toml").open("rb") as file:
        kinds = tomllib.load(file)
    assert kinds
    for key, row in kinds.items():
        assert row.get("source", "").strip(), key
        for other in row.get("disagreements", []):
            assert other.get("source", "").strip(), key


def test_pyet_and_astral_are_each_called_in_one_room() -> None:
    pattern = re.compile(r"^\s*(?:import|from)\s+(pyet|astral)\b", re.MULTILINE)
    callers: dict[str, set[str]] = {}
    for room in ROOMS:
        for library in pattern.findall(room.read_text(encoding="utf-8")):
            callers.setdefault(library, set()).add(room.name)
    assert callers == {"pyet": {"evapotranspiration.py"}, "astral": {"sun.py"}}


def test_every_test_file_is_collected() -> None:
    loose = [
        str(p.relative_to(ROOT))
        for p in (ROOT / "tests").rglob("*.py")
        if not p.name.startswith("test_")
        and re.search(r"^\s*def test_", p.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    assert loose == []


def test_every_published_check_names_its_source() -> None:
    files = sorted((ROOT / "tests" / "published").glob("test_*.py"))
    assert files
    for file in files:
        names = {
            target.id
            for node in ast.parse(file.read_text(encoding="utf-8")).body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        assert "SOURCE" in names, file.name


def test_the_top_level_holds_only_what_it_should() -> None:
    done = subprocess.run(
        ["git", "ls-tree", "--name-only", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    visible = {name for name in done.stdout.split() if not name.startswith(".")}
    assert visible <= {"README.md", "DEVELOPERS.md", "pyproject.toml", "advisor", "config", "tests", "data"}


@pytest.mark.parametrize("arguments", [["--help"], ["check", "--demo"]], ids=["help", "check"])
def test_a_light_command_loads_neither_pandas_nor_numpy(arguments: list[str]) -> None:
    code = (
        "import sys; sys.argv = ['advisor', *sys.argv[1:]]\n"
        "from advisor.faces.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit as stop:\n    assert not stop.code, stop.code\n"
        "print('LOADED', sorted({'numpy', 'pandas', 'pyet', 'scipy', 'sqlalchemy', 'requests'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "LOADED []"


SHOWS = """
import sys
from pathlib import Path
from advisor.advice.advice import Advice
from advisor.faces.text.advice_text import advice_text
print(advice_text(Advice.model_validate_json(Path(sys.argv[1]).read_text(encoding="utf-8"))))
DECIDE = ["weather", "hours", "soil_water", "schedule", "watering_in", "tonight", "night", "replay", "tuning"]
heavy = {"numpy", "pandas", "pyet", "scipy", "sqlalchemy", "requests", *(f"advisor.{name}" for name in DECIDE)}
print("LOADED", sorted(heavy & set(sys.modules)))
"""


def test_a_kept_advice_is_shown_without_arrays_and_without_the_code_that_decides(tmp_path: Path) -> None:
    main = [sys.executable, "-m", "advisor.faces.cli.main"]
    made = subprocess.run(
        [*main, "tonight", "--demo", "--json"], capture_output=True, text=True, check=True, cwd=ROOT
    )
    kept = tmp_path / "advice.json"
    kept.write_text(made.stdout, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", SHOWS, str(kept)], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert "Tonight, zone by zone" in done.stdout
    assert done.stdout.splitlines()[-1] == "LOADED []"
