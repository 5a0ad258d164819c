"""`--help` of every command: plain words for what is typed, first sentences that stand alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from advisor.faces.cli import main as cli
from advisor.faces.cli.reference import reference


def commands(group: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    for name, command in group.commands.items():
        if hasattr(command, "commands"):
            yield from commands(command, (*path, name))
        else:
            yield (*path, name)


ALL = list(commands(typer.main.get_command(cli.program())))


def shown(*words: str) -> str:
    return CliRunner().invoke(cli.program(), [*words, "--help"]).output


@pytest.mark.parametrize("words", ALL, ids=" ".join)
def test_help_has_no_types_and_no_braces(words: tuple[str, ...]) -> None:
    text = shown(*words)
    usage, rest = text.split("\n\n", 1)
    assert "Usage: " in usage
    assert not re.search(r"[{}<>]|\[\[", usage)
    assert not re.search(r"^  \S+ <|<(str|path|int|float|list)", rest, re.MULTILINE)
    sentence = rest.strip().split("\n\n")[0]
    assert sentence.endswith(".")
    assert not re.search(r";[^;.]{1,25}\.$", " ".join(sentence.split()))


@pytest.mark.parametrize(
    ("words", "usage"),
    [
        (["audit"], "audit [OPTIONS] ZONE"),
        (["next-round"], "next-round [OPTIONS] [ROUND]..."),
        (["mix"], "mix [OPTIONS] [PRODUCT|ROUND]..."),
        (["record", "probe"], "record probe [OPTIONS] ZONE DEPLETION"),
        (["records", "edit"], "records edit [OPTIONS] ID"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_the_usage_names_what_is_to_be_typed(words: list[str], usage: str) -> None:
    assert usage in shown(*words)


def test_the_list_of_commands_shows_whole_sentences() -> None:
    for words in ([], ["record"], ["records"]):
        assert "..." not in shown(*words).split("Commands:")[1]


def test_the_reference_writes_arguments_once() -> None:
    text = reference()
    assert "- `advisor next-round [ROUND…]` — Choose" in text
    assert "- `advisor record application PRODUCT|ROUND…` — Record" in text
    assert "……" not in text
