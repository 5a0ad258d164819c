"""Printed sprinkler figures and an audit worked by hand, typed at the program as an owner would."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from advisor.faces.cli.main import program
from advisor.lawn import load_site
from advisor.lawn.site_values import Zone
from advisor.schedule.run_length import length_for, minutes_for
from advisor.shipped import shipped
from advisor.soil_water.zone_figures import ZoneFigures, zone_figures

SOURCE = (
    "University of California (60 × 15 ft example; gallons = in × sq ft × 0.623); trade formula 96.25 q/A; "
    "definitions of ASABE S626 and ISO 15886-3, worked here by hand; Irrigation Association multiplier, "
    "from memory; typical sprinklers of California State University, Fresno"
)

GALLON_L, INCH_MM = 3.785411784, 25.4
STRIP_GPM = 6 * 1.0 + 4 * 0.5
"""Six half circles at 1.0 and four quarter circles at 0.5 gal/min."""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The demo's invented site, its Side a strip of 60 × 15 ft with the heads of the example."""
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    text = text.replace("area: 640 sq ft", f"area: {60 * 15} sq ft")
    text = text.replace("rate: {flow: 9.5 gal/min}", f"rate: {{flow: {STRIP_GPM} gal/min}}")
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def typed(command: str, *words: str, site: Path) -> dict[str, Any]:
    """What a command answers as JSON."""
    result = CliRunner().invoke(program(), [command, *words, "--site", str(site), "--json"])
    assert result.exception is None, result.exception
    answer: dict[str, Any] = json.loads(result.output)
    return answer


def test_the_60_by_15_foot_strip_gets_0_86_inches_an_hour_as_declared(site: Path) -> None:
    (side,) = typed("runtime", "--zone", "side", "--minutes", "60", site=site)["zones"]
    assert f"{side['rate_mm_h'] / INCH_MM:.2f}" == "0.86"
    assert side["rate_mm_h"] / INCH_MM == pytest.approx(96.25 * STRIP_GPM / 900, rel=1e-4)


def test_the_strip_gets_0_86_inches_an_hour_by_its_meter(site: Path) -> None:
    meter = ("--meter-start", "100 gal", "--meter-end", f"{100 + 10 * STRIP_GPM} gal", "--minutes", "10")
    told = typed("audit", "side", *meter, site=site)
    audited = told.get("result", told)
    assert f"{audited['rate_mm_h'] / INCH_MM:.2f}" == "0.86"


def test_the_strip_uses_as_many_gallons_as_inches_times_feet_times_0_623(site: Path) -> None:
    (side,) = typed("runtime", "--zone", "side", "--minutes", "60", site=site)["zones"]
    (run,) = side["runs"]
    gallons = run["litres"] / GALLON_L
    assert gallons == pytest.approx(run["depth_mm"] / INCH_MM * 900 * 0.623, rel=1e-3)
    assert gallons == pytest.approx(60 * STRIP_GPM, rel=1e-6)


# Twenty minutes over 24 cans with a throat of 16.5 sq in (106.45 cm²). By hand: lowest six 17 18 18 19 20 20,
# sum 112; all sum to 557, mean 23.2083; the shortfalls below the mean sum to 35.7083, the excess as well.
CANS_ML = "20 22 25 18 30 27 24 21 19 26 28 23 22 17 29 25 24 20 21 26 23 22 27 18"


def audited(site: Path) -> dict[str, Any]:
    cans = ("--readings", f"{CANS_ML} mL", "--throat", "106.45 cm2", "--minutes", "20")
    told = typed("audit", "side", *cans, site=site)
    found: dict[str, Any] = told.get("result", told)
    return found


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        pytest.param("rate_mm_h", "6.54", id="precipitation rate, mm/h"),
        pytest.param("uniformity", "0.8043", id="low-quarter uniformity"),
        pytest.param("christiansen", "0.8718", id="Christiansen coefficient"),
        pytest.param("multiplier", "1.133", id="scheduling multiplier"),
        pytest.param("cans", "24", id="cans"),
    ],
)
def test_the_audit_of_24_cans_is_as_worked_by_hand(site: Path, name: str, printed: str) -> None:
    digits = len(printed.partition(".")[2])
    assert f"{audited(site)[name]:.{digits}f}" == printed


def test_what_the_audit_found_is_what_runs_are_made_with(site: Path) -> None:
    # By hand: 0.4 in for the drier part is 10.16 × 1.1330 = 11.511 mm, at 6.5405 mm/h 105.6 min.
    audited(site)
    (side,) = typed("runtime", "--zone", "side", "--depth", "0.4 in", site=site)["zones"]
    assert f"{side['rate_mm_h']:.2f} {side['multiplier']:.3f}" == "6.54 1.133"
    assert side["runs"][0]["minutes"] == 106


def declared(
    rate_in_h: float, du: float, tmp_path: Path, *, strict: bool = False
) -> tuple[Zone, ZoneFigures]:
    """The demo's Front with a measured rate and evenness, and the figures that runs are made with."""
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    text = text.replace("measured: 0.52 in/h", f"measured: {rate_in_h} in/h")
    text = text.replace("uniformity: 68 %", f"uniformity: {100 * du:g} %")
    if strict:
        text = text.replace("  finish_by: sunrise", "  finish_by: sunrise\n  strict_uniformity: yes")
    path = tmp_path / "sprinkler.yaml"
    path.write_text(text, encoding="utf-8")
    told = load_site(path)
    return told.zones[0], zone_figures(told.zones[0], (), told.rules, local=told.place.zone)


@pytest.mark.parametrize(
    ("rate_in_h", "du", "minutes"),
    [(1.7, 0.60, "23.2"), (0.5, 0.70, "73.2")],
    ids=["fixed spray", "impact"],
)
def test_half_an_inch_from_the_two_typical_sprinklers(
    tmp_path: Path, rate_in_h: float, du: float, minutes: str
) -> None:
    # The rates and uniformities are printed (California State University, Fresno); by hand:
    # 60 · 0.5 / (0.4 + 0.6 · 0.60) / 1.7 and 60 · 0.5 / (0.4 + 0.6 · 0.70) / 0.5.
    _, figures = declared(rate_in_h, du, tmp_path)
    assert f"{minutes_for(12.7, figures):.1f}" == minutes
    assert length_for(12.7, figures).minutes == int(float(minutes)) + 1


# The tempting mistakes.


def test_one_over_the_uniformity_would_be_seen(tmp_path: Path) -> None:
    # 60 · 0.5 / 0.60 / 1.7: what "strict" asks for, and far more than the published multiplier.
    _, figures = declared(1.7, 0.60, tmp_path, strict=True)
    assert f"{minutes_for(12.7, figures):.1f}" == "29.4"


def test_half_of_the_cans_for_a_quarter_would_be_seen(site: Path) -> None:
    millilitres = sorted(float(each) for each in CANS_ML.split())
    half = sum(millilitres[:12]) / 12 / (sum(millilitres) / 24)
    assert f"{audited(site)['uniformity']:.2f}" != f"{half:.2f}"
