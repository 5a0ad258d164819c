"""The table of what the advice is worth, as a page: claims first, those that do not hold before the others."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np
from worth.archive import Chance
from worth.plan import HONEST, PRODUCTS, TUNING
from worth.reckon import (
    Lived,
    Mean,
    Prices,
    at_equal_unmet,
    best_rule,
    cost_more,
    cost_of,
    mean_of,
    saved_share,
    sure,
    water_of,
    weather_of,
)

from advisor.replay.job import (
    BESIDE_DUTIES,
    BEST,
    CLOCK,
    CLOCK_RAIN_STOP,
    DEFICIT,
    DEFICIT_HALF,
    DEFICIT_MEDIAN,
)
from advisor.replay.made_forecast import RECIPES
from advisor.replay.past_nights import (
    ALWAYS,
    HALF,
    NEVER,
    OUR_DEPTH,
    OURS,
    PLAIN_RULES,
    USUAL,
    RuleCost,
    earned,
    rows_of,
)
from advisor.replay.scores import Scores

RIVALS = (DEFICIT_MEDIAN, DEFICIT_HALF, DEFICIT, CLOCK_RAIN_STOP, CLOCK)
TIMES = (1.0, 0.5, 2.0)
WANTED_SHARE = 0.5
WANTED_PAST = 0.01
Row = Sequence[object]


@dataclass(frozen=True, slots=True)
class Claim:
    """Something said of the program: whether it holds, by how much, and what was wanted."""

    words: str
    holds: bool
    found: str


def table(head: Row, rows: Iterable[Row]) -> str:
    """A table of the page."""
    lines = [
        "| " + " | ".join(str(cell) for cell in row) + " |" for row in (head, ["---"] * len(head), *rows)
    ]
    return "\n".join(lines)


def plain(value: float, digits: int = 1) -> str:
    """A number as it is printed."""
    return f"{value:.{digits}f}"


def pct(value: float) -> str:
    """A share as it is printed."""
    return f"{100 * value:.0f} %"


def shares(found: Mean) -> str:
    """A mean of shares as it is printed."""
    return pct(found.mean) if np.isnan(found.error) else f"{pct(found.mean)} ± {pct(found.error)}"


# The turf


def turf_rows(lived: Sequence[Lived]) -> list[Row]:
    """Ours, every family at our unmet demand, and the bound; the ones that use less than ours first."""
    rows: list[tuple[float, Row]] = []
    for family in (*RIVALS, BEST):
        its = at_equal_unmet(lived, family)
        with_runs = at_equal_unmet(lived, family, Prices().run).more
        rows.append((its.more.mean, (family, its.water, its.more, with_runs, its.unmet, its.runs, its.rules)))
    ours = [mean_of(lived, value) for value in (water_of, _unmet, lambda each: each.ours.runs)]
    rows.append((0.0, ("**ours**", ours[0], "–", "–", ours[1], ours[2], "")))
    return [row for _, row in sorted(rows, key=lambda each: each[0])]


def _unmet(each: Lived) -> float:
    return each.ours.grass.unmet_mm


TURF_HEAD = (
    "way of watering",
    "water mm",
    "more than ours mm",
    "the same, a run at 1 mm",
    "unmet mm",
    "runs a zone",
    "rules of its frontier",
)
GRASS_HEAD = (
    "seasons",
    "water mm",
    "unmet mm",
    "days past",
    "mm past a day",
    "drained mm",
    "ran off mm",
    "runs a zone",
    "looks by day",
    "looks 22–7 h",
    "moves by hand",
    "refused",
)


def grass_row(name: str, lived: Sequence[Lived]) -> Row:
    """What ours came to on these seasons."""

    def of(value: Callable[[Scores], float]) -> Mean:
        return mean_of(lived, lambda each: value(each.ours))

    by_day = of(lambda s: sum(s.looks[7:22]))
    by_night = of(lambda s: sum(s.looks) - sum(s.looks[7:22]))
    past = of(lambda s: s.grass.days_past)
    return (
        name,
        mean_of(lived, water_of),
        of(lambda s: s.grass.unmet_mm),
        shares(past),
        plain(of(lambda s: s.grass.past_mm).mean, 2),
        of(lambda s: s.grass.drained_mm),
        of(lambda s: s.grass.runoff_mm),
        of(lambda s: s.runs),
        plain(by_day.mean),
        plain(by_night.mean),
        plain(of(lambda s: float(s.hand_moves)).mean),
        plain(of(lambda s: float(s.refused)).mean, 0),
    )


def looks_line(lived: Sequence[Lived]) -> str:
    """Looks a season by the local hour of the day, the hours that have any."""
    by_hour = [mean_of(lived, lambda each, h=hour: float(each.ours.looks[h])).mean for hour in range(24)]
    told = ", ".join(f"{hour:02d}h {mean:.2g}" for hour, mean in enumerate(by_hour) if mean > 0)
    return f"Looks a season by the hour of the day: {told or 'none'}.\n"


def by_season(lived: Sequence[Lived]) -> dict[str, list[Lived]]:
    """The results by place and year."""
    found: dict[str, list[Lived]] = {}
    for each in lived:
        found.setdefault(f"{each.season[0]} {each.season[1]}", []).append(each)
    return found


def price_rows(lived: Sequence[Lived], tuning: Sequence[Lived]) -> tuple[list[Row], list[Claim]]:
    """What each family, by the rule that was best on the years for tuning, costs more than ours, at every price; and
    the claims that follow."""
    claims, rows = [], []
    for family in RIVALS:
        found: list[Mean] = []
        cells: list[object] = [family]
        for name, times in _variations():
            prices = replace(Prices(), **{name: getattr(Prices(), name) * times}) if name else Prices()
            rule = best_rule(tuning, family, prices)
            found.append(cost_more(lived, family, rule, prices))
            cells.append(f"{found[-1]} ({rule})")
        worst = min(found, key=lambda each: each.mean - sure(each.count) * each.error)
        holds = all(each.mean > sure(each.count) * each.error for each in found)
        claims.append(
            Claim(
                f"the turf costs less by ours than by the {family}, at every price",
                holds,
                f"least: {worst} mm more",
            )
        )
        rows.append((worst.mean, cells))
    return [row for _, row in sorted(rows, key=lambda each: each[0])], claims


def _variations() -> list[tuple[str, float]]:
    """The base, then half and double of each price."""
    return [("", 1.0), *((each.name, times) for each in fields(Prices) for times in (0.5, 2.0))]


def price_head() -> Row:
    """The columns of `price_rows`."""
    return ("family", *(f"{name} × {times:g}" if name else "usual prices" for name, times in _variations()))


# Products


def product_rows(lived: Sequence[Lived]) -> list[Row]:
    """What became of products by ours and by plain rules at our depth, the turf watered beside them."""
    ways: dict[str, list[Scores]] = {"**ours**": [each.ours for each in lived]}
    for rule in (ALWAYS, HALF, NEVER):
        ways[f"{rule}, {OUR_DEPTH}" if rule != NEVER else rule] = [
            each.result.duty_rules[rule] for each in lived
        ]
    rows = []
    for name, seasons in ways.items():
        count = sum(s.duties.count for s in seasons)

        def share(value: str, seasons: Sequence[Scores] = seasons, count: int = count) -> str:
            return pct(sum(getattr(s.duties, value) for s in seasons) / max(count, 1))

        water = np.mean([s.spent_mm for s in seasons])
        unmet = np.mean([s.grass.unmet_mm for s in seasons])
        parts = [share(value) for value in ("on_time", "by_rain", "needless", "false_waits", "past_most")]
        past = np.mean([s.grass.days_past for s in seasons])
        rows.append((name, count, *parts, plain(float(water)), plain(float(unmet)), pct(float(past))))
    return rows


PRODUCT_HEAD = (
    "way of deciding",
    "products × zones",
    "on time",
    "by rain alone",
    "watered though rain would do",
    "false waits",
    "past the most",
    "water mm",
    "turf unmet mm",
    "days past",
)
NIGHT_HEAD = ("way of deciding", "cost", "more than ours", "runs", "depth mm", "on time")


def night_rows(rows: Sequence[RuleCost]) -> list[Row]:
    """Ways of deciding on one evening, the cheapest first; costs in hundredths of a whole application."""
    return [
        (
            f"**{row.rule}**" if row.rule == OURS else row.rule,
            plain(100 * row.cost, 2),
            f"{100 * row.worse_by:+.2f} ± {100 * row.give_or_take:.2f}",
            pct(row.runs),
            plain(row.depth_mm),
            pct(row.on_time),
        )
        for row in sorted(rows, key=lambda each: each.cost)
    ]


def night_claims(name: str, by_price: Mapping[str, Sequence[RuleCost]]) -> list[Claim]:
    """For every plain rule: that it costs more than ours at every price of the judge."""
    claims = []
    for rule in PLAIN_RULES:
        found = {price: next(row for row in rows if row.rule == rule) for price, rows in by_price.items()}
        price, worst = min(
            found.items(), key=lambda each: each[1].worse_by - sure(each[1].groups) * each[1].give_or_take
        )
        holds = worst.worse_by > sure(worst.groups) * worst.give_or_take
        words = f"on {name}, `{rule}` costs more than ours, at every price"
        told = f"{100 * worst.worse_by:+.2f} ± {100 * worst.give_or_take:.2f} at {price}"
        claims.append(Claim(words, holds, told))
    return claims


# The page


def claims_of(groups: Mapping[str, Sequence[Lived]]) -> list[Claim]:
    """What is wanted of the turf's water, and what was found."""
    lived = groups[HONEST]
    found = []
    for run_mm in (0.0, Prices().run):
        share = saved_share(lived, DEFICIT, BEST, run_mm)
        counted = " with a run at 1 mm" if run_mm else ""
        words = (
            f"at equal demand unmet ours goes half of the way from a deficit rule without forecast to perfect "
            f"foresight{counted}"
        )
        found.append(Claim(words, share.mean >= WANTED_SHARE, f"{share.mean:.2f} ± {share.error:.2f}"))
    past = mean_of(lived, lambda each: each.ours.grass.days_past)
    found.append(
        Claim(
            "the allowance is passed on at most 1 % of days",
            past.mean <= WANTED_PAST,
            shares(past),
        )
    )
    return found


def chance_rows(chances: Sequence[Chance]) -> list[Row]:
    """Chances of rain on the archive, those that do no better than climatology first."""
    rows = sorted(chances, key=lambda each: each.climatology - each.brier)
    return [
        (
            each.way,
            f"{each.threshold_mm:g}",
            plain(each.brier, 3),
            plain(each.climatology, 3),
            plain(each.miss, 3),
        )
        for each in rows
    ]


CHANCE_HEAD = ("chance by", "mm", "Brier", "climatology's Brier", "average miss")


def claim_rows(claims: Sequence[Claim]) -> list[Row]:
    """Those that do not hold first."""
    ordered = sorted(claims, key=lambda each: each.holds)
    return [("yes" if each.holds else "**no**", each.words, each.found) for each in ordered]


def turf_page(groups: Mapping[str, Sequence[Lived]]) -> tuple[list[str], list[Claim]]:
    """The part of the page about the turf."""
    lived = groups[HONEST]
    rows, claims = price_rows(lived, groups[TUNING])
    seasons = by_season(lived)
    parts = [
        "## The turf, at equal demand unmet\n",
        "Gross water of a season with what the soil is left short of at its end; forecasts honest, ten seeds. Of each "
        "family the mixture of rules is chosen afterwards, on these very seasons, which flatters the rivals.\n",
        table(TURF_HEAD, turf_rows(lived)),
        "\n## What our seasons came to\n",
        table(
            GRASS_HEAD,
            [
                *(grass_row(name, some) for name, some in sorted(seasons.items(), key=_most_past)),
                grass_row("**all**", lived),
            ],
        ),
        "\n" + looks_line(lived),
        "\n## What each rival costs more than ours, its rule chosen on other years\n",
        "In mm of water a season: water, 3 a mm unmet, 1 a run of a zone, 0.5 a look by day and 3 by night.\n",
        table(price_head(), rows),
    ]
    others = [name for name in groups if name not in (HONEST, TUNING, PRODUCTS)]
    parts += [
        "\n## Other forecasts, dials and rules (one seed, fewer seasons)\n",
        "Saved: the share of the way from a deficit rule without forecast to perfect foresight.\n",
        table(
            (*GRASS_HEAD, "saved"),
            sorted(map(partial(_other, groups), [HONEST, *others]), key=lambda row: float(str(row[-1]))),
        ),
    ]
    return parts, [*claims_of(groups), *claims]


def _most_past(named: tuple[str, Sequence[Lived]]) -> float:
    return -mean_of(named[1], lambda each: each.ours.grass.days_past).mean


def _other(groups: Mapping[str, Sequence[Lived]], name: str) -> tuple[object, ...]:
    few = {each.season for each in groups["perfect"]} if "perfect" in groups else set()
    lived = [each for each in groups[name] if not few or (each.season in few and each.seed == 1)]
    label = f"forecast {name}" if name in RECIPES else name
    return (*grass_row(label, lived), plain(saved_share(lived, DEFICIT, BEST).mean, 2))


def product_page(groups: Mapping[str, Sequence[Lived]]) -> list[str]:
    """The part of the page about products in whole seasons."""
    lived = groups[PRODUCTS]
    answers: dict[str, int] = {}
    for each in lived:
        for answer, count in each.result.answers.items():
            answers[str(answer)] = answers.get(str(answer), 0) + count
    first = ", ".join(f"{answer} {count}" for answer, count in sorted(answers.items()))
    best = [(family, best_rule(groups[TUNING], family, Prices())) for family in RIVALS]
    cheapest = min(best, key=lambda each: cost_of(groups[TUNING], *each, Prices()))
    beside = (
        f"Beside rules for products the turf is watered by the {DEFICIT_MEDIAN}, {BESIDE_DUTIES.names[0]}; the "
        f"cheapest rule on the years for tuning, at the usual prices, is the {', '.join(cheapest)}.\n"
    )
    return [
        "\n## Products in whole seasons\n",
        f"The first answers of ours: {first}. Beside products each way waters the turf by another rule, so water can be "
        "compared only where the turf goes equally short.\n",
        table(PRODUCT_HEAD, product_rows(lived)),
        "\n" + beside,
        looks_line(lived),
        "\n## Products, evening by evening, at the usual prices (costs in hundredths of a whole application)\n",
        table(NIGHT_HEAD, night_rows(evenings_of(lived)[USUAL])),
        "\n" + earned_words(evenings_of(lived)[USUAL]),
    ]


def evenings_of(lived: Sequence[Lived]) -> dict[str, tuple[RuleCost, ...]]:
    """The evenings of products of these seasons, at each of the judge's prices."""
    return {
        price: rows_of(
            [one for each in lived for one in each.result.nights[price]],
            [weather_of(each.season) for each in lived for _ in each.result.nights[price]],
        )
        for price in lived[0].result.nights
    }


def earned_words(rows: Sequence[RuleCost]) -> str:
    """What the depth, the waiting and the looking each earned."""
    by = {name: f"{100 * value:+.2f}" for name, value in earned(rows).items()}
    return (
        f"The depth earns {by['depth']}, the waiting {by['waiting']} and the looking {by['looking']} hundredths of an "
        "application an evening."
    )
