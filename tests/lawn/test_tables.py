from __future__ import annotations

import csv
import re
import tomllib

import pytest

from advisor.lawn.products import FORMS, CautionKind
from advisor.lawn.tables import exposure_table, head_table, kind_table, soil_table, turf_table
from advisor.shipped import shipped

CSV_TABLES = ("turf.csv", "soil.csv", "heads.csv", "exposure.csv")
KINDS = {
    "soil-liquid",
    "foliar-liquid",
    "granular-quick",
    "granular-slow",
    "pre-emergent",
    "post-emergent-liquid",
    "post-emergent-granular",
    "soil-insecticide",
    "root-zone-fungicide",
    "foliar-fungicide",
    "wetting-agent",
    "seed",
}


def _csv_rows(name: str) -> list[dict[str, str]]:
    text = shipped("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@pytest.mark.parametrize("name", CSV_TABLES)
def test_every_row_has_a_key_of_its_own_and_a_source(name: str) -> None:
    rows = _csv_rows(name)
    assert rows
    assert len({row["key"] for row in rows}) == len(rows)
    assert [row["key"] for row in rows if len(row["source"].strip()) < 10] == []


def test_every_product_kind_and_every_disagreement_has_a_source() -> None:
    rows = tomllib.loads(shipped("data", "product_kinds.toml").read_text(encoding="utf-8"))
    assert set(rows) == KINDS == set(kind_table())
    for key, row in rows.items():
        assert row["source"], key
        assert row["limits_source"], key
        for entry in row.get("disagreements", ()):
            assert all(entry[field] for field in ("on", "taken", "other", "source")), key


def test_monthly_coefficients_are_the_university_of_californias() -> None:
    # UC Center for Landscape and Urban Horticulture, table 1; printed mean of the cool column 0.80.
    cool, warm = turf_table()["tall fescue"], turf_table()["bermudagrass"]
    assert cool.kc_month == (0.61, 0.64, 0.75, 1.04, 0.95, 0.88, 0.94, 0.86, 0.74, 0.75, 0.69, 0.60)
    assert round(sum(cool.kc_month) / 12, 1) == 0.8
    assert warm.kc_month == (0.61, 0.54, 0.76, 0.72, 0.79, 0.68, 0.71, 0.71, 0.62, 0.54, 0.58, 0.55)
    assert sum(warm.kc_month) / 12 == pytest.approx(0.651, abs=0.0005)
    assert (cool.p, warm.p) == (0.40, 0.50)  # from memory of FAO-56 Table 22


@pytest.mark.parametrize(
    ("texture", "intake_in_h", "accumulation_in"),
    [
        ("clay", 0.10, (0.20, 0.15, 0.10, 0.10)),
        ("silty clay", 0.15, (0.23, 0.19, 0.16, 0.13)),
        ("clay loam", 0.20, (0.26, 0.22, 0.18, 0.15)),
        ("loam", 0.35, (0.30, 0.25, 0.21, 0.17)),
        ("sandy loam", 0.40, (0.33, 0.29, 0.24, 0.20)),
        ("loamy sand", 0.50, (0.36, 0.30, 0.26, 0.22)),
        ("sand", 0.60, (0.40, 0.35, 0.30, 0.25)),
    ],
)
def test_intake_and_accumulation_are_the_printed_inches(
    texture: str, intake_in_h: float, accumulation_in: tuple[float, ...]
) -> None:
    # Irrigation Association climatological test protocol, read second-hand.
    soil = soil_table()[texture]
    assert soil.intake_mm_h == pytest.approx(intake_in_h * 25.4, rel=1e-12)
    assert soil.accumulation_mm == pytest.approx([25.4 * inch for inch in accumulation_in], rel=1e-12)


@pytest.mark.parametrize("texture", ["silt loam", "silt", "silty clay loam", "sandy clay loam", "sandy clay"])
def test_a_texture_without_an_intake_row_names_the_one_it_borrows(texture: str) -> None:
    soil = soil_table()[texture]
    found = re.search(r"intake and accumulation: .*its nearest texture ([a-z ]+)$", soil.source)
    assert found is not None
    assert soil.accumulation_mm == soil_table()[found[1]].accumulation_mm


def test_available_water_is_the_middle_of_the_printed_range() -> None:
    soil = soil_table()["silty clay loam"]  # from memory of FAO-56 Table 19: 0.13-0.18
    assert (soil.available_low_mm_m, soil.available_mm_m, soil.available_high_mm_m) == (130, 155, 180)


def test_steeper_ground_holds_no_more_and_wide_bounds_hold_the_usual_rate() -> None:
    for soil in soil_table().values():
        assert list(soil.accumulation_mm) == sorted(soil.accumulation_mm, reverse=True), soil.key
        assert soil.available_low_mm_m < soil.available_high_mm_m
    for head in head_table().values():
        assert head.rate_low_mm_h < head.rate_mm_h < head.rate_high_mm_h, head.key
        assert 0.5 <= head.uniformity < 1
    assert exposure_table()["full sun"] == 1.0


@pytest.mark.parametrize(
    ("key", "depths", "within_h", "dry_h"),
    [
        ("soil-liquid", (3, 6, 12), 24, 0),
        ("granular-quick", (6, 13, 20), 24, 0),
        ("granular-slow", (3, 6, 20), 24, 0),
        ("pre-emergent", (6, 13, 25), 168, 0),
        ("soil-insecticide", (13, 15, 25), 12, 0),
        ("root-zone-fungicide", (6, 6, 12), 12, 0),
        ("wetting-agent", (3, 6, 12), 12, 0),
        ("post-emergent-liquid", (0, 0, 0), None, 24),
        ("post-emergent-granular", (0, 0, 0), None, 24),
        ("foliar-fungicide", (0, 0, 0), None, 24),
        ("foliar-liquid", (3, 6, 12), 24, 12),
    ],
)
def test_a_kind_asks_what_its_sources_say(
    key: str, depths: tuple[float, ...], within_h: float | None, dry_h: float
) -> None:
    kind = kind_table()[key]
    assert (kind.least_mm, kind.target_mm, kind.most_mm) == depths
    assert (kind.within_h, kind.dry_h) == (within_h, dry_h)


def test_the_facts_that_a_depth_cannot_say_are_on_their_kinds() -> None:
    kinds = kind_table()
    assert [key for key, kind in kinds.items() if kind.single_event] == ["granular-quick"]
    assert [key for key, kind in kinds.items() if kind.wet_foliage_first] == ["post-emergent-granular"]
    assert [key for key, kind in kinds.items() if kind.water_night_after] == ["foliar-liquid"]
    assert (kinds["seed"].light_runs_per_day, kinds["seed"].for_days) == (2, 21)
    assert kinds["post-emergent-liquid"].wind_most_m_s == pytest.approx(5 * 0.44704, abs=0.0005)


def test_every_kind_is_consistent_and_what_waters_it_in_does_not_count_as_washing_it_off() -> None:
    for key, kind in kind_table().items():
        assert kind.form in FORMS, key
        assert kind.least_mm <= kind.target_mm <= kind.most_mm, key
        assert (kind.within_h is None) == (kind.target_mm == 0), key
        assert kind.hurry_h is None or (kind.within_h or 0) >= kind.hurry_h, key
        assert kind.washoff_mm > kind.target_mm or kind.washoff_h <= kind.dry_h, key
        assert kind.wind_least_m_s < kind.wind_most_m_s, key
        assert 0 <= kind.shortfall_cost <= 1, key
        assert 0 <= kind.loss_cost <= 1, key
        assert {CautionKind.LABEL, CautionKind.SEED_LABEL} & set(kind.cautions), key
