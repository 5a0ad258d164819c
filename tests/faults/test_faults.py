"""Every fault of the table, with a small and seed-fixed share of its rounds."""

from __future__ import annotations

from pathlib import Path

import pytest
from faults.fault_table import ORDINARY, Fault, all_faults


@pytest.mark.parametrize("one", [pytest.param(one, id=f"{one.area}: {one.name}") for one in all_faults()])
def test_a_fault_loses_nothing_doubles_nothing_and_is_told_in_a_sentence(one: Fault, tmp_path: Path) -> None:
    seen = one.bring_about(tmp_path, ORDINARY)
    assert seen.owner_saw.strip()
    assert "Traceback" not in seen.owner_saw
    assert (seen.tried > 0, seen.lost, seen.doubled) == (True, 0, 0)
