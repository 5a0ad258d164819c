"""The README's recipes for jq give what they say, on what the commands print."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
BLOCK = README.split("<!-- recipes -->")[1].split("<!-- end -->")[0]
RECIPES = dict(re.findall(r"^# ([^\n:]+)[^\n]*\n(advisor [^\n]+)$", BLOCK, re.MULTILINE))


def printed(name: str) -> tuple[str, str]:
    """What the command of a recipe prints, and the recipe's jq with its options."""
    command, _, filtering = RECIPES[name].partition(" | ")
    code = "import sys; sys.argv[0] = 'advisor'; from advisor.faces.cli.main import main; main()"
    words = re.findall(r'"[^"]*"|\S+', command)[1:]
    done = subprocess.run(
        [sys.executable, "-c", code, *(word.strip('"') for word in words)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    return done.stdout, filtering


def filtered(text: str, filtering: str) -> list[str]:
    """The lines that a jq command makes of JSON text."""
    option, quoted = re.fullmatch(r"jq (-\w) '(.*)'", filtering).groups()  # type: ignore[union-attr]
    done = subprocess.run(["jq", option, quoted], input=text, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.splitlines()


def answer(name: str) -> tuple[Any, list[str]]:
    text, filtering = printed(name)
    return json.loads(text), filtered(text, filtering)


def test_each_recipe_has_its_test() -> None:
    assert list(RECIPES) == [
        "the minutes that are firm tonight",
        "what a run waits for",
        "what draws water in the night",
        "what must stay dry, and until when",
        "what is recorded",
        "what an entry came to, and what it took from the stock",
        "what was wrong",
    ]


def test_firm_minutes() -> None:
    advice, lines = answer("the minutes that are firm tonight")
    firm = {zone["zone"]: zone["minutes_firm"] for zone in advice["zones"] if zone["minutes_firm"]}
    assert firm
    assert lines == [f"{zone}: {minutes:g} min" for zone, minutes in firm.items()]


def test_the_condition_of_a_run() -> None:
    text, filtering = printed("what a run waits for")
    advice = json.loads(text)
    for run in advice["runs"]:
        run["condition"] = None
    advice["runs"][0]["condition"] = {"look_at": "2026-06-18T06:45:00Z", "under_mm": 4.0}
    (line,) = filtered(json.dumps(advice), filtering)
    assert json.loads(line) == {
        "zone": advice["runs"][0]["zone"],
        "minutes": advice["runs"][0]["minutes"],
        "look_at": "2026-06-18T06:45:00Z",
        "under_mm": 4.0,
    }


def test_the_condition_is_of_the_published_form() -> None:
    from advisor.advice.advice import GaugeCondition

    assert set(GaugeCondition.model_fields) == {"look_at", "under_mm"}


def test_what_draws_water() -> None:
    advice, lines = answer("what draws water in the night")
    assert advice["under_way"]
    assert advice["runs"]
    runs = [*advice["under_way"], *advice["runs"]]
    assert [json.loads(line) for line in lines] == [{k: run[k] for k in ("zone", "cycles")} for run in runs]


def test_what_stays_dry() -> None:
    advice, lines = answer("what must stay dry, and until when")
    dry = [one for one in advice["obligations"] if one["status"] == "keep dry"]
    assert dry
    assert lines == [f"{one['zone']}: {one['dry_until']}" for one in dry]


def test_what_is_recorded() -> None:
    found, lines = answer("what is recorded")
    last = found["runs"][-3:]
    assert len(last) == 3
    assert lines == [f"{run['started_at']} {run['zone']} {run['minutes']:g} min" for run in last]


def test_what_an_entry_came_to() -> None:
    done, lines = answer("what an entry came to, and what it took from the stock")
    assert lines == [done["records"][0]["words"], done["used_up"][0]["words"]]


@pytest.mark.parametrize("line", RECIPES.values())
def test_a_recipe_is_for_the_demo(line: str) -> None:
    assert " --demo --json | jq " in line


def test_what_was_wrong() -> None:
    _, lines = answer("what was wrong")
    assert lines == ['amount: a depth needs its unit; allowed: "6 mm", "0.25 in"']
