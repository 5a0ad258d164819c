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
    Spread,
)
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.sentences import family_words, forecasts_words, give_or_take, way_words
from advisor.units import show
from advisor.wording import INVENTED, Say, long_day

GRASS = ("The grass", "Put on", "Still owed", "Short of", "Too dry", "Drained", "Runs a zone")
OTHERS = ("As well watered", "Water, owed too", "Than ours")
LOOKS = ("A season", "Looks by day", "In hours of sleep", "Moves by hand", "No advice")
PRODUCTS = ("Products a season", "In time", "By rain", "Rain failed", "Needless", "Too much")
BESIDE = ("The turf beside them", "Water, owed too", "Short of", "Too dry")
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
    for head, bad, good in (
        ("What went badly", True, False),
        ("What went well", False, True),
        ("Neither good nor bad", False, False),
    ):
        texts = [each.text for each in one.findings if (each.bad, each.good) == (bad, good)]
        if texts or bad or good:
            lines += [head, *bullets(texts or ["nothing to tell"], width), ""]
    seasons = [("Nothing put down", one.turf)]
    seasons += [("With your rounds", one.with_rounds)] if one.with_rounds is not None else []
    lines += [*columns([GRASS, *(_season(say, *each) for each in seasons)], ""), ""]
    lines += columns([LOOKS, *(_asked(*each) for each in seasons)], "")
    for head, came in seasons:
        lines += wrapped(_by_hour(head, came), width)
    lines += ["", *columns([OTHERS, *(_family(say, each) for each in one.at_equal_unmet)], "")]
    if any(each.count for each in one.products):
        lines += ["", *columns([PRODUCTS, *map(_product, one.products)], "")]
        lines += ["", *columns([BESIDE, *(_turf_beside(say, each) for each in one.products)], "")]
    return [*lines, ""]


def _season(say: Say, head: str, came: SeasonCame) -> list[str]:
    return [
        head,
        give_or_take(say, came.water_mm),
        say.depth(came.owed_mm.mean),
        say.depth(came.unmet_mm.mean),
        _days(came.days_past),
        say.depth(came.drained_mm.mean),
        _number(came.runs.mean),
    ]


def _asked(head: str, came: SeasonCame) -> list[str]:
    counts = (came.looks_by_day, came.looks_at_night, came.hand_moves, came.refused)
    return [head, *(_number(each.mean) for each in counts)]


def _by_hour(head: str, came: SeasonCame) -> str:
    hours = ", ".join(f"{hour:02d}h {mean:.2g}" for hour, mean in enumerate(came.looks_by_hour) if mean > 0)
    return f"{head}, looks by the hour: {hours}." if hours else ""


def _family(say: Say, one: FamilyAtEqualUnmet) -> list[str]:
    if one.water_mm is None or one.more_mm is None:
        return [family_words(one.family), f"leaves {say.depth(one.least_unmet_mm)} unmet", "never as well"]
    sign = "+" if one.more_mm.mean > 0 else "\N{MINUS SIGN}"
    if say.depth(abs(one.more_mm.mean)) == say.depth(0.0):
        sign = ""
    shown = one.more_mm.model_copy(update={"mean": abs(one.more_mm.mean)})
    return [family_words(one.family), say.depth(one.water_mm.mean), f"{sign}{give_or_take(say, shown)}"]


def _product(one: ProductsCame) -> list[str]:
    counts = (one.by_rain, one.false_waits, one.needless, one.past_most)
    of = f"{_number(one.on_time)} of {_number(one.count)}"
    return [one.way, of, *map(_number, counts)]


def _turf_beside(say: Say, one: ProductsCame) -> list[str]:
    return [one.way, give_or_take(say, one.water_mm), give_or_take(say, one.unmet_mm), _days(one.days_past)]


def _days(share: Spread) -> str:
    return f"{100.0 * share.mean:.0f} % of days"


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
