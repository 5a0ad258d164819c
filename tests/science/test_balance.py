from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.science import balance
from advisor.science.balance import Balance, as_if_watered, root_zone_balance

NAN = float("nan")


def one_zone(
    *, start: float, etc: list[float], water: list[float], taw: float = 160.0, p: float = 0.4
) -> Balance:
    return root_zone_balance(
        depletion_start_mm=np.array([[start]]),
        etc_mm=np.array([[etc]]),
        water_mm=np.array([[water]]),
        taw_mm=np.array([taw]),
        p=np.array([p]),
    )


def by_hand(start: float, etc: np.ndarray, water: np.ndarray, taw: float, p: float) -> np.ndarray:
    """FAO-56 eq. 84 and 85 written out, one zone and member."""
    course, depletion = [], start
    for demand, comes in zip(etc, water, strict=True):
        ks = min(1.0, (taw - depletion) / ((1.0 - p) * taw))
        depletion = max(0.0, depletion + min(ks * demand, taw - depletion) - comes)
        course.append(depletion)
    return np.array(course)


def made(z: int, m: int, h: int, seed: int = 7) -> dict[str, np.ndarray]:
    """An invented lawn: z zones, m members, h hours with showers."""
    rng = np.random.default_rng(seed)
    taw = rng.uniform(15.0, 50.0, z)
    return {
        "depletion_start_mm": rng.uniform(0.0, 1.0, (z, m)) * taw[:, np.newaxis],
        "etc_mm": rng.uniform(0.0, 0.8, (z, 1, h)),
        "water_mm": np.where(rng.random((z, m, h)) < 0.08, rng.gamma(1.0, 4.0, (z, m, h)), 0.0),
        "taw_mm": taw,
        "p": rng.uniform(0.2, 0.7, z),
    }


@pytest.mark.parametrize(
    ("start", "etc", "water", "end", "drained", "ks"),
    [
        (10.0, 2.0, 0.0, 12.0, 0.0, 1.0),
        (10.0, 2.0, 7.0, 5.0, 0.0, 1.0),
        (10.0, 2.0, 20.0, 0.0, 8.0, 1.0),
        (112.0, 2.0, 0.0, 113.0, 0.0, 0.5),
        (160.0, 2.0, 0.0, 160.0, 0.0, 0.0),
        (0.0, 0.0, 5.0, 0.0, 5.0, 1.0),
        (64.0, 2.0, 0.0, 66.0, 0.0, 1.0),
    ],
    ids=["drying", "watered", "overfilled", "half stressed", "at wilting", "rain on full soil", "at RAW"],
)
def test_one_hour_worked_by_hand(
    start: float, etc: float, water: float, end: float, drained: float, ks: float
) -> None:
    found = one_zone(start=start, etc=[etc], water=[water])
    assert found.depletion_mm[0, 0, 0] == pytest.approx(end)
    assert found.percolation_mm[0, 0, 0] == pytest.approx(drained)
    assert found.etc_actual_mm[0, 0, 0] == pytest.approx(ks * etc)


@pytest.mark.parametrize(
    ("z", "m", "h"),
    [(1, 1, 1), (6, 1, 744), (3, 31, 48), (2, 1500, 40), (1, 5000, 33)],
    ids=["one of each", "a past month", "an ensemble", "many members", "more members than a block"],
)
def test_the_fast_way_is_the_slow_way(z: int, m: int, h: int) -> None:
    given_ = made(z, m, h)
    found = root_zone_balance(**given_)
    assert found.depletion_mm.shape == (z, m, h)
    for zone in range(z):
        for member in sorted({0, m // 2, m - 1}):
            slow = by_hand(
                given_["depletion_start_mm"][zone, member],
                given_["etc_mm"][zone, 0],
                given_["water_mm"][zone, member],
                given_["taw_mm"][zone],
                given_["p"][zone],
            )
            assert found.depletion_mm[zone, member] == pytest.approx(slow, abs=1e-10)


def test_where_a_block_ends_makes_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    given_ = made(7, 5, 50)
    whole = root_zone_balance(**given_).depletion_mm
    for columns, hours in ((8, 7), (16, 50), (24, 1), (40, 3)):
        monkeypatch.setattr(balance, "COLUMNS", columns)
        monkeypatch.setattr(balance, "HOURS", hours)
        assert np.array_equal(root_zone_balance(**given_).depletion_mm, whole)


def test_p_and_available_water_may_follow_the_hours() -> None:
    given_ = made(4, 3, 30)
    fixed = root_zone_balance(**given_)
    given_["taw_mm"] = np.repeat(given_["taw_mm"][:, np.newaxis, np.newaxis], 30, axis=2)
    given_["p"] = np.repeat(given_["p"][:, np.newaxis, np.newaxis], 30, axis=2)
    hourly = root_zone_balance(**given_)
    assert np.array_equal(hourly.depletion_mm, fixed.depletion_mm)
    assert hourly.percolation_mm == pytest.approx(fixed.percolation_mm, abs=1e-12)


def test_numbers_and_single_axes_spread_over_zones_and_members() -> None:
    water = made(3, 4, 10)["water_mm"]
    found = root_zone_balance(
        depletion_start_mm=5.0, etc_mm=np.full((1, 1, 10), 0.3), water_mm=water, taw_mm=30.0, p=0.5
    )
    assert found.depletion_mm.shape == (3, 4, 10)
    assert found.depletion_mm[2, 3] == pytest.approx(by_hand(5.0, np.full(10, 0.3), water[2, 3], 30.0, 0.5))


@pytest.mark.parametrize("name", ["etc_mm", "water_mm"])
def test_an_unknown_hour_makes_all_that_follows_unknown_for_that_member(name: str) -> None:
    given_ = made(2, 3, 12)
    given_["etc_mm"] = np.broadcast_to(given_["etc_mm"], (2, 3, 12)).copy()
    given_[name][1, 2, 5] = NAN
    unknown = np.isnan(root_zone_balance(**given_).depletion_mm)
    assert unknown[1, 2].tolist() == [False] * 5 + [True] * 7
    assert unknown.sum() == 7


def test_an_unknown_start_is_unknown_throughout() -> None:
    assert np.isnan(one_zone(start=NAN, etc=[1.0, 1.0], water=[0.0, 200.0]).depletion_mm).all()


def test_no_members_and_no_hours_give_empty_courses() -> None:
    for m, h in ((0, 5), (3, 0)):
        assert root_zone_balance(**made(2, m, h)).depletion_mm.shape == (2, m, h)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"taw_mm": np.array([0.0])}, "taw_mm must be above 0"),
        ({"p": np.array([1.0])}, "p from 0 to below 1"),
        ({"depletion_start_mm": np.array([[-1.0]])}, "within 0 and taw_mm"),
        ({"depletion_start_mm": np.array([[61.0]])}, "within 0 and taw_mm"),
        ({"etc_mm": np.array([[[-0.1]]])}, "must not be negative"),
        ({"water_mm": np.array([[[-0.1]]])}, "must not be negative"),
        ({"water_mm": np.array([0.1])}, "zone, member, hour"),
        ({"taw_mm": np.array([[60.0]])}, "taw_mm must be a number"),
    ],
    ids=[
        "a soil that holds nothing",
        "no stress ever",
        "wetter than full",
        "drier than wilted",
        "negative demand",
        "negative water",
        "water without axes",
        "TAW of two axes",
    ],
)
def test_what_no_lawn_can_have_is_refused(changed: dict[str, np.ndarray], message: str) -> None:
    lawn = {
        "depletion_start_mm": np.array([[5.0]]),
        "etc_mm": np.array([[[0.3]]]),
        "water_mm": np.array([[[0.0]]]),
        "taw_mm": np.array([60.0]),
        "p": np.array([0.5]),
    }
    with pytest.raises(ValueError, match=message):
        root_zone_balance(**{**lawn, **changed})


sizes = st.tuples(st.integers(1, 4), st.integers(1, 5), st.integers(1, 60))


@settings(max_examples=60, deadline=None)
@given(size=sizes, seed=st.integers(0, 9999))
def test_water_in_is_water_out_and_change(size: tuple[int, int, int], seed: int) -> None:
    given_ = made(*size, seed=seed)
    found = root_zone_balance(**given_)
    out = found.etc_actual_mm.sum(axis=2) + found.percolation_mm.sum(axis=2)
    change = given_["depletion_start_mm"] - found.depletion_mm[..., -1]
    assert np.abs(given_["water_mm"].sum(axis=2) - out - change).max() < 1e-9


@settings(max_examples=60, deadline=None)
@given(size=sizes, seed=st.integers(0, 9999))
def test_depletion_stays_between_full_and_wilted(size: tuple[int, int, int], seed: int) -> None:
    given_ = made(*size, seed=seed)
    given_["etc_mm"] *= 60.0  # a demand beyond any summer's
    found = root_zone_balance(**given_)
    assert np.all(found.depletion_mm >= 0.0)
    assert np.all(found.depletion_mm <= given_["taw_mm"][:, np.newaxis, np.newaxis] + 1e-9)
    assert np.all((found.etc_actual_mm >= -1e-9) & (found.etc_actual_mm <= given_["etc_mm"] + 1e-9))


@settings(max_examples=60, deadline=None)
@given(size=sizes, seed=st.integers(0, 9999), hour=st.integers(0, 59), extra=st.floats(0.0, 40.0))
def test_more_rain_never_deepens_depletion(
    size: tuple[int, int, int], seed: int, hour: int, extra: float
) -> None:
    given_ = made(*size, seed=seed)
    drier = root_zone_balance(**given_).depletion_mm
    given_["water_mm"][..., hour % size[2]] += extra
    assert np.all(root_zone_balance(**given_).depletion_mm <= drier + 1e-9)


@settings(max_examples=40, deadline=None)
@given(size=sizes, seed=st.integers(0, 9999))
def test_the_order_of_the_members_is_irrelevant(size: tuple[int, int, int], seed: int) -> None:
    given_ = made(*size, seed=seed)
    order = np.random.default_rng(seed).permutation(size[1])
    straight = root_zone_balance(**given_).depletion_mm
    given_["water_mm"] = given_["water_mm"][:, order]
    given_["depletion_start_mm"] = given_["depletion_start_mm"][:, order]
    assert np.array_equal(root_zone_balance(**given_).depletion_mm, straight[:, order])


@pytest.mark.parametrize(("z", "m"), [(3, 31), (2, 3000)], ids=["an ensemble", "many members"])
def test_the_order_in_memory_is_irrelevant(z: int, m: int) -> None:
    given_ = made(z, m, 40)
    straight = root_zone_balance(**given_).depletion_mm
    given_["water_mm"] = np.moveaxis(np.ascontiguousarray(np.moveaxis(given_["water_mm"], -1, 0)), 0, -1)
    assert np.array_equal(root_zone_balance(**given_).depletion_mm, straight)


@given(
    etc=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=60),
    rain=st.floats(0.0, 30.0),
    allowed=st.floats(5.0, 30.0),
)
def test_a_zone_watered_at_its_allowance_makes_and_loses_no_water(
    etc: list[float], rain: float, allowed: float
) -> None:
    demand = np.array([etc])
    water = np.zeros_like(demand)
    water[0, len(etc) // 2] = rain
    made = as_if_watered(etc_mm=demand, water_mm=water, allowed_mm=np.full_like(demand, allowed))
    change = 0.5 * allowed - made.depletion_mm[0, -1]
    came = water.sum() + made.irrigation_mm.sum()
    assert came - demand.sum() - made.percolation_mm.sum() == pytest.approx(change, abs=1e-9)
    assert made.depletion_mm.max() <= allowed + 1e-9
    assert made.depletion_mm.min() >= -1e-9
