"""Whole processes against `python -c "import pyet"`, in turn so that a drifting machine shifts both.

Bytecode is kept, as an installed copy has it, whatever the environment says.

Run: python tests/benchmarks/bench_start.py — prints ratios, asserts nothing.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

ROUNDS = 7
ENTRY = "import sys; sys.argv[0] = 'advisor'; from advisor.faces.cli.main import main; main()"
COMMANDS = {
    "advisor tonight --demo": [sys.executable, "-c", ENTRY, "tonight", "--demo"],
    "advisor --help": [sys.executable, "-c", ENTRY, "--help"],
    "advisor check --demo": [sys.executable, "-c", ENTRY, "check", "--demo"],
}
AS_INSTALLED = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
FLOOR = [sys.executable, "-c", "import pyet"]


def seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=AS_INSTALLED)
    return time.perf_counter() - start


def main() -> None:
    for command in (FLOOR, *COMMANDS.values()):
        seconds(command)
    for name, command in COMMANDS.items():
        pairs = [(seconds(command), seconds(FLOOR)) for _ in range(ROUNDS)]
        ratio = statistics.median(a / b for a, b in pairs)
        took = statistics.median(a for a, _ in pairs)
        print(f"{name}: {took:.2f} s, {ratio:.2f} × import pyet (tonight wanted: at most 2)")


if __name__ == "__main__":
    main()
