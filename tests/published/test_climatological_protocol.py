"""Longest run before runoff over the printed intake and accumulation tables, as a declared zone comes to it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from made import EVENING, made_site, made_weather

from advisor.lawn import load_site
from advisor.lawn.records import ProbeReading, Records
from advisor.lawn.site_values import Site
from advisor.lawn.tables import soil_table
from advisor.schedule.run_length import length_for
from advisor.shipped import shipped
from advisor.soil_water.zone_figures import ZoneFigures, zone_figures
from advisor.tonight.advise import advise

SOURCE = (
    "Irrigation Association, climatological test protocol: intake and "
    "accumulation tables read second-hand, the six reference zones from memory"
)

# Basic intake (in/h), then allowable accumulation (in) for slopes 0–3, 4–6, 7–12, 13 % and more.
TABLE = {
    "clay": "0.10 .20 .15 .10 .10",
    "silty clay": "0.15 .23 .19 .16 .13",
    "clay loam": "0.20 .26 .22 .18 .15",
    "loam": "0.35 .30 .25 .21 .17",
    "sandy loam": "0.40 .33 .29 .24 .20",
    "loamy sand": "0.50 .36 .30 .26 .22",
    "sand": "0.60 .40 .35 .30 .25",
}
REFERENCE_ZONES = [
    ("loam", 6, 1.6, "12.0"),
    ("silty clay", 10, 1.6, "6.6"),
    ("loamy sand", 8, 1.4, "17.3"),
    ("sandy loam", 12, 1.4, "14.4"),
    ("clay loam", 2, 0.2, "inf"),
    ("clay", 20, 0.35, "24.0"),
]
IDS = [f"reference zone {number}, worked by hand" for number in range(1, 7)]


def declared(texture: str, slope_pct: float, rate_in_h: float, folder: Path) -> Site:
    """A site file with such a zone, read: the demo's invented Front with another soil, slope and rate."""
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    text = text.replace("soil: silty clay loam", f"soil: {texture}", 1)
    text = text.replace("slope: 3 %", f"slope: {slope_pct:g} %", 1)
    text = text.replace("measured: 0.52 in/h", f"measured: {rate_in_h:g} in/h", 1)
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load_site(path)


def figures_of(site: Site) -> ZoneFigures:
    return zone_figures(site.zones[0], (), site.rules, local=site.place.zone)


def longest(texture: str, slope_pct: float, rate_in_h: float, folder: Path) -> float:
    cycle = figures_of(declared(texture, slope_pct, rate_in_h, folder)).cycle_min
    return math.inf if cycle is None else cycle


@pytest.mark.parametrize("texture", TABLE)
def test_the_shipped_table_of_soils_is_the_printed_one(texture: str) -> None:
    intake, *accumulation = (float(word) for word in TABLE[texture].split())
    row = soil_table()[texture]
    assert row.intake_mm_h / 25.4 == pytest.approx(intake)
    assert [depth / 25.4 for depth in row.accumulation_mm] == pytest.approx(accumulation)


@pytest.mark.parametrize(("texture", "slope_pct", "rate_in_h", "minutes"), REFERENCE_ZONES, ids=IDS)
def test_the_reference_zones_run_off_after(
    texture: str, slope_pct: float, rate_in_h: float, minutes: str, tmp_path: Path
) -> None:
    assert f"{longest(texture, slope_pct, rate_in_h, tmp_path):.1f}" == minutes


@pytest.mark.parametrize(("texture", "slope_pct", "rate_in_h", "minutes"), REFERENCE_ZONES, ids=IDS)
def test_no_stretch_of_a_planned_run_is_longer(
    texture: str, slope_pct: float, rate_in_h: float, minutes: str, tmp_path: Path
) -> None:
    figures = figures_of(declared(texture, slope_pct, rate_in_h, tmp_path))
    cycles = length_for(12.7, figures).cycles
    assert max(cycles) <= float(minutes)
    # By hand: a full surface is gone after 60 · accumulation / intake.
    intake, *accumulation = (float(word) for word in TABLE[texture].split())
    held = accumulation[sum(slope_pct > end for end in (3, 6, 12))]
    assert figures.soak_min == pytest.approx(0.0 if minutes == "inf" else 60.0 * held / intake)


def test_tonights_stretches_on_the_first_reference_zone_end_before_water_runs_off(tmp_path: Path) -> None:
    front = replace(declared("loam", 6, 1.6, tmp_path).zones[0], root_depth_m=0.25)
    dry = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 30.0),))
    advice = advise(site=made_site(front), records=dry, weather=made_weather(), now=EVENING)
    (run,) = advice.runs
    lasting = [(cycle.ends_at - cycle.starts_at) / timedelta(minutes=1) for cycle in run.cycles]
    assert len(lasting) > 1
    assert max(lasting) <= 12.0
    pauses = [
        (b.starts_at - a.ends_at) / timedelta(minutes=1)
        for a, b in zip(run.cycles, run.cycles[1:], strict=False)
    ]
    assert min(pauses) >= 60.0 * 0.25 / 0.35


@pytest.mark.parametrize("texture", TABLE)
def test_a_steeper_slope_never_runs_longer(texture: str, tmp_path: Path) -> None:
    runs = [longest(texture, slope, 1.7, tmp_path) for slope in (2, 5, 10, 15)]
    assert runs == sorted(runs, reverse=True)


def test_a_coarser_soil_runs_longer_on_every_slope(tmp_path: Path) -> None:
    for slope in (2, 5, 10, 15):
        runs = [longest(texture, slope, 1.7, tmp_path) for texture in TABLE]
        assert runs == sorted(runs)


# The tempting mistake.


def test_leaving_out_what_enters_meanwhile_would_be_seen(tmp_path: Path) -> None:
    # 60 · 0.25 / 1.6 = 9.4 min, where the soil takes 0.35 in/h meanwhile.
    assert longest("loam", 6, 1.6, tmp_path) > 60 * 0.25 / 1.6 + 2.0
