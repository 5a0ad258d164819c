"""A replayed season of 6 zones × 31 members against the `advise` calls in it.

Run: python tests/benchmarks/bench_replay.py — prints a ratio, asserts nothing.
"""

from __future__ import annotations

import sys
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from made import made_site, made_zone
from made_seasons import LAST, made_season, made_sky, made_truth

from advisor.replay import season as room
from advisor.replay.made_forecast import RECIPES
from advisor.replay.scores import scores
from advisor.replay.season import live

WANTED = 1.3


def main() -> None:
    site = made_site(*(made_zone(f"Zone {i}", exposure=0.6 + 0.08 * i) for i in range(6)))
    season = made_season(site, truth=made_truth(), first=LAST - timedelta(days=59))
    spent, real = 0.0, room.advise

    def clocked(**asked: Any) -> Any:
        nonlocal spent
        begin = time.perf_counter()
        answer = real(**asked)
        spent += time.perf_counter() - begin
        return answer

    room.advise = clocked  # type: ignore[assignment]
    begin = time.perf_counter()
    lived = live(season, made_sky(season, RECIPES["honest"]))
    scores(season, lived)
    took = time.perf_counter() - begin
    print(f"{lived.asked} asks in {took:.1f} s, of which advise {spent:.1f} s")
    print(f"ratio season / its advise calls: {took / spent:.2f} (wanted: at most {WANTED})")


if __name__ == "__main__":
    main()
