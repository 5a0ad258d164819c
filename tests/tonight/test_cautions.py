"""What is only asked about brings every caution that tonight would give once it is recorded."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.advice.cautions import Caution, CautionKind
from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise
from advisor.tonight.rain_answer import WhatIf, rain_answer

KINDS = kind_table()
OTHER = Product("Other", KINDS["soil-insecticide"], cautions=("keep the box dry",))
ASKED = -1


def tonight(kind: str, *, recorded: bool, mode: str = "established") -> Advice:
    """An evening with another product on the lawn, and with one of this kind put down just now."""
    mine = Product("Other's kin", KINDS[kind], cautions=("shake well",))
    zone = made_zone(mode=mode, mode_until=date(2026, 7, 1) if mode != "established" else None)
    site = made_site(zone, made_zone("Back"), products={"Other": OTHER, mine.name: mine})
    noon = EVENING - timedelta(hours=8)
    lies = Application("Other", ("Back",), noon, noon, "spreader", id=1)
    asked = Application(mine.name, ("Front",), EVENING, EVENING, "tank", id=ASKED)
    records = Records(applications=(lies, asked) if recorded else (lies,))
    rain = np.zeros((5, 240))
    return advise(site=site, records=records, weather=made_weather(rain), now=EVENING)


def asked_about(advice: Advice) -> tuple[Caution, ...]:
    what_if = WhatIf(product="Other's kin", zones=("Front",), at=EVENING, method="tank", dilution=None)
    return rain_answer(advice, what_if, ASKED).cautions


@pytest.mark.parametrize("mode", ["established", "seed"])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_what_if_tells_all_that_recording_it_would_add(kind: str, mode: str) -> None:
    after = tonight(kind, recorded=True, mode=mode)
    before = {c.text for c in tonight(kind, recorded=False, mode=mode).cautions}
    told = {c.text for c in asked_about(after)}
    assert {c.text for c in after.cautions} - before <= told
    assert not any(text.startswith("Other: ") for text in told)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"seed"}))
def test_its_own_cautions_and_the_general_ones_are_among_them(kind: str) -> None:
    found = asked_about(tonight(kind, recorded=True))
    assert {CautionKind.LABEL, CautionKind.STAY_OFF} <= {c.kind for c in found}
    assert "Other's kin: shake well." in [c.text for c in found]


@pytest.mark.parametrize(
    ("kind", "caution"),
    [
        ("soil-insecticide", CautionKind.BEES),
        ("soil-insecticide", CautionKind.SWEEP),
        ("foliar-liquid", CautionKind.IRON),
        ("granular-quick", CautionKind.HEAVY_RAIN),
        ("pre-emergent", CautionKind.NO_SEED),
        ("wetting-agent", CautionKind.BURNS),
    ],
)
def test_what_the_kind_alone_asks_reaches_the_answer(kind: str, caution: CautionKind) -> None:
    (one,) = (c for c in asked_about(tonight(kind, recorded=True)) if c.kind == caution)
    assert "Other's kin" in one.products


def test_a_weed_killer_on_seed_is_a_caution_about_its_product_and_zone() -> None:
    first = asked_about(tonight("pre-emergent", recorded=True, mode="seed"))[0]
    assert (first.kind, first.topic) == (CautionKind.HARMS_SEED, "seed")
    assert (first.products, first.zones) == (("Other's kin",), ("Front",))
    assert first.text.startswith("Other's kin on Front can stop or kill grass that comes up from seed")
