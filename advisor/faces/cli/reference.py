"""The command line described by itself, for the README: `python -m advisor.faces.cli.reference`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import typer


def reference() -> str:
    """Every command with its first sentence and its options, as Markdown."""
    from advisor.faces.cli.main import program

    root: Any = typer.main.get_command(program())
    lines: list[str] = []
    for name, command in _commands(root, "advisor"):
        lines.append(f"- `{name}{_arguments(command)}` — {_first_sentence(command.help or '')}")
        options = [_option(p) for p in command.params if p.param_type_name == "option" and p.name != "help"]
        if options:
            lines.append(f"  {' '.join(options)}")
    return "\n".join(lines) + "\n"


def _commands(group: Any, prefix: str) -> Iterator[tuple[str, Any]]:
    for name in sorted(group.commands):
        command = group.commands[name]
        if hasattr(command, "commands"):
            yield from _commands(command, f"{prefix} {name}")
        elif not command.hidden:
            yield f"{prefix} {name}", command


def _arguments(command: Any) -> str:
    told = ""
    for p in command.params:
        if p.param_type_name == "argument":
            name = p.metavar or p.name.upper()
            more = "…" if p.nargs == -1 else ""
            told += f" {name}{more}" if p.required else f" [{name}{more}]"
    return told


def _option(parameter: Any) -> str:
    return f"`{max(parameter.opts, key=len)}`"


def _first_sentence(text: str) -> str:
    return " ".join(text.split()).split(". ")[0].rstrip(".") + "."


if __name__ == "__main__":
    print(reference(), end="")
