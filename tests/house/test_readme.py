"""The README says what is so: its commands run, its reference is the command line's own."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from advisor.faces.cli.reference import reference

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
QUICK_START = README.split("## Your own lawn")[1].split("\n## ")[0]


def block(name: str) -> str:
    found = re.search(rf"<!-- {name} -->\n(.*?)<!-- end -->", README, re.DOTALL)
    assert found, name
    return found.group(1)


def commands_in(text: str) -> list[str]:
    fenced = re.findall(r"```\n(.*?)```", text, re.DOTALL)
    return [line for part in fenced for line in part.strip().splitlines()]


def advisor(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run an `advisor …` line of the README with this interpreter."""
    words = shlex.split(line)
    assert words[0].endswith("advisor")
    code = "import sys; sys.argv[0] = 'advisor'; from advisor.faces.cli.main import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *words[1:]], cwd=folder, capture_output=True, text=True, check=False
    )


def test_the_command_reference_is_the_one_that_the_program_gives() -> None:
    assert block("commands").strip() == reference().strip()


def test_the_demo_command_gives_tonights_advice(tmp_path: Path) -> None:
    (line,) = commands_in(block("demo"))
    done = advisor(line.split("&&")[-1].strip(), tmp_path)
    assert done.returncode == 0, done.stderr
    assert "Tonight, zone by zone" in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_the_test_command_is_one_line_that_ends_in_pytest() -> None:
    (line,) = commands_in(block("tests"))
    assert line.endswith("-m pytest")


def test_the_quick_start_runs_up_to_the_weather(tmp_path: Path) -> None:
    init, check, tonight = commands_in(QUICK_START)
    assert tonight.endswith("advisor tonight")
    for line in (init, check):
        done = advisor(line, tmp_path)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "site.yaml").is_file()


@pytest.mark.parametrize("line", re.findall(r"`(advisor record .*?)`", QUICK_START))
def test_the_recording_examples_run_on_the_demo(line: str, tmp_path: Path) -> None:
    done = advisor(f"{line} --demo --now 2026-06-18T07:00", tmp_path)
    assert done.returncode == 0, done.stderr


def test_every_command_that_needs_a_site_takes_demo() -> None:
    entries = re.findall(r"^- `(advisor [^`]*)`.*\n  (.*)$", block("commands"), re.MULTILINE)
    assert entries
    without = [name for name, options in entries if "`--site`" in options and "`--demo`" not in options]
    of_the_file = ["advisor records adopt", "advisor records restore [BACKUP]"]  # the demo keeps no file
    assert without == of_the_file


def test_every_dependency_has_its_line_in_the_developers_file() -> None:
    import tomllib

    developers = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    with (ROOT / "pyproject.toml").open("rb") as file:
        project = tomllib.load(file)["project"]
    names = [re.split(r"[<>=!~\[ ]", d)[0] for d in project["dependencies"]]
    for name in names:
        assert re.search(rf"^\| {re.escape(name)} \|", developers, re.MULTILINE), name
    for name in (re.split(r"[<>=!~\[ ]", d)[0] for d in project["optional-dependencies"]["test"]):
        assert re.search(rf"\b{re.escape(name)}\b", developers), name
