"""The command line loads only what is asked for, and says what it has."""

from __future__ import annotations

import subprocess
import sys

import pytest
import typer

from advisor.faces.cli.main import COMMANDS, program, rooms_for


def names_of(rooms: tuple[str, ...]) -> set[str]:
    return set(typer.main.get_command(program(rooms)).commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize("room", COMMANDS)
def test_each_room_adds_the_commands_that_are_named_for_it(room: str) -> None:
    assert names_of((room,)) == set(COMMANDS[room])


@pytest.mark.parametrize(
    ("words", "rooms"),
    [
        (["tonight", "--demo"], ("tonight",)),
        (["check"], ("set_up",)),
        (["next-round"], ("next_round",)),
        (["--help"], tuple(COMMANDS)),
        (["tonigt"], tuple(COMMANDS)),
        ([], tuple(COMMANDS)),
    ],
    ids=lambda value: " ".join(value) or "nothing",
)
def test_only_the_room_that_is_asked_for_is_loaded(words: list[str], rooms: tuple[str, ...]) -> None:
    assert rooms_for(words) == rooms


def run(*words: str) -> subprocess.CompletedProcess[str]:
    code = (
        "import sys; sys.argv = ['advisor', *sys.argv[1:]]; from advisor.faces.cli.main import main; main()"
    )
    return subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=False)


def test_a_command_that_does_not_exist_is_told_with_the_nearest() -> None:
    done = run("tonigt")
    assert done.returncode == 2
    assert "tonight" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_version_is_printed() -> None:
    assert run("--version").stdout.startswith("advisor ")
