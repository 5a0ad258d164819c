"""What others may import as a library: its examples run."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

import advisor

HOUSE = Path(advisor.__file__).parent
WITH_EXAMPLES = [
    ".".join(("advisor", *path.relative_to(HOUSE).with_suffix("").parts)).removesuffix(".__init__")
    for path in sorted(HOUSE.rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_the_examples_run(module: str) -> None:
    found = doctest.testmod(importlib.import_module(module), optionflags=doctest.ELLIPSIS)
    assert found.attempted
    assert not found.failed


def test_the_library_has_a_front_with_an_example() -> None:
    assert "advisor" in WITH_EXAMPLES
    assert set(advisor.__all__) >= {"advise", "cycle_and_soak", "survey", "ExpectedLoss"}
