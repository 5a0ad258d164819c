"""The sentences of the answer to "will the rain do it?": each way, and one act a zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.advice import Action, Alarm, ApplicationAdvice, Option, PlannedRun, ReasonKind, RunPurpose
from advisor.sentences.runs import length_words
from advisor.wording import Say, listed, long_day, minutes


def option_words(say: Say, option: Option, zone: str, planned: PlannedRun | None) -> str:
    """One way in words; `planned` is the run that tonight's plan makes in any case, where it waters this in."""
    run = f"run {zone} {minutes(option.minutes)} for {say.depth(option.top_up_mm)}"
    if option.action == Action.RAIN:
        return "leave it to the rain"
    if option.look_at is not None and option.under_mm is not None:
        return (
            f"look at {say.clock(option.look_at)}: under {say.depth(option.under_mm)} since "
            f"{say.clock(say.now)}, {run}"
        )
    if planned is not None:
        return (
            f"run {zone} {length_words(planned)} for {say.depth(planned.effective_mm)} at "
            f"{say.clock(planned.cycles[0].starts_at)}, as planned tonight"
        )
    if option.starts_at is None:
        return f"{run}; it does not fit tonight"
    return f"{run} at the first chance, {say.clock(option.starts_at)}"


def nothing_asked() -> str:
    """The headline where nothing is open."""
    return "Nothing that was put down asks anything of water now."


def not_now(
    say: Say, asked: Sequence[ApplicationAdvice], *, is_past: bool, limits: tuple[float, float]
) -> str:
    """Why something only asked about had better not go down, "" where nothing speaks against it.

    `limits` are the largest chances that are taken of rain while it must stay dry, and of too much rain.
    """
    told = []
    alarms = {alarm for one in asked for alarm in one.alarms}
    if Alarm.HARMS_SEED in alarms:
        told.append("it can stop or kill grass that comes up from seed there")
    if Alarm.MAY_NOT_GROW in alarms:
        told.append("what lies there may keep it from growing")
    wet = max((o.chance_wet for o in asked if o.chance_wet is not None), default=0.0)
    if wet > limits[0]:
        told.append(f"the chance of rain while it must stay dry is {say.chance(wet)}")
    much = max((o.chance_too_much for o in asked if o.chance_too_much is not None), default=0.0)
    if much > limits[1]:
        told.append(f"the chance of more rain than it bears is {say.chance(much)}")
    if not told:
        return ""
    lead = "It should not have gone down then" if is_past else "Do not put it down now"
    return f"{lead}: {'; '.join(told)}."


def acts(say: Say, asked: Sequence[ApplicationAdvice], runs: Mapping[str, PlannedRun]) -> str:
    """One act a zone, zones that do the same together; `runs` the firm ones of tonight by zone."""
    by_zone: dict[str, list[ApplicationAdvice]] = {}
    for one in asked:
        by_zone.setdefault(one.zone, []).append(one)
    told: dict[str, list[str]] = {}
    for zone, those in by_zone.items():
        told.setdefault(_act(say, those, runs.get(zone)), []).append(zone)
    return "; ".join(f"{listed(zones)}: {act}" for act, zones in told.items()) + "."


def _act(say: Say, those: Sequence[ApplicationAdvice], run: PlannedRun | None) -> str:
    """The one thing to do on a zone for all that lies on it."""
    actions = {o.action for o in those}
    dry = max((o.dry_until for o in those if o.action == Action.KEEP_DRY and o.dry_until), default=None)
    asks = [o for o in those if o.options]
    told = [] if dry is None else [f"keep it dry until {say.clock(dry)}"]
    if Action.RUN in actions or (dry is not None and any(o.action == Action.KEEP_DRY for o in asks)):
        told += _runs(say, asks, run)
    elif Action.WAIT in actions:
        at = min((w.look_at for o in asks for w in o.options if w.look_at is not None), default=None)
        told.append("wait and look again" + ("" if at is None else f" at {say.clock(at)}"))
    elif Action.RAIN in actions:
        told.append(_left(asks, run))
    elif Action.KEEP_MOIST in actions:
        told.append("keep it moist with light runs")
    return ", then ".join(told) if told else "nothing to do"


def _left(asks: Sequence[ApplicationAdvice], run: PlannedRun | None) -> str:
    if all(way.action != Action.RUN for one in asks for way in one.options):
        return "only rain can water it in, no allowed hours are long enough"
    if run is not None and run.why != RunPurpose.COOL:
        return "leave the rest to the rain after tonight's run"
    return "leave it to the rain"


def _runs(say: Say, asks: Sequence[ApplicationAdvice], run: PlannedRun | None) -> list[str]:
    if run is not None:
        return [f"run it at {say.clock(run.cycles[0].starts_at)}"]
    unfit = [r for o in asks for r in o.reasons if r.kind == ReasonKind.NEEDS_NOT_TONIGHT]
    if unfit:
        waits = min((r.day for r in unfit if r.day is not None), default=None)
        then = "" if waits is None else f", it waits for {long_day(waits)}"
        return [f"its run does not fit tonight{then}"]
    at = min((w.starts_at for o in asks for w in o.options if w.starts_at is not None), default=None)
    return ["run it at the first chance" + ("" if at is None else f", {say.clock(at)}")]
