"""Cautions: every code has its topic and its sentence, and no slip in the data file loses one."""

from __future__ import annotations

import re
import tomllib

import pytest

from advisor.advice.cautions import TOPIC, Asking, Caution, CautionKind, CautionTopic, concerns
from advisor.errors import InputError
from advisor.lawn.products import OF_KINDS, Kind, Product
from advisor.lawn.tables import kind_table, kinds_of
from advisor.sentences.cautions import ABOUT_PRODUCTS, SENTENCES
from advisor.shipped import shipped
from advisor.watering_in.cautions import NightRisks, PutDown, cautions_for

KEYS = sorted(kind_table())
TEXT = shipped("data", "product_kinds.toml").read_text(encoding="utf-8")


def section(key: str) -> str:
    """The lines of one kind in the data file, with those of its disagreements."""
    start = TEXT.index(f'["{key}"]')
    ends = [m.start() for m in re.finditer(r'^\["', TEXT, re.MULTILINE) if m.start() > start]
    return TEXT[start : ends[0] if ends else len(TEXT)]


def read(text: str) -> Kind | None:
    """The kind that a section is read as; None where it is refused."""
    try:
        (kind,) = kinds_of(text).values()
    except (tomllib.TOMLDecodeError, InputError):
        return None
    return kind


def named(key: str) -> Product:
    return Product(key, kind_table()[key])


def test_every_caution_has_its_topic_and_its_sentence() -> None:
    assert set(TOPIC) == set(CautionKind)
    assert set(ABOUT_PRODUCTS) == OF_KINDS
    said_once = {kind for _, kind in SENTENCES}
    beyond = set(CautionKind) - OF_KINDS - said_once
    bring_theirs = {
        CautionKind.OWN,
        CautionKind.HARMS_SEED,
        CautionKind.MAY_NOT_GROW,
        CautionKind.KEPT_BEFORE,
    }
    assert beyond == bring_theirs


def test_every_code_is_asked_by_a_kind() -> None:
    assert {code for kind in kind_table().values() for code in kind.cautions} == OF_KINDS


@pytest.mark.parametrize("key", KEYS)
def test_a_comma_more_or_less_never_loses_a_caution(key: str) -> None:
    whole = section(key)
    expected = read(whole)
    assert expected == kind_table()[key]
    first = whole.index("cautions = [")
    last = whole.index("]", first) + 1
    commas = [i for i in range(first, last) if whole[i] == ","]
    assert commas
    changed = [whole[:i] + whole[i + 1 :] for i in commas]
    changed += [f"{whole[:i]},{whole[i:]}" for i in range(first, last + 1)]
    refused = 0
    for text in changed:
        found = read(text)
        refused += found is None
        assert found is None or found.cautions == expected.cautions
    assert refused > len(changed) // 2


@pytest.mark.parametrize(
    ("cautions", "found"),
    [
        ('["label", "keep it cool"]', "'keep it cool'"),
        ('["label,"]', "'label,'"),
        ('["own"]', "'own'"),
        ("[]", "none"),
        ('["label", "label"]', "'label'"),
        ('"label"', "'l'"),
    ],
    ids=["unknown", "a comma inside", "not for kinds", "none at all", "twice", "no list"],
)
def test_an_unknown_code_is_an_error_that_tells_the_known_ones(cautions: str, found: str) -> None:
    whole = section("seed")
    text = re.sub(r"cautions = \[.*?\]", f"cautions = {cautions}", whole, flags=re.DOTALL)
    with pytest.raises(InputError) as refused:
        kinds_of(text)
    assert str(refused.value).startswith("data/product_kinds.toml: the cautions of 'seed'")
    assert found in str(refused.value)
    assert "bees and flowering weeds" in str(refused.value)


@pytest.mark.parametrize("key", KEYS)
def test_nothing_a_kind_asks_goes_unsaid_at_the_mixing_or_in_the_night(key: str) -> None:
    product = named(key)
    said = {
        caution.kind
        for asking in (Asking.MIX, Asking.TONIGHT)
        for caution in cautions_for(asking, [PutDown(product, ("Front",))])
    }
    covered = {CautionKind.HARD_SURFACES, CautionKind.MONTHS}  # in "sweep" for granules, in "buffer"
    assert set(product.kind.cautions) - covered <= said
    texts = " ".join(c.text for c in cautions_for(Asking.MIX, [PutDown(product)]))
    assert "paving" in texts
    assert "some set dates" in texts


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("foliar-liquid", "foliar-liquid: iron stains concrete: sweep or rinse at once"),
        ("soil-insecticide", "soil-insecticide: mow off flowering weeds before, for the bees"),
        ("granular-quick", "granular-quick: put down nothing before heavy rain or on saturated or frozen"),
        ("granular-quick", "granular-quick: light showers do not add up"),
        ("pre-emergent", "pre-emergent: do not seed where it lies."),
        ("wetting-agent", "wetting-agent: left on the leaves in heat it can burn them."),
    ],
)
def test_what_a_product_asks_is_told_with_its_name_and_its_zones(key: str, told: str) -> None:
    found = cautions_for(Asking.TONIGHT, [PutDown(named(key), ("Front", "Back"))])
    (one,) = (c for c in found if c.text.startswith(told))
    assert (one.products, one.zones) == ((key,), ("Front", "Back"))


def test_the_owners_own_words_are_kept_whatever_they_are() -> None:
    """A text that resembles one of ours is the owner's all the same."""
    own = "stay off until dry, people and pets"
    product = Product("Tonic", kind_table()["soil-liquid"], cautions=(own, "Shake well."))
    for asking in (Asking.TONIGHT, Asking.MIX):
        found = cautions_for(asking, [PutDown(product)])
        told = [c.text for c in found if c.kind == CautionKind.OWN]
        assert told == [f"Tonic: {own}.", "Tonic: Shake well."]
        assert {c.topic for c in found if c.kind == CautionKind.OWN} == {CautionTopic.PRODUCT}


def test_a_mix_names_products_that_ask_the_same_together_and_the_night_each_alone() -> None:
    both = [PutDown(named("granular-quick"), ("Front",)), PutDown(named("granular-slow"), ("Back",))]
    names = ("granular-quick", "granular-slow")

    def rain(asking: Asking) -> list[tuple[str, ...]]:
        return [c.products for c in cautions_for(asking, both) if c.kind == CautionKind.HEAVY_RAIN]

    assert rain(Asking.MIX) == [names]
    assert rain(Asking.TONIGHT) == [(names[0],), (names[1],)]


def test_what_a_night_adds_comes_with_it_alone() -> None:
    product = PutDown(named("soil-liquid"), ("Front",))
    night = NightRisks(ran_off=(product,), water_runs=True, coldest_c=1.0)
    added = [
        c.kind for c in cautions_for(Asking.TONIGHT, [product], night)
        if c not in cautions_for(Asking.TONIGHT, [product])
    ]  # fmt: skip
    assert added == [
        CautionKind.RAN_OFF,
        CautionKind.BACKFLOW,
        CautionKind.STANDING_WATER,
        CautionKind.FREEZING,
    ]
    mild = cautions_for(Asking.TONIGHT, [], NightRisks(water_runs=True))
    assert CautionKind.FREEZING not in {c.kind for c in mild}


def test_a_caution_concerns_those_it_names_or_everybody() -> None:
    def of(kind: CautionKind, *products: str) -> Caution:
        return Caution(topic=TOPIC[kind], kind=kind, products=products)

    assert concerns(of(CautionKind.LABEL), ["Feed"])
    assert concerns(of(CautionKind.BEES, "Feed", "Grubs"), ["Grubs"])
    assert not concerns(of(CautionKind.BEES, "Grubs"), ["Grubs plus"])
    assert concerns(of(CautionKind.RAN_OFF, "Feed"), ["Grubs"])
