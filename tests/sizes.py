"""How many rounds a heavy test makes: a fixed share in the ordinary run, all of them once a night.

ADVISOR_TESTS=nightly .venv/bin/python -m pytest
"""

from __future__ import annotations

import os

NIGHTLY = os.environ.get("ADVISOR_TESTS") == "nightly"


def rounds(ordinary: int, nightly: int) -> int:
    """The rounds of this run; those of the ordinary run are the first of the nightly ones."""
    return nightly if NIGHTLY else ordinary
