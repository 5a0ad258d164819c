from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import AdvisorError
from advisor.lawn.load import read_site
from advisor.lawn.products import Product
from advisor.lawn.tables import kind_table

LARK = Path(__file__).with_name("lark.yaml").read_text(encoding="utf-8")


def _product(kind: str, *label: str) -> Product:
    rows = "".join(f"    {row}\n" for row in label)
    text = LARK.replace("products:\n", f"products:\n  - name: Ours\n    kind: {kind}\n{rows}", 1)
    return read_site(text, Path("lark.yaml")).products["Ours"]


def test_without_a_word_from_the_label_the_kind_stands() -> None:
    product = _product("soil-liquid")
    assert product.kind == kind_table()["soil-liquid"]
    assert product.overrides == ()


def test_the_label_goes_over_the_kind_and_what_it_changed_is_told() -> None:
    product = _product(
        "pre-emergent",
        "form: liquid",
        "rate: 1 fl oz/1000 sq ft",
        "within: 3 days",
        "hurry: 24 h",
        "wind_most: 5 mph",
        "temperature_most: 90 °F",
        "mow_before: 1 day",
        "cautions: [shake well]",
    )
    kind = product.kind
    assert (kind.form, kind.within_h, kind.hurry_h, kind.mow_before_d) == ("liquid", 72.0, 24.0, 1.0)
    assert kind.wind_most_m_s == pytest.approx(2.2352)
    assert kind.temp_most_c == pytest.approx(32.222, abs=0.001)
    assert product.overrides == (
        "form",
        "hurry_h",
        "mow_before_d",
        "temp_most_c",
        "wind_most_m_s",
        "within_h",
    )
    assert product.cautions == ("shake well",)
    assert (kind.least_mm, kind.target_mm, kind.most_mm) == (6, 13, 25)


@pytest.mark.parametrize(
    ("sprinkler", "depth_mm"),
    [("fixed spray", 43.18 / 4), ("gear rotor", 13 / 4), ("1.5 in/h", 38.1 / 4)],
)
def test_minutes_on_a_label_are_the_depth_of_the_sprinkler_they_were_meant_for(
    sprinkler: str, depth_mm: float
) -> None:
    product = _product("soil-liquid", "label_minutes: 15 min", f"label_sprinkler: {sprinkler}")
    assert product.kind.target_mm == pytest.approx(depth_mm)
    assert product.label_minutes == 15
    assert product.label_rate_mm_h == pytest.approx(depth_mm * 4)
    assert {"target_mm", "label_minutes"} <= set(product.overrides)


@pytest.mark.parametrize(
    ("row", "depths"),
    [
        ("target: 0.5 in", (3, 12.7, 12.7)),
        ("target: 2 mm", (2, 2, 12)),
        ("least: 8 mm", (8, 8, 12)),
        ("most: 5 mm", (3, 5, 5)),
        ("target: 0 mm", (0, 0, 12)),
    ],
)
def test_the_kinds_other_depths_move_to_keep_the_order(row: str, depths: tuple[float, ...]) -> None:
    kind = _product("soil-liquid", row).kind
    assert (kind.least_mm, kind.target_mm, kind.most_mm) == pytest.approx(depths)


def test_what_the_label_asks_to_water_in_with_does_not_count_as_washing_off() -> None:
    assert _product("soil-liquid", "target: 15 mm", "most: 30 mm").kind.washoff_mm == 30
    assert _product("soil-liquid", "target: 15 mm", "washoff: 14 mm").kind.washoff_mm == 14
    assert _product("foliar-liquid", "target: 8 mm").kind.washoff_mm == 2.5


def test_a_kind_that_stays_dry_can_be_watered_in_when_the_label_says_all_of_it() -> None:
    kind = _product(
        "post-emergent-liquid", "least: 3 mm", "target: 6 mm", "most: 12 mm", "within: 24 h", "dry: 4 h"
    ).kind
    assert (kind.target_mm, kind.within_h, kind.dry_h) == (6, 24, 4)


@pytest.mark.parametrize(
    ("kind", "label", "sentence"),
    [
        (
            "soil-liquid",
            ("least: 9 mm", "most: 8 mm"),
            "lark.yaml:70: products[Ours] - the depths are out of order; found least 9, target 8, most 8 mm; "
            "allowed: least ≤ target ≤ most",
        ),
        (
            "post-emergent-liquid",
            ("target: 6 mm",),
            "lark.yaml:70: products[Ours] - the kind 'post-emergent-liquid' is not watered in, so a label that asks "
            "it must say all of it; found target; allowed: least, target, most and within together",
        ),
        (
            "soil-liquid",
            ("target: 6 mm", "label_minutes: 15 min", "label_sprinkler: fixed spray"),
            "lark.yaml:73: products[Ours].label_minutes: the label's guidance is given twice; "
            "found target and label_minutes; allowed: one of them",
        ),
        (
            "soil-liquid",
            ("label_minutes: 10 h", "label_sprinkler: fixed spray"),
            "lark.yaml:73: products[Ours].label_sprinkler: the label's minutes are a depth no label asks; "
            "found 432 mm; allowed: at most 100 mm",
        ),
        (
            "soil-liquid",
            ("wind_most: 1 mph",),
            "lark.yaml:70: products[Ours] - no wind is left to spray in; found wind_least above wind_most; "
            "allowed: least < most",
        ),
    ],
    ids=["out of order", "not watered in", "said twice", "too many minutes", "no wind left"],
)
def test_a_label_that_makes_no_sense_is_told(kind: str, label: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(AdvisorError) as caught:
        _product(kind, *label)
    assert str(caught.value) == sentence
