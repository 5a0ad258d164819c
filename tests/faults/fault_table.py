"""The faults that an owner can meet, as code: what each did to the owner, what was lost and what was doubled.

    python tests/faults/fault_table.py [--nightly] [--only WORDS]

prints the table. A fault is a function in a room `faults_*.py` of this folder, marked with `fault`: it brings the
fault about in an empty folder of its own, on the way that an owner goes (a command, the service, its health address),
and returns what was seen. A fault that does not behave raises AssertionError. The ordinary test run tries every
fault with a small, seed-fixed share of its rounds; `--nightly` tries all of them.
"""

from __future__ import annotations

import argparse
import importlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ADVISOR = str(Path(sys.executable).with_name("advisor"))
ORDINARY = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What came of a fault: the sentence (or the fact) that met the owner, how often it was tried, how many records,
    advices or messages were lost, and how many came twice."""

    owner_saw: str
    tried: int = 1
    lost: int = 0
    doubled: int = 0


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: its area, its name, and how it is brought about in a folder; the flag says whether all rounds are
    wanted."""

    area: str
    name: str
    bring_about: Callable[[Path, bool], Seen]


FAULTS: dict[str, Fault] = {}
"""All faults by name, in the order in which they were marked."""


def fault(area: str, name: str) -> Callable[[Callable[[Path, bool], Seen]], Callable[[Path, bool], Seen]]:
    """Marks a function as a fault of an area."""

    def mark(bring_about: Callable[[Path, bool], Seen]) -> Callable[[Path, bool], Seen]:
        known = FAULTS.get(name)
        assert known is None or known.bring_about.__code__ == bring_about.__code__, f"two faults: {name!r}"
        FAULTS[name] = Fault(area, name, bring_about)
        return bring_about

    return mark


def told(*words: str, timeout_s: float = 30.0, **how: Any) -> subprocess.CompletedProcess[str]:
    """A command as the owner types it, in a process of its own; a hang fails."""
    return subprocess.run(
        [ADVISOR, *words], capture_output=True, text=True, timeout=timeout_s, check=False, **how
    )


def all_faults() -> list[Fault]:
    """Every fault of the rooms beside this one, by area."""
    for room in sorted(HERE.glob("faults_*.py")):
        importlib.import_module(f"faults.{room.stem}")
    from faults.fault_table import FAULTS as found  # this room may itself run as a script

    return sorted(found.values(), key=lambda one: one.area)


def row(one: Fault, folder: Path, nightly: bool) -> tuple[str, bool]:
    """A line of the table, and whether the fault behaved."""
    began = time.perf_counter()
    try:
        seen = one.bring_about(folder, nightly)
    except Exception as failed:
        return f"| {one.area} | {one.name} | **FAILED**: {type(failed).__name__}: {failed} | | | |", False
    took = time.perf_counter() - began
    good = seen.lost == 0 and seen.doubled == 0
    saw = " ".join(seen.owner_saw.split()).replace("|", "/")
    return (
        f"| {one.area} | {one.name} | {saw} | {seen.tried} | {seen.lost} | {seen.doubled} | {took:.1f} s",
        good,
    )


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--nightly", action="store_true", help="every round, as once a night")
    asked.add_argument("--only", default="", help="only faults whose area or name holds these words")
    said = asked.parse_args()
    print("| area | fault | what the owner saw | tried | lost | doubled | took |")
    print("|---|---|---|---|---|---|---|")
    all_good = True
    for one in all_faults():
        if said.only.lower() not in f"{one.area} {one.name}".lower():
            continue
        with tempfile.TemporaryDirectory() as folder:
            line, good = row(one, Path(folder), said.nightly)
        all_good &= good
        print(line, flush=True)
    return 0 if all_good else 1


if __name__ == "__main__":
    sys.path.insert(0, str(HERE.parent))
    sys.exit(main())
