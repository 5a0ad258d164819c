"""What follows from an edited field, in every kind of record; one undo takes all of it back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from advisor.advice.records import Consequence, Edited, Followed, FollowedWhy
from advisor.errors import InputError
from advisor.lawn.load import load_site
from advisor.lawn.products import Product
from advisor.lawn.records import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Records,
    Run,
    StockChange,
)
from advisor.lawn.site_values import Site
from advisor.recording import carry
from advisor.recording.edit import edit_record, remove_record
from advisor.recording.entry import ApplicationEntry, keep, understood
from advisor.sentences.records import FIELD_WORDS, along_words, followed_words
from advisor.shipped import shipped
from advisor.store import Store, open_store

SITE: Site = load_site(shipped("config", "demo.yaml"))
NOW = datetime(2026, 6, 18, 1, 15, tzinfo=UTC)  # 20:15 at the demo site
T = datetime(2026, 6, 17, 9, 0, tzinfo=UTC)  # 04:00
MIN = timedelta(minutes=1)
ADVISED = Run("Front", T, T + 120 * MIN, 120.0, 24.0, "as advised")
BY_HAND = Run("Front", T, T + 20 * MIN, 20.0)
MEASURED = replace(BY_HAND, depth_mm=5.0)


@pytest.fixture
def store() -> Iterator[Store]:
    with open_store(None) as opened:
        yield opened


def edited(store: Store, kind: str, *changes: str, number: int = 1) -> Edited:
    return edit_record(SITE, store, NOW, kind=kind, number=number, changes=changes)


def why(done: Edited) -> dict[str, FollowedWhy]:
    return {each.field: each.why for each in done.followed}


KEEPS, PART = FollowedWhy.KEEPS_LENGTH, FollowedWhy.IN_PROPORTION


@pytest.mark.parametrize(
    ("before", "changes", "after", "followed"),
    [
        pytest.param(
            ADVISED,
            ["minutes=5"],
            replace(ADVISED, minutes=5.0, ended_at=T + 5 * MIN, depth_mm=1.0),
            {"ended_at": PART, "depth_mm": PART},
            id="minutes of an advised run carry its end and depth",
        ),
        pytest.param(
            replace(ADVISED, ended_at=T + 180 * MIN),
            ["minutes=60"],
            replace(ADVISED, minutes=60.0, ended_at=T + 90 * MIN, depth_mm=12.0),
            {"ended_at": PART, "depth_mm": PART},
            id="soaks shrink with the minutes",
        ),
        pytest.param(
            ADVISED,
            ["ended_at=05:00"],
            replace(ADVISED, minutes=60.0, ended_at=T + 60 * MIN, depth_mm=12.0),
            {"minutes": PART, "depth_mm": PART},
            id="the end carries minutes and depth",
        ),
        pytest.param(
            ADVISED,
            ["started_at=03:00"],
            replace(ADVISED, started_at=T - 60 * MIN, ended_at=T + 60 * MIN),
            {"ended_at": KEEPS},
            id="a run that is moved stays as long as it was",
        ),
        pytest.param(
            ADVISED,
            ["started_at=05:00", "minutes=60"],
            replace(ADVISED, started_at=T + 60 * MIN, ended_at=T + 120 * MIN, minutes=60.0, depth_mm=12.0),
            {"depth_mm": PART},
            id="moved and shortened",
        ),
        pytest.param(
            ADVISED,
            ["started_at=05:00", "ended_at=06:00"],
            replace(ADVISED, started_at=T + 60 * MIN, minutes=60.0, depth_mm=12.0),
            {"minutes": PART, "depth_mm": PART},
            id="both ends",
        ),
        pytest.param(
            ADVISED,
            ["minutes=60", "depth_mm=9 mm"],
            replace(ADVISED, minutes=60.0, ended_at=T + 60 * MIN, depth_mm=9.0),
            {"ended_at": PART},
            id="a depth that is named stands",
        ),
        pytest.param(
            ADVISED,
            ["minutes=0"],
            replace(ADVISED, minutes=0.0, ended_at=T, depth_mm=0.0),
            {"ended_at": PART, "depth_mm": FollowedWhy.DID_NOT_RUN},
            id="it did not run",
        ),
        pytest.param(
            ADVISED,
            ["zone=Bank"],
            replace(ADVISED, zone="Bank", depth_mm=None),
            {"depth_mm": FollowedWhy.OTHER_ZONE},
            id="advised for another zone",
        ),
        pytest.param(
            replace(ADVISED, ended_at=T, minutes=0.0, depth_mm=0.0),
            ["minutes=10"],
            replace(ADVISED, ended_at=T + 10 * MIN, minutes=10.0, depth_mm=None),
            {"ended_at": PART, "depth_mm": FollowedWhy.FROM_MINUTES},
            id="it ran after all",
        ),
        pytest.param(
            BY_HAND,
            ["minutes=10"],
            replace(BY_HAND, minutes=10.0, ended_at=T + 10 * MIN),
            {"ended_at": PART},
            id="by hand without a depth",
        ),
        pytest.param(
            MEASURED,
            ["minutes=10"],
            replace(MEASURED, minutes=10.0, ended_at=T + 10 * MIN, depth_mm=None),
            {"ended_at": PART, "depth_mm": FollowedWhy.MEASURED_DROPPED},
            id="a measured depth goes with its minutes",
        ),
        pytest.param(MEASURED, ["zone=Back"], replace(MEASURED, zone="Back"), {}, id="measured elsewhere"),
        pytest.param(MEASURED, ["depth_mm=6"], replace(MEASURED, depth_mm=6.0), {}, id="measured anew"),
        pytest.param(ADVISED, ["note=windy"], replace(ADVISED, note="windy"), {}, id="a note"),
    ],
)
def test_what_follows_from_an_edited_run(
    store: Store, before: Run, changes: list[str], after: Run, followed: dict[str, FollowedWhy]
) -> None:
    store.add([before])
    done = edited(store, "runs", *changes)
    assert store.find("runs", 1) == done.after.record == replace(after, id=1)
    assert why(done) == followed
    carry.undo_last(SITE, store)
    assert store.find("runs", 1) == done.before.record == replace(before, id=1)


def test_a_measured_depth_that_goes_is_told_with_the_way_to_give_it_again(store: Store) -> None:
    store.add([MEASURED])
    told = followed_words(edited(store, "runs", "minutes=10").followed)
    assert told[0] == "The end followed in proportion."
    assert told[1].startswith("The depth that was measured went with the old minutes and is dropped")
    assert "give it again with --set depth_mm" in told[1]


def test_every_reason_why_a_field_followed_has_its_words() -> None:
    followed = [Followed(field=field, why=why) for why in FollowedWhy for field in FIELD_WORDS]
    assert len(followed_words(followed)) == len(FollowedWhy)


PRODUCT = "Wetting agent"


def put_down(store: Store, *products: str, zones: str = "Front", **more: str) -> None:
    entry = ApplicationEntry(products or (PRODUCT,), zones, "16:00", "16:30", "tank", **more)
    keep(understood(entry, SITE, NOW), SITE, store, NOW)


def area(*zones: str) -> float:
    return sum(zone.area_m2 for zone in SITE.zones if zone.name in zones)


def taken(store: Store) -> list[tuple[str, datetime, float]]:
    return [(each.product, each.changed_at, each.amount) for each in store.records().stock]


DONE = datetime(2026, 6, 17, 21, 30, tzinfo=UTC)  # 16:30


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        pytest.param("rate=2 mL/m2", (PRODUCT, DONE, -2 * area("Front")), id="rate"),
        pytest.param("zones=Front, Back", (PRODUCT, DONE, None), id="zones"),
        pytest.param("ended_at=16:45", (PRODUCT, DONE + 15 * MIN, None), id="end"),
        pytest.param("started_at=15:00", (PRODUCT, DONE - 60 * MIN, None), id="both times together"),
        pytest.param("product=Potash solution", ("Potash solution", DONE, None), id="product"),
    ],
)
def test_what_an_application_took_from_the_stock_changes_with_it(
    store: Store, change: str, expected: tuple[str, datetime, float | None]
) -> None:
    put_down(store)
    before = store.records()
    done = edited(store, "application", change)
    now: Application = store.find("applications", 1)  # type: ignore[assignment]
    product, changed_at, amount = expected
    assert now.rate is not None
    assert taken(store) == [
        (product, changed_at, pytest.approx(-now.rate * area(*now.zones) if amount is None else amount))
    ]
    assert [each.consequence for each in done.along] == [Consequence.CHANGED]
    assert "With it changed stock change 1: used" in along_words(done.along)[0]
    carry.undo_last(SITE, store)
    assert store.records() == before
    assert carry.undo_last(SITE, store).gone  # the entry itself, not a second half of the edit
    assert store.records() == Records()


def test_an_application_that_is_moved_stays_as_long_as_it_was(store: Store) -> None:
    put_down(store)
    done = edited(store, "applications", "started_at=15:00")
    now: Application = store.find("applications", 1)  # type: ignore[assignment]
    assert (now.started_at, now.ended_at) == (DONE - 90 * MIN, DONE - 60 * MIN)
    assert why(done) == {"ended_at": KEEPS}


def test_the_other_products_of_a_round_stay_as_they_are(store: Store) -> None:
    put_down(store, "Potash solution", "Calcium solution")
    before = store.records()
    edited(store, "applications", "zones=Back", "rate=1 mL/m2")
    after = store.records()
    assert after.applications[1] == before.applications[1]
    assert after.stock[1] == before.stock[1]
    assert taken(store)[0] == ("Potash solution", DONE, pytest.approx(-area("Back")))


def test_a_rate_that_is_taken_away_takes_the_stock_change_along_and_one_that_is_given_makes_one(
    store: Store,
) -> None:
    put_down(store)
    assert [e.consequence for e in edited(store, "applications", "rate=none").along] == [Consequence.REMOVED]
    assert taken(store) == []
    done = edited(store, "applications", "rate=1 mL/m2")
    assert [e.consequence for e in done.along] == [Consequence.ADDED]
    assert taken(store) == [(PRODUCT, DONE, pytest.approx(-area("Front")))]
    carry.undo_last(SITE, store)
    assert taken(store) == []


def test_an_amount_that_the_owner_entered_stays_and_is_told(store: Store) -> None:
    put_down(store)
    edited(store, "stock", "amount=500 mL")
    store.edit("stock", 1, {"amount": -500.0})
    done = edited(store, "applications", "rate=2 mL/m2")
    assert taken(store) == [(PRODUCT, DONE, -500.0)]
    assert [each.consequence for each in done.along] == [Consequence.KEPT]
    assert "stays as it was entered" in along_words(done.along)[0]
    done = edited(store, "applications", "ended_at=16:45")
    assert taken(store) == [(PRODUCT, DONE + 15 * MIN, -500.0)]
    assert [each.consequence for each in done.along] == [Consequence.CHANGED]


def test_a_product_that_was_a_slip_brings_the_rate_of_the_site_file_and_one_that_was_said_stays(
    store: Store,
) -> None:
    put_down(store)
    done = edited(store, "applications", "product=Potash solution")
    other: Product = SITE.products["Potash solution"]
    assert why(done) == {"rate": FollowedWhy.SITE_RATE}
    assert store.find("applications", 1).rate == other.rate  # type: ignore[union-attr]
    edited(store, "applications", "rate=1.5 mL/m2")
    assert why(edited(store, "applications", f"product={PRODUCT}")) == {}
    assert store.find("applications", 1).rate == 1.5  # type: ignore[union-attr]
    granules: Product = SITE.products["Autumn granules"]
    done = edited(store, "applications", "product=Autumn granules")
    assert store.find("applications", 1).rate == granules.rate  # type: ignore[union-attr]
    usual = {"method": FollowedWhy.USUAL_EQUIPMENT}
    assert (done.after.record.method, why(done)) == ("spreader", {"rate": FollowedWhy.SITE_RATE, **usual})  # type: ignore[union-attr]
    done = edited(store, "applications", f"product={PRODUCT}", "rate=1 mL/m2")
    assert (done.after.record.rate, done.after.record.method, why(done)) == (1.0, "backpack", usual)  # type: ignore[union-attr]


def test_a_method_drops_the_dilution_of_the_old_equipment(store: Store) -> None:
    sprayer = replace(SITE.sprayers[0], name="Hose-end sprayer", method="hose-end", dilution=24.0)
    site = replace(SITE, sprayers=(*SITE.sprayers, sprayer))
    keep(understood(ApplicationEntry((PRODUCT,), method="hose-end sprayer"), site, NOW), site, store, NOW)
    done = edit_record(site, store, NOW, kind="applications", number=1, changes=["method=tank"])
    assert (done.after.record.dilution, why(done)) == (  # type: ignore[union-attr]
        None,
        {"dilution": FollowedWhy.SITE_DILUTION},
    )
    done = edit_record(site, store, NOW, kind="applications", number=1, changes=["method=Hose-end sprayer"])
    assert (done.after.record.method, done.after.record.dilution) == ("hose-end", 24.0)  # type: ignore[union-attr]


def test_a_removed_application_takes_its_stock_change_along_and_one_undo_brings_both_back(
    store: Store,
) -> None:
    put_down(store)
    before = store.records()
    done = remove_record(SITE, store, kind="application", number=1)
    assert store.records() == Records()
    assert [each.record.record for each in done.along] == list(before.stock)
    carry.undo_last(SITE, store)
    assert store.records() == before


PAIRS = [RainPair(T + timedelta(days=d), 24, 6.0, 4.0, 2.0, 5.0, 30) for d in (-12, -8, -7, -3)]
READINGS = [GaugeReading(T + timedelta(days=d), 5.0) for d in (-10, -6, -1)]


@pytest.mark.parametrize(
    ("changes", "left"),
    [
        pytest.param(["depth_mm=7"], [-12, -3], id="depth"),
        pytest.param(["read_at=04:30"], [-12], id="moved, so that the next reading counts another span"),
        pytest.param(["note=dew"], [-12, -8, -7, -3], id="note"),
    ],
)
def test_rain_pairs_that_rested_on_an_edited_reading_go(
    store: Store, changes: list[str], left: list[int]
) -> None:
    store.add(READINGS)
    store.add_pairs(PAIRS)
    before = store.records()
    done = edited(store, "rain", *changes, number=2)
    assert [each.starts_at for each in store.records().pairs] == [T + timedelta(days=d) for d in left]
    assert why(done) == {}
    if len(left) < 4:
        assert f"{4 - len(left)} rain pairs that rested on it went too" in along_words(done.along)[0]
    gone = [pair for pair in PAIRS if (pair.starts_at - T).days not in left]
    store.add_pairs([replace(pair, observed_mm=7.0) for pair in gone])  # the service works them out again
    carry.undo_last(SITE, store)
    assert store.records() == before


def test_a_removed_reading_takes_its_rain_pairs_along(store: Store) -> None:
    store.add(READINGS)
    store.add_pairs(PAIRS)
    before = store.records()
    remove_record(SITE, store, kind="gauge", number=2)
    assert [each.starts_at for each in store.records().pairs] == [PAIRS[0].starts_at]
    carry.undo_last(SITE, store)
    assert store.records() == before


ALONE: list[tuple[Record, str, dict[str, object]]] = [
    (GaugeReading(T, 5.0, T - 60 * MIN), "depth_mm=7", {"depth_mm": 7.0}),
    (ProbeReading("Front", T, 12.0), "depletion_mm=10", {"depletion_mm": 10.0}),
    (ProbeReading("Front", T, 12.0), "zone=Back", {"zone": "Back"}),
    (Audit("Front", T, 13.0, 0.68, 0.8, 24), "rate_mm_h=14", {"rate_mm_h": 14.0}),
    (Audit("Front", T, 13.0, 0.68, 0.8, 24), "uniformity=70 %", {"uniformity": 0.7}),
    (StockChange(PRODUCT, T, 900.0), "amount=1 L", {"amount": 1000.0}),
    (ArchivedHour(T, 1.0, source="a service"), "rain_mm=2", {"rain_mm": 2.0}),
    (PAIRS[0], "observed_mm=6", {"observed_mm": 6.0}),
]


@pytest.mark.parametrize(
    ("before", "change", "after"), ALONE, ids=[f"{type(b).__name__} {c}" for b, c, _ in ALONE]
)
def test_in_the_other_kinds_a_field_stands_alone(
    store: Store, before: Record, change: str, after: dict[str, object]
) -> None:
    from advisor.lawn.record_fields import kind_of

    store.add([before])
    done = edited(store, kind_of(before), change)
    assert store.find(kind_of(before), 1) == replace(before, id=1, **after)
    assert (done.followed, done.along) == ((), ())
    carry.undo_last(SITE, store)
    assert store.find(kind_of(before), 1) == replace(before, id=1)


@pytest.mark.parametrize(("method", "cans"), [("flow meter", 0), ("single can", 1)])
def test_an_audit_by_a_way_that_cannot_tell_evenness_has_none(store: Store, method: str, cans: int) -> None:
    store.add([Audit("Front", T, 13.0, 0.68, 0.8, 24)])
    done = edited(store, "audit", f"method={method}")
    assert done.after.record == Audit("Front", T, 13.0, None, None, cans, method, id=1)
    assert set(why(done).values()) == {FollowedWhy.CANNOT_TELL}


@pytest.mark.parametrize(
    ("record", "change", "field", "told"),
    [
        (ADVISED, "minutes=1200", "minutes", "longest stretch of hours"),
        (ADVISED, "minutes=-3", "minutes", "0 to 1,440"),
        (ADVISED, "minuts=3", "changes", "did you mean 'minutes'"),
        (ADVISED, "zone=Frnt", "zone", "did you mean 'Front'"),
        (StockChange(PRODUCT, T, -5.0), "product=Autumn granules", "amount", "by volume says nothing"),
        (GaugeReading(T, 5.0), "depth_mm=600 mm", "depth_mm", "likely a slip"),
    ],
)
def test_an_edit_that_cannot_be_names_the_field_and_changes_nothing(
    store: Store, record: Record, change: str, field: str, told: str
) -> None:
    from advisor.lawn.record_fields import kind_of

    store.add([record])
    before = store.records()
    with pytest.raises(InputError, match=told) as caught:
        edited(store, kind_of(record), change)
    assert caught.value.field == field
    assert store.records() == before


@pytest.mark.parametrize("change", ["product=Potash solution", "changed_at=16:00"])
def test_what_an_application_took_is_edited_by_its_application(store: Store, change: str) -> None:
    put_down(store)
    with pytest.raises(InputError, match="edit application 1, and the stock follows"):
        edited(store, "stock", change)
