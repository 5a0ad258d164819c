"""Faults of what the owner hands over: files that are none."""

from __future__ import annotations

from pathlib import Path

from faults.fault_table import Seen, fault, told


@fault("files", "the site file is a folder")
def the_site_file_is_a_folder(folder: Path, nightly: bool) -> Seen:
    asked = told("tonight", "--site", str(folder))
    assert asked.returncode == 2, asked
    return Seen(owner_saw=asked.stderr or asked.stdout)
