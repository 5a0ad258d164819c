"""Seasons lived again in plain text: what went badly first, then the tables. Computes nothing."""

from __future__ import annotations

from advisor.advice import (
    FamilyAtEqualUnmet,
    LawnReplayed,
    OwnSeason,
    ProductsCame,
    RecipeReplayed,
    Replayed,
    SeasonCame,
)
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.sentences import family_words, forecasts_words, give_or_take, way_words
from advisor.units import show
from advisor.wording import INVENTED, Say, long_day

GRASS = ("The grass", "Put on", "Still owed", "Short of", "Too dry", "Drained", "Runs a zone")
OTHERS = ("As well watered", "Water, owed too", "Than ours")
PRODUCTS = (
    "Products a season",
    "In time",
    "By rain",
    "Rain failed",
    "Needless",
    "Too much",
    "Water, owed too",
)
OWN = ("", "Put on", "With what is owed", "Cost of that", "Short of", "Runs")


def replay_text(says: dict[str, Say], told: Replayed, *, width: int, demo: bool = False) -> str:
    """All lawns for a terminal of `width` columns; `says` how each of them speaks, by name."""
    lines: list[str] = [INVENTED, ""] if demo else []
    for lawn in told.lawns:
        lines += _lawn(says[lawn.site], lawn, width)
    if told.failed:
        lines += ["Not worked out", *bullets([f"{one.key}: {one.why}" for one in told.failed], width), ""]
    for note in told.notes:
        lines += wrapped(note, width)
    return "\n".join(lines) + "\n"


def _lawn(say: Say, lawn: LawnReplayed, width: int) -> list[str]:
    title = f"{lawn.site}: {long_day(lawn.first)} to {long_day(lawn.last, year=True)}, evening by evening"
    lines = [*wrapped(title, width), *wrapped(f"True weather: {lawn.weather}.", width), ""]
    for one in lawn.recipes:
        lines += _recipe(say, one, width)
    return lines


def _recipe(say: Say, one: RecipeReplayed, width: int) -> list[str]:
    lines = [*wrapped(forecasts_words(one), width), ""]
    for head, bad in (("What went badly", True), ("What went well", False)):
        texts = [each.text for each in one.findings if each.bad is bad]
        lines += [head, *bullets(texts or ["nothing to tell"], width), ""]
    rows = [GRASS, _season(say, "Nothing put down", one.turf)]
    rows += [_season(say, "With your rounds", one.with_rounds)] if one.with_rounds is not None else []
    lines += columns(rows, "")
    lines += [*wrapped(_asked(one.turf), width), ""]
    lines += columns([OTHERS, *(_family(say, each) for each in one.at_equal_unmet)], "")
    if one.products:
        lines += ["", *columns([PRODUCTS, *(_product(say, each) for each in one.products)], "")]
    return [*lines, ""]


def _season(say: Say, head: str, came: SeasonCame) -> list[str]:
    return [
        head,
        give_or_take(say, came.water_mm),
        say.depth(came.owed_mm.mean),
        say.depth(came.unmet_mm.mean),
        f"{100.0 * came.days_past.mean:.0f} % of days",
        say.depth(came.drained_mm.mean),
        _number(came.runs.mean),
    ]


def _asked(came: SeasonCame) -> str:
    return (
        f"Looks at the gauge a season, with nothing put down: {_number(came.looks_by_day.mean)} by day, "
        f"{_number(came.looks_at_night.mean)} in hours of sleep. Without any advice: "
        f"{_number(came.refused.mean)} times."
    )


def _family(say: Say, one: FamilyAtEqualUnmet) -> list[str]:
    if one.water_mm is None or one.more_mm is None:
        return [family_words(one.family), f"leaves {say.depth(one.least_unmet_mm)} unmet", "never as well"]
    sign = "+" if one.more_mm.mean > 0 else "\N{MINUS SIGN}"
    if say.depth(abs(one.more_mm.mean)) == say.depth(0.0):
        sign = ""
    shown = one.more_mm.model_copy(update={"mean": abs(one.more_mm.mean)})
    return [family_words(one.family), say.depth(one.water_mm.mean), f"{sign}{give_or_take(say, shown)}"]


def _product(say: Say, one: ProductsCame) -> list[str]:
    counts = (one.by_rain, one.false_waits, one.needless, one.past_most)
    of = f"{_number(one.on_time)} of {_number(one.count)}"
    return [one.way, of, *map(_number, counts), give_or_take(say, one.water_mm)]


def _number(mean: float) -> str:
    return f"{mean:.1f}".removesuffix(".0")


def own_season_text(say: Say, own: OwnSeason, *, width: int, demo: bool = False) -> str:
    """The owner's own season."""
    lines = [f"{own.site}: your season"]
    lines += [INVENTED] if demo else []
    lines += ["", *bullets(own.sentences, width), ""]
    rows = [list(OWN)]
    for one in own.ways:
        whole = _water(say, one.litres + one.owed_litres, one.water_mm + one.owed_mm)
        cost = "" if one.cost_with_owed is None else f"{one.cost_with_owed:.2f}"
        put_on, short = _water(say, one.litres, one.water_mm), say.depth(one.unmet_mm)
        rows.append([way_words(one.way), put_on, whole, cost, short, _number(one.runs)])
    if all(one.cost_with_owed is None for one in own.ways):
        rows = [[*row[:3], *row[4:]] for row in rows]
    return "\n".join([*lines, *columns(rows, "")]) + "\n"


def _water(say: Say, litres: float, depth_mm: float) -> str:
    return f"{show(litres, 'volume', say.units, 0)} = {say.depth(depth_mm)}"
