"""What the method and the dilution mean for watering in.

20:1 and the minutes after it (5 to 15) are a rule of thumb of the trade, a check value (common practice, no source).
"""

from __future__ import annotations

import csv
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import JUDGED

from advisor.lawn.products import Kind, Product
from advisor.sentences.watering_in import need_words
from advisor.shipped import shipped
from advisor.watering_in.water_need import (
    COMMON,
    REFERENCE_MM_H,
    WaterInNeed,
    guidance_minutes,
    label_sets_depth,
    water_in_need,
)


def kind(**changes: object) -> Kind:
    values: dict[str, object] = {
        f.name: {"str": "", "float": 0.0, "bool": False, "int": 0}.get(str(f.type), ()) for f in fields(Kind)
    }
    values |= {"name": "soil-applied liquid", "form": "liquid", "within_h": 24.0, "hurry_h": None}
    values |= {"least_mm": 3.0, "target_mm": 6.0, "most_mm": 12.0, "source": COMMON}
    return Kind(**(values | changes))  # type: ignore[arg-type]


def told(need: WaterInNeed, units: str = "metric") -> str:
    return need_words(need.reason, units)


@pytest.mark.parametrize(
    ("method", "dilution", "minutes"),
    [
        pytest.param("hose-end", 20.0, (0.0, 0.0), id="hose-end at 20:1 needs none"),
        pytest.param("hose-end", 64.0, (0.0, 0.0), id="hose-end above 20:1 needs none"),
        pytest.param("hose-end", 19.9, (5.0, 15.0), id="hose-end below 20:1"),
        pytest.param("hose-end", None, (5.0, 15.0), id="hose-end of unknown dilution"),
        pytest.param("tank", 5.0, (10.0, 15.0), id="tank"),
        pytest.param("tank", 200.0, (10.0, 15.0), id="tank whatever the dilution"),
        pytest.param("backpack", None, (10.0, 15.0), id="backpack"),
        pytest.param("spreader", None, None, id="a spreader goes by the kind"),
        pytest.param("by hand", None, None, id="by hand goes by the kind"),
    ],
)
def test_the_minutes_are_those_of_common_practice(
    method: str, dilution: float | None, minutes: tuple[float, float] | None
) -> None:
    assert guidance_minutes(method, dilution, JUDGED.need) == minutes


def test_the_reference_rate_is_the_fixed_spray_row_of_the_table() -> None:
    with shipped("data", "heads.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    row = next(r for r in rows if r["key"] == "fixed spray")
    assert float(row["rate_mm_h"]) == REFERENCE_MM_H


def test_strong_enough_dilution_through_a_hose_end_sprayer_asks_for_no_water() -> None:
    need = water_in_need(kind(), "hose-end", 20.0, judged=JUDGED.need)
    assert need[:3] == (0.0, 0.0, 0.0)
    assert "no watering in needed" in told(need)
    assert need.source == COMMON


def test_minutes_from_a_tank_become_a_depth_with_their_sprinkler_named() -> None:
    # by hand: 10 and 15 min at 43.18 mm/h are 7.197 and 10.795 mm, their middle 8.996 mm;
    # the least is held at the kind's own target
    need = water_in_need(kind(), "tank", 42.0, judged=JUDGED.need)
    assert need.least_mm == 6.0
    assert need.target_mm == pytest.approx(8.996, abs=5e-4)
    assert need.most_mm == 12.0
    assert "fixed spray heads at 43.2 mm/h" in told(need)
    assert "7.2 mm to 10.8 mm" in told(need)
    assert "3.0 mm to 12.0 mm" in told(need)


def test_a_weak_or_unknown_hose_end_asks_less_than_a_tank() -> None:
    # by hand: 5 min at 43.18 mm/h are 3.598 mm; 10 min, the middle, 7.197 mm
    need = water_in_need(kind(), "hose-end", None, judged=JUDGED.need)
    assert need.least_mm == pytest.approx(3.598, abs=5e-4)
    assert need.target_mm == pytest.approx(7.197, abs=5e-4)
    assert "unknown dilution" in told(need)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"dry_h": 24.0}, "to stay dry for 24 h"),
        ({"dry_h": 0.0}, "no watering in asked"),
        ({"light_runs_per_day": 2, "form": "seed"}, "kept moist with 2 light runs a day"),
    ],
)
def test_what_is_not_watered_in_says_what_it_wants_instead(changes: dict[str, object], words: str) -> None:
    assert (
        told(
            water_in_need(
                kind(least_mm=0.0, target_mm=0.0, most_mm=0.0, **changes), "tank", None, judged=JUDGED.need
            )
        )
        == words
    )


def test_the_words_are_in_the_owners_units() -> None:
    assert "0.28 in to 0.43 in" in told(water_in_need(kind(), "tank", None, judged=JUDGED.need), "us")


@pytest.mark.parametrize(
    ("one", "method", "dilution", "said"),
    [
        pytest.param(
            kind(name="soil insecticide", least_mm=13.0, target_mm=15.0, most_mm=25.0, source="a handbook"),
            "hose-end",
            40.0,
            "published depth stands",
            id="a published depth is not waived by dilution",
        ),
        pytest.param(kind(form="granule"), "spreader", None, "by its kind", id="granules"),
        pytest.param(kind(form="seed"), "by hand", None, "by its kind", id="seed"),
    ],
)
def test_the_kinds_own_depth_stands(one: Kind, method: str, dilution: float | None, said: str) -> None:
    need = water_in_need(one, method, dilution, judged=JUDGED.need)
    assert need[:3] == (one.least_mm, one.target_mm, one.most_mm)
    assert said in told(need)
    assert need.source == one.source


def test_the_labels_depth_wins_over_method_and_dilution() -> None:
    need = water_in_need(kind(), "hose-end", 40.0, judged=JUDGED.need, from_label=True)
    assert need[:3] == (3.0, 6.0, 12.0)
    assert need.source == "the label"


def test_what_must_stay_dry_is_never_watered_in_by_its_method() -> None:
    foliar = kind(name="foliar iron", least_mm=0.0, target_mm=0.0, most_mm=0.0, water_night_after=True)
    need = water_in_need(foliar, "tank", None, judged=JUDGED.need)
    assert need[:3] == (0.0, 0.0, 0.0)
    assert "night after" in told(need)


@pytest.mark.parametrize(
    ("overrides", "from_label"), [(("dry_h",), False), (("dry_h", "target_mm"), True), ((), False)]
)
def test_the_label_sets_the_depth_only_where_it_names_one(
    overrides: tuple[str, ...], from_label: bool
) -> None:
    assert label_sets_depth(Product("P", kind(), overrides=overrides)) is from_label


@settings(max_examples=50)
@given(
    depths=st.tuples(st.floats(0.5, 30), st.floats(0.5, 30), st.floats(0.5, 30)).map(sorted),
    method=st.sampled_from(["tank", "backpack", "hose-end"]),
    dilution=st.none() | st.floats(1, 19.9),
)
def test_the_minutes_never_lower_the_kinds_least_nor_pass_its_most(
    depths: list[float], method: str, dilution: float | None
) -> None:
    need = water_in_need(
        kind(least_mm=depths[0], target_mm=depths[1], most_mm=depths[2]), method, dilution, judged=JUDGED.need
    )
    assert depths[0] <= need.least_mm <= need.target_mm <= need.most_mm == depths[2]
