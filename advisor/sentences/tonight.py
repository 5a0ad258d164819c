"""The sentences of tonight's advice, each made from one reason and its numbers.

Short sentences, each with its number, so that a zone is understood in half a minute. Two that belong
together (an ask and the chance that rain brings it) are one reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime

from advisor.advice import LookKind, NextLook, PlannedRun, Reason, ReasonKind
from advisor.sentences.runs import run_words
from advisor.sentences.unknowns import UNKNOWNS
from advisor.sentences.watering_in import need_words
from advisor.wording import Say, listed, long_day, minutes, verb

Kind = ReasonKind
EVENING_H = 16
"""From this local hour on "this evening" is now."""


def told(say: Say, reason: Reason) -> Reason:
    """The same reason with its sentence."""
    return reason if reason.text else reason.model_copy(update={"text": sentence(say, reason)})


def all_told(say: Say, reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The same reasons, each with its sentence."""
    return tuple(told(say, reason) for reason in reasons)


def joined(reasons: Iterable[Reason]) -> str:
    """The sentences of reasons that have them, one after another."""
    return " ".join(reason.text for reason in reasons if reason.text)


def sentence(say: Say, reason: Reason) -> str:
    """A reason in the owner's units and local time."""
    return SENTENCES[reason.kind](say, reason)


def _mm(say: Say, value: float | None) -> str:
    return say.depth(value or 0.0)


def _at(say: Say, when: datetime | None) -> str:
    return "" if when is None else say.clock(when)


def _by(say: Say, when: datetime | None) -> str:
    return "" if when is None else say.part_of_day(when)


def _share(say: Say, chance: float | None) -> str:
    return say.chance(chance or 0.0)


def _run(reason: Reason) -> str:
    return minutes(reason.minutes or 0.0)


def _day(reason: Reason) -> str:
    return "" if reason.day is None else long_day(reason.day)


# --- zones ---------------------------------------------------------------------------------------


def _used(say: Say, r: Reason) -> str:
    depth, allowed = _mm(say, r.depth_mm), _mm(say, r.of_mm)
    if r.low_mm is None or r.high_mm is None:
        return f"The grass has used {depth}; {allowed} is its allowance."
    used, of = r.depth_mm or 0.0, r.of_mm or 0.0
    may = ""
    if used <= of < r.high_mm:
        may = ", which may be used up already"
    elif r.low_mm <= of < used:
        may = ", which may not be used up yet"
    return (
        f"The grass has probably used about {depth}, but it may be {say.span(r.low_mm, r.high_mm)}; "
        f"{allowed} is its allowance{may}."
    )


def _left_alone(say: Say, r: Reason) -> str:
    within = "still within it"
    if r.high_mm is not None and r.high_mm > (r.of_mm or 0.0):
        within += " if that is right"
    past = f"past the allowance with a chance of {_share(say, r.chance)}" if r.chance else within
    return f"Left alone it would be at {_mm(say, r.depth_mm)} by {_by(say, r.until)}, {past}."


def _brings_back(say: Say, r: Reason) -> str:
    return (
        f"That is past it, but rain is expected to bring it back to {_mm(say, r.depth_mm)} by {_by(say, r.until)} "
        f"(chance of staying past it {_share(say, r.chance)})."
    )


def _too_little(say: Say, r: Reason) -> str:
    return (
        f"What it would go short of by {_by(say, r.until)}, {_mm(say, r.depth_mm)}, is too little to be worth a "
        "run."
    )


def _puts_back(say: Say, r: Reason) -> str:
    return f"The run puts back {_mm(say, r.depth_mm)}."


def _puts_back_a_part(say: Say, r: Reason) -> str:
    on = f" for {_day(r)}" if r.day else ""
    return (
        f"The run puts back {_mm(say, r.depth_mm)} of the {_mm(say, r.of_mm)}; "
        f"no more fits tonight, the rest waits{on}."
    )


def _capped(_: Say, r: Reason) -> str:
    return f"More would carry off {listed(r.products)}."


def _waters_in(say: Say, r: Reason) -> str:
    return f"The run waters in {listed(r.products)} with {_mm(say, r.depth_mm)}."


def _waters_in_too(_: Say, r: Reason) -> str:
    return f"It waters in {listed(r.products)} as well."


def _cools(say: Say, r: Reason) -> str:
    return (
        f"At {_at(say, r.at)} {_run(r)} ({_mm(say, r.depth_mm)}) cool the grass in the heat, for minutes only; "
        "that is no watering of the roots."
    )


def _no_hours(_: Say, r: Reason) -> str:
    return (
        "No allowed hours of the coming nights are long enough to run this zone: only rain can water in "
        f"{listed(r.products)}."
    )


def _watered_in_later(say: Say, r: Reason) -> str:
    return f"What was put down is watered in later: the first chance is {_at(say, r.at)}."


def _gauge_decides(_: Say, r: Reason) -> str:
    return f"Rain may yet water in {listed(r.products)}: the look at the gauge decides."


def _rain_fills(say: Say, r: Reason) -> str:
    return f"Rain is likely to fill the soil: a run would find room for only {_mm(say, r.depth_mm)}."


def _products_to_rain(_: Say, r: Reason) -> str:
    return f"{listed(r.products)} {verb(r.products)} left to the rain."


ITS_RUN = {
    Kind.RUN_UNDER_WAY: "is under way, as advised",
    Kind.RUN_STANDS: "stands, as advised: it begins too soon to be changed",
    Kind.RUN_TAKEN_AS_MADE: "is taken as made, as advised",
}


def _its_run(say: Say, r: Reason) -> str:
    return f"Its run from {_at(say, r.at)} to {_at(say, r.until)} {ITS_RUN[r.kind]}."


# --- applications --------------------------------------------------------------------------------


def _washed_while_dry(say: Say, r: Reason) -> str:
    return (
        f"Probably washed off: {_mm(say, r.depth_mm)} of water fell while it had to stay dry. "
        "Follow the label before you repeat it."
    )


def _wetted(say: Say, r: Reason) -> str:
    return f"{_mm(say, r.depth_mm)} of water fell while it had to stay dry; it may work less."


def _keep_dry_until(say: Say, r: Reason) -> str:
    return f"Keep dry until {_at(say, r.until)}."


def _no_run_before(say: Say, r: Reason) -> str:
    return f"Keep dry until {_at(say, r.until)}: no run is planned on this zone before then."


def _watered(say: Say, r: Reason) -> str:
    return f"Watered in: {_mm(say, r.depth_mm)} of at least {_mm(say, r.of_mm)}."


def _more_than_it_bears(say: Say, r: Reason) -> str:
    return (
        f"That is {_mm(say, r.depth_mm)} more than it bears: some of it was probably carried away. "
        "Do not repeat it at once; the label says when."
    )


def _keep_moist(_: Say, r: Reason) -> str:
    return (
        f"Keep it moist with {r.count} light runs a day for {r.days or 0:g} days. "
        "There is nothing to water in."
    )


def _need(say: Say, r: Reason) -> str:
    return "" if r.need is None else need_words(r.need, say.units)


def _need_explained(say: Say, r: Reason) -> str:
    words = _need(say, r)
    return f"{words[:1].upper()}{words[1:]}."


def _run_waters_it_in(say: Say, r: Reason) -> str:
    return f"Tonight's run at {_at(say, r.at)} waters it in ({_run(r)})."


def _look_and_run(say: Say, r: Reason) -> str:
    return (
        f"Wait, and look at the gauge at {_at(say, r.at)}: under {_mm(say, r.depth_mm)} since "
        f"{say.clock(say.now)}, run {listed(r.zones)} {_run(r)}."
    )


def _brings_a_part(say: Say, r: Reason) -> str:
    return f"Tonight's run brings {_mm(say, r.depth_mm)} of the {_mm(say, r.of_mm)} it still needs."


def _needs_not_tonight(say: Say, r: Reason) -> str:
    waits = f" It waits for {_day(r)}." if r.day else ""
    return (
        f"It needs {_mm(say, r.depth_mm)} from the sprinklers ({_run(r)}), and that does not fit tonight. "
        f"{r.other}{waits}"
    )


def _needs_later(say: Say, r: Reason) -> str:
    return (
        f"It needs {_mm(say, r.depth_mm)} from the sprinklers ({_run(r)}); "
        f"the first chance is {_at(say, r.at)}."
    )


def _had_so_far(say: Say, r: Reason) -> str:
    return f"It has had {_mm(say, r.depth_mm)} so far, short by {_mm(say, r.of_mm)}."


def _had_in_one_go(say: Say, r: Reason) -> str:
    return f"It has had {_mm(say, r.depth_mm)} at most in one go, and needs {_mm(say, r.of_mm)} in one go."


def _chance_of_rain(say: Say, r: Reason) -> str:
    return (
        f"Chance that rain alone brings {_mm(say, r.of_mm)} by {_at(say, r.until)}: {_share(say, r.chance)}; "
        f"{_mm(say, r.depth_mm)} expected ({say.span(r.low_mm or 0.0, r.high_mm or 0.0)} in 8 of 10 cases)."
    )


def _chance_on_it(say: Say, r: Reason) -> str:
    return (
        f"Chance of {_mm(say, r.depth_mm)} of rain or more while it must stay dry: {_share(say, r.chance)}."
    )


def _ran_off(say: Say, r: Reason) -> str:
    return (
        f"{_mm(say, r.depth_mm)} of a hard shower ran off and counts for nothing; "
        "some of the product may have gone with it."
    )


def _too_much_chance(say: Say, r: Reason) -> str:
    return (
        f"Chance of more than {_mm(say, r.depth_mm)}, which would carry some away: {_share(say, r.chance)}."
    )


def _other_stays_dry(say: Say, r: Reason) -> str:
    return (
        f"{r.other} must stay dry on {listed(r.zones)} until {_at(say, r.until)}, and that wins: it would be "
        f"washed off for good, while {listed(r.products)} keeps most of its worth when its water comes later."
    )


def _no_hour_before_due(say: Say, r: Reason) -> str:
    first = "" if r.at is None else f"; the first chance to run is {_at(say, r.at)}"
    return f"No allowed hour is left to run it before it is due at {_at(say, r.until)}{first}."


def _others_wait(_: Say, r: Reason) -> str:
    return (
        f"{listed(r.products)} on {listed(r.zones)} {verb(r.products, 'waits', 'wait')} for water until then: "
        "staying dry wins."
    )


def _who_wins(say: Say, r: Reason) -> str:
    """`products` are the one that needs more and, after it, the one that bears less."""
    more, less = r.products
    clash = f"{more} still needs {_mm(say, r.depth_mm)}, more than the {_mm(say, r.of_mm)} that {less} bears"
    if r.kind == Kind.DEEPER_WINS:
        return f"{clash}: {more} wins, as leaving it short would cost more."
    return f"{clash}: {less} wins, as losing it would cost more; {more} gets what that leaves room for."


# --- steps ---------------------------------------------------------------------------------------

ALARMS = {
    Kind.ALARM_HARMS_SEED: "{} can stop or kill grass that comes up from seed there: read the label now.",
    Kind.ALARM_MAY_NOT_GROW: "{} may not grow: what lies there stops seed.",
    Kind.ALARM_WASHED: "{} {was} probably washed off.",
    Kind.ALARM_WETTED: "{} got wet while {it} had to stay dry, and may fail.",
    Kind.ALARM_TOO_MUCH_WATER: "{} got more water than {it} {bears}: some is probably carried away.",
    Kind.ALARM_TOO_MUCH_RAIN: "Too much rain is expected for {} (chance {chance}): some may be carried away.",
    Kind.ALARM_RAIN_ON_IT: "Rain will probably fall on {} while {it} must stay dry (chance {chance}).",
}


def _alarm(say: Say, r: Reason) -> str:
    """`products` and `zones` side by side: which lies where."""
    many = len(set(r.products)) > 1
    return ALARMS[r.kind].format(
        on_zones(zip(r.products, r.zones, strict=True)),
        was="were" if many else "was",
        it="they" if many else "it",
        bears="bear" if many else "bears",
        chance=_share(say, r.chance),
    )


def on_zones(pairs: Iterable[tuple[str, str]]) -> str:
    """Products and where they lie: A and B on Front and Back, and C on Side."""
    by_zone: dict[str, list[str]] = {}
    for product, zone in pairs:
        by_zone.setdefault(zone, []).append(product)
    zones: dict[tuple[str, ...], list[str]] = {}
    for zone, names in by_zone.items():
        zones.setdefault(tuple(dict.fromkeys(names)), []).append(zone)
    return listed(f"{listed(names)} on {listed(where)}" for names, where in zones.items())


def _under_way(say: Say, r: Reason) -> str:
    return f"{listed(r.zones)} {verb(r.zones)} under way until {_at(say, r.until)}."


def _stands(say: Say, r: Reason) -> str:
    return f"{listed(r.zones)} {verb(r.zones, 'runs', 'run')} from {_at(say, r.at)} as advised before."


def _empty(say: Say, _: Reason) -> str:
    when = "this evening" if say.now.astimezone(say.zone).hour >= EVENING_H else "now"
    return f"Empty the gauge {when}."


def _does_not_fit(_: Say, r: Reason) -> str:
    return f"{listed(r.zones)} wanted water that does not fit tonight: see below."


def _needs_nothing(_: Say, r: Reason) -> str:
    return f"{listed(r.zones)} {verb(r.zones, 'needs', 'need')} nothing."


def _keep_zones_dry(say: Say, r: Reason) -> str:
    return f"Keep {listed(r.zones)} dry until {_at(say, r.until)}."


def run_step(say: Say, runs: Sequence[PlannedRun]) -> str:
    """The runs that are to be made in any case."""
    return f"Run {listed(run_words(say, run) for run in runs)}."


def look_step(say: Say, look: NextLook, runs: Mapping[str, PlannedRun]) -> str:
    """One look that decides runs; `runs` the planned ones by zone."""
    act = listed(
        run_words(say, runs[zone]) if zone in runs else f"{zone} {minutes(took)}"
        for zone, took in look.minutes.items()
    )
    return f"Look at it at {say.clock(look.at)}: under {say.depth(look.under_mm or 0.0)}, run {act}."


# --- looks ---------------------------------------------------------------------------------------


def look_words(say: Say, look: NextLook) -> str:
    """The rule for one look."""
    if look.kind == LookKind.GAUGE:
        runs = listed(f"{zone} {minutes(took)}" for zone, took in look.minutes.items())
        return (
            f"Look at the gauge at {say.clock(look.at)}: under {say.depth(look.under_mm or 0.0)} since "
            f"{say.clock(say.now)}, run {runs}."
        )
    if look.kind == LookKind.SKIP:
        return (
            f"If more than {say.depth(look.over_mm or 0.0)} falls before {say.clock(look.at)}, "
            f"skip {listed(look.zones)}."
        )
    today = look.at.astimezone(say.zone).date() == say.now.astimezone(say.zone).date()
    return f"Ask again {'this' if today else 'tomorrow'} evening, {say.clock(look.at)}."


# --- changes -------------------------------------------------------------------------------------


def _verdict_changed(say: Say, r: Reason) -> str:
    return f"{listed(r.zones)}: now “{r.now_word}”, at {_at(say, r.at)} it was “{r.before_word}”."


def _minutes_changed(say: Say, r: Reason) -> str:
    return f"{listed(r.zones)}: now {_run(r)}, at {_at(say, r.at)} it was {minutes(r.before_minutes or 0.0)}."


def _action_changed(say: Say, r: Reason) -> str:
    return (
        f"{listed(r.products)} on {listed(r.zones)}: now “{r.now_word}”, at {_at(say, r.at)} "
        f"it was “{r.before_word}”."
    )


def _rain_changed(say: Say, r: Reason) -> str:
    return (
        f"Rain expected tonight: now {_mm(say, r.depth_mm)}, at {_at(say, r.at)} it was {_mm(say, r.of_mm)}."
    )


SENTENCES: Mapping[ReasonKind, Callable[[Say, Reason], str]] = {
    Kind.USED: _used,
    Kind.LEFT_ALONE: _left_alone,
    Kind.RAIN_BRINGS_BACK: _brings_back,
    Kind.TOO_LITTLE_FOR_A_RUN: _too_little,
    Kind.PUTS_BACK: _puts_back,
    Kind.PUTS_BACK_A_PART: _puts_back_a_part,
    Kind.CAPPED: _capped,
    Kind.WATERS_IN: _waters_in,
    Kind.WATERS_IN_TOO: _waters_in_too,
    Kind.SEED_KEPT_MOIST: lambda _say, _r: "Seed kept moist.",
    Kind.COOLS_AT_MIDDAY: _cools,
    Kind.NOT_PLANNED: lambda _, r: r.other,
    Kind.NO_HOURS: _no_hours,
    Kind.WATERED_IN_LATER: _watered_in_later,
    Kind.GAUGE_DECIDES: _gauge_decides,
    Kind.RAIN_FILLS_THE_SOIL: _rain_fills,
    Kind.PRODUCTS_LEFT_TO_RAIN: _products_to_rain,
    Kind.RUN_UNDER_WAY: _its_run,
    Kind.RUN_STANDS: _its_run,
    Kind.RUN_TAKEN_AS_MADE: _its_run,
    Kind.WASHED_OFF_WHILE_DRY: _washed_while_dry,
    Kind.WASHED_AWAY: lambda _say, _r: (
        "Probably washed away by heavy rain soon after it went down. Follow the label before you repeat it."
    ),
    Kind.WETTED_WHILE_DRY: _wetted,
    Kind.KEEP_DRY_UNTIL: _keep_dry_until,
    Kind.NO_RUN_BEFORE_THEN: _no_run_before,
    Kind.WATERED_IN: _watered,
    Kind.NOTHING_MORE: lambda _say, _r: "Nothing more to do.",
    Kind.MORE_THAN_IT_BEARS: _more_than_it_bears,
    Kind.KEEP_MOIST: _keep_moist,
    Kind.NOTHING_TO_WATER_IN: lambda say, r: f"Nothing to water in: {_need(say, r)}.",
    Kind.OVERDUE: lambda _say, _r: "Overdue.",
    Kind.RUN_WATERS_IT_IN: _run_waters_it_in,
    Kind.LOOK_AND_RUN: _look_and_run,
    Kind.RUN_BRINGS_A_PART: _brings_a_part,
    Kind.REST_TO_RAIN: lambda _say, _r: "The rest is left to the rain.",
    Kind.NEEDS_NOT_TONIGHT: _needs_not_tonight,
    Kind.NEEDS_LATER: _needs_later,
    Kind.TOO_MUCH_RAIN_COMES: lambda _say, _r: "Too much rain is expected: run nothing, and leave it.",
    Kind.ONLY_RAIN: lambda _say, _r: (
        "Rain is the only way: no allowed hours of the coming nights are long enough to run this zone."
    ),
    Kind.NOT_WORTH_A_RUN: lambda _say, _r: "Leave it: a run would cost more than it saves.",
    Kind.LEFT_TO_RAIN: lambda _say, _r: "Leave it to the rain.",
    Kind.HAD_SO_FAR: _had_so_far,
    Kind.HAD_IN_ONE_GO: _had_in_one_go,
    Kind.CHANCE_OF_RAIN: _chance_of_rain,
    Kind.NEED_EXPLAINED: _need_explained,
    Kind.CHANCE_OF_RAIN_ON_IT: _chance_on_it,
    Kind.RAN_OFF: _ran_off,
    Kind.ONE_GO: lambda _say, _r: "Light showers do not add up: it wants its water in one go.",
    Kind.CHANCE_OF_TOO_MUCH: _too_much_chance,
    Kind.FORECAST_COVERS: lambda say, r: (
        f"The forecast covers {_share(say, r.chance)} of the time until it is due."
    ),
    Kind.OTHER_STAYS_DRY: _other_stays_dry,
    Kind.WAS_DUE: lambda say, r: f"It was due at {_at(say, r.at)}; no allowed hour was left before then.",
    Kind.NO_HOUR_BEFORE_DUE: _no_hour_before_due,
    Kind.OTHERS_WAIT: _others_wait,
    Kind.DEEPER_WINS: _who_wins,
    Kind.SHALLOWER_WINS: _who_wins,
    **dict.fromkeys(ALARMS, _alarm),
    Kind.UNDER_WAY: _under_way,
    Kind.STANDS: _stands,
    Kind.RUN_TONIGHT: lambda _, r: r.text,
    Kind.EMPTY_THE_GAUGE: _empty,
    Kind.LOOK_AT_THE_GAUGE: lambda _, r: r.text,
    Kind.DOES_NOT_FIT: _does_not_fit,
    Kind.LEAVE_TO_RAIN: lambda _, r: f"Leave {listed(r.zones)} to the rain.",
    Kind.NEEDS_NOTHING: _needs_nothing,
    Kind.KEEP_DRY: _keep_zones_dry,
    Kind.NOTHING_TONIGHT: lambda _say, _r: "Nothing to water tonight.",
    Kind.VERDICT_CHANGED: _verdict_changed,
    Kind.MINUTES_CHANGED: _minutes_changed,
    Kind.ACTION_CHANGED: _action_changed,
    Kind.EXPECTED_RAIN_CHANGED: _rain_changed,
    Kind.WEATHER_LACKS: lambda _, r: r.text,
    **UNKNOWNS,
    Kind.KEPT_BEFORE: lambda _, r: r.text,
}
"""The sentence of every kind of reason."""
