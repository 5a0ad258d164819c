from __future__ import annotations

from pathlib import Path

import pytest

from advisor.lawn.load import read_site
from advisor.lawn.starter import EXAMPLE_ZONE, starter_text
from advisor.lawn.understood import declared_figures, to_measure

LARK = Path(__file__).with_name("lark.yaml").read_text(encoding="utf-8")
PLACE = {
    "name": "Lark",
    "latitude": "-33.9",
    "longitude": "151.2",
    "elevation": "20 m",
    "time_zone": "Australia/Sydney",
    "units": "metric",
}


def test_a_zones_figures_follow_from_its_rows() -> None:
    # By hand: 155 mm/m · 0.25 m = 38.75 mm; 0.40 of it 15.5 mm; 13.208 mm/h · 222.967 m² / 6 = 490.8 L.
    front = read_site(LARK, Path("lark.yaml")).zones[0]
    figures = declared_figures(front)
    assert figures.taw_mm == pytest.approx(38.75)
    assert figures.allowed_mm == pytest.approx(15.5)
    assert figures.ten_minutes_l == pytest.approx(490.8, abs=0.05)


def test_the_owners_own_share_wins_over_the_grasses() -> None:
    text = LARK.replace(
        "uniformity: 68 %", "uniformity: 68 %\n    allowed_depletion: 50 %\n    root_depth: 8 in"
    )
    figures = declared_figures(read_site(text, Path("lark.yaml")).zones[0])
    assert figures.allowed_mm == pytest.approx(0.5 * 155 * 0.2032)


def test_each_guess_is_told_in_the_owners_units() -> None:
    told = to_measure(read_site(LARK, Path("lark.yaml")))
    assert [line for line in told if line.startswith("Back")] == [
        "Back: the rate is a guess from its head type, anywhere from 0.31 in/h to 0.71 in/h; "
        "a catch-can audit settles it",
        "Back: the distribution uniformity of 65 % is what gear rotor heads usually give; "
        "a catch-can audit settles it",
        "Back: the root depth of 10 in is the grass's usual; dig and look",
    ]
    assert [line for line in told if line.startswith("Front")] == [
        "Front: the root depth of 10 in is the grass's usual; dig and look"
    ]


def test_the_starter_for_a_place_is_that_place_with_an_example_zone_that_is_told() -> None:
    site = read_site(starter_text(PLACE | {"name": 'The "old" lawn # 1: é'}), Path("site.yaml"))
    assert site.place.name == 'The "old" lawn # 1: é'
    assert (site.place.latitude_deg, site.place.longitude_deg) == (-33.9, 151.2)
    assert (site.place.elevation_m, site.place.zone.key, site.place.units) == (
        20.0,
        "Australia/Sydney",
        "metric",
    )
    assert to_measure(site)[0] == (
        f"{EXAMPLE_ZONE}: this is the starter's example; put your own zones in its place"
    )
