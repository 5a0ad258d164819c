"""The whole page from the results of its seasons, and the small fixed part that the tests make again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from worth.archive import chances, evenings
from worth.page import (
    CHANCE_HEAD,
    GRASS_HEAD,
    NIGHT_HEAD,
    PRODUCT_HEAD,
    TURF_HEAD,
    by_season,
    chance_rows,
    claim_rows,
    earned_words,
    evenings_of,
    grass_row,
    looks_line,
    night_claims,
    night_rows,
    product_page,
    product_rows,
    table,
    turf_page,
    turf_rows,
)
from worth.places import worth, years_of
from worth.plan import HONEST, PRODUCTS, SMALL, case_of, job_of, short
from worth.reckon import Lived
from worth.standard_page import standard_claims, standard_page
from worth.standard_test import Row

from advisor.replay.job import Result, work
from advisor.replay.past_nights import USUAL
from advisor.version import VERSION

PAGE = Path(__file__).parents[2] / "data" / "worth.md"
NIGHTS, SEEDS = 40, 5


def groups_of(results: Iterable[Result]) -> dict[str, list[Lived]]:
    """The results by group, in the order of their keys."""
    found: dict[str, list[Lived]] = {}
    for result in sorted(results, key=lambda each: each.key):
        case = case_of(result.key)
        found.setdefault(case.group, []).append(Lived((case.place, case.year), case.seed, result))
    return found


def made_page(results: Sequence[Result], standard: Sequence[Sequence[Row]], *, made_at: datetime) -> str:
    """The page, claims that do not hold first; `standard` are the periods of the standard test, zone by zone."""
    groups = groups_of(results)
    turf, claims = turf_page(groups)
    learnt = {
        kind: evenings(calibrated=kind == "after", nights=NIGHTS, seeds=SEEDS) for kind in ("before", "after")
    }
    claims += night_claims("the evenings of our seasons", evenings_of(groups[PRODUCTS]))
    for kind, by_price in learnt.items():
        claims += night_claims(f"the archive {kind} learning", by_price)
    claims += standard_claims(standard)
    parts = [
        *_top(made_at),
        "## What is claimed, and whether it holds\n",
        table(("holds", "claim", "found"), claim_rows(claims)),
        "",
        *turf,
        *product_page(groups),
        *_archive(learnt),
        *standard_page(standard),
        small_part(),
        "\n## Chances of rain on the archive's second half\n",
        table(CHANCE_HEAD, chance_rows(chances())),
        "",
    ]
    return "\n".join(parts)


def small_results() -> list[Result]:
    """The small fixed part, worked out here and now."""
    return [work(short(job_of(case))) for case in SMALL]


def small_part(results: Sequence[Result] | None = None) -> str:
    """The section of the page that the tests make again: 24 nights of each season, 11 members."""
    groups = groups_of(small_results() if results is None else results)
    return "\n".join(
        [
            "\n## The small fixed part, which the tests make again (24 nights a season, 11 members)\n",
            table(TURF_HEAD, turf_rows(groups[HONEST])),
            "",
            table(
                GRASS_HEAD,
                [grass_row(name, some) for name, some in sorted(by_season(groups[HONEST]).items())],
            ),
            "",
            looks_line(groups[HONEST]),
            table(PRODUCT_HEAD, product_rows(groups[PRODUCTS])),
            "",
            table(NIGHT_HEAD, night_rows(evenings_of(groups[PRODUCTS])[USUAL])),
        ]
    )


def _archive(learnt: Mapping[str, Mapping[str, Sequence]]) -> list[str]:
    parts = []
    for kind, by_price in learnt.items():
        parts += [
            f"\n## Products on a real archive of forecasts, {kind} learning (costs in hundredths)\n",
            table(NIGHT_HEAD, night_rows(by_price[USUAL])),
            "\n" + earned_words(by_price[USUAL]),
        ]
    return parts


def _top(made_at: datetime) -> list[str]:
    def named(part: str) -> str:
        return ", ".join(f"{place} {year}" for place, year in years_of(part))  # type: ignore[arg-type]

    sources = "; ".join(f"{name}: {one['licence']}" for name, one in worth()["sources"].items())
    return [
        "# What the advice is worth\n",
        f"Made on {made_at:%Y-%m-%d} by `python tests/benchmarks/bench_worth.py --write`, version {VERSION}. "
        "The recipe: `tests/worth/`, places, years and seeds in `data/worth.toml`, forecasts made from the truth as "
        "`advisor/replay/made_forecast.py` says. The lawn is invented, three zones (`tests/worth/lawn.yaml`); its owner "
        "asks every evening, reads the gauge, does what is said and records it; at a look it asks again, so the rule that "
        "is printed with a look is never followed by its letter. By every way the soil is full on the first evening, and "
        "the owner knows it. The truth is the program's own balance "
        "with the true weather: what is measured is the deciding, not the soil model. Rivals know the true depletion "
        "every evening; ours works it out.\n",
        f"Judged on {named('judging')}; tuned, where a rival is tuned, on {named('tuning')}. The rain of New Zealand "
        f"is made; the two airports of New York lie 33 km apart, so together they are hardly more than one season. After ± "
        f"stands the standard error over seasons (place and year). Sources and licences: {sources}.\n",
    ]
