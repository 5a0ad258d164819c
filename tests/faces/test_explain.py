"""`advisor tonight --explain`: the balance of one zone in the owner's units, each symbol told once."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from advisor.faces.cli.main import program
from advisor.faces.cli.options import DEMO_NOW, moment
from advisor.faces.text.advice_text import explain_text
from advisor.lawn.load import load_site
from advisor.night import gather_demo
from advisor.shipped import shipped


@pytest.mark.parametrize(
    ("units", "heading", "water_held"),
    [
        pytest.param("us", "depths in inches", r"TAW +1\.53 in  all the water", id="inches"),
        pytest.param("metric", "depths in mm", r"TAW +38\.8 mm  all the water", id="millimetres"),
    ],
)
def test_the_balance_is_in_the_owners_units_with_each_symbol_told_once(
    units: str, heading: str, water_held: str
) -> None:
    site = load_site(shipped("config", "demo.yaml"))
    site = replace(site, place=replace(site.place, units=units))
    advice = gather_demo(site, moment(DEMO_NOW, site.place.zone)).advise()
    text = explain_text(advice, "Front")
    assert heading in text
    assert re.search(water_held, text)
    told = " ".join(text.split())
    for symbol in ("ETo", "Kc", "Ks", "ETc", "P", "Pe", "I", "DP"):
        assert told.count(f" {symbol}: ") == 1, symbol
    for symbol in ("TAW", "RAW", "Dr", "PR", "SM"):
        assert len(re.findall(rf"^  {symbol} ", text, re.MULTILINE)) == 1, symbol
    rows = re.findall(r"^Wed 17 Jun.*$", text, re.MULTILINE)
    assert len(rows) == 1
    assert len(rows[0].split()) == 12


def test_a_zone_is_found_without_regard_to_capitals_and_a_slip_gets_a_hint() -> None:
    told = CliRunner().invoke(program(), ["tonight", "--demo", "--explain", "front"])
    assert told.output.startswith("Front: the root-zone balance")
    slip = CliRunner().invoke(program(), ["tonight", "--demo", "--explain", "Frunt"])
    assert "did you mean 'Front'?" in str(slip.exception)
