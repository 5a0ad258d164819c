"""How good the chances of rain have been, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.advice import RainSkill, ThresholdSkill
from advisor.wording import Say


def skill_sentences(say: Say, skill: RainSkill, *, least_pairs: int) -> Iterator[str]:
    """The report; below `least_pairs` days no skill is told."""
    yield _rests_on(say, skill)
    if skill.left_out:
        yield (
            f"{_count(skill.left_out, 'pair')} left out: not a whole day, an unknown or impossible number, or "
            "an older forecast of the same day."
        )
    if skill.pairs and not skill.thresholds:
        yield f"Its skill is told from {least_pairs} days on."
    for threshold in skill.thresholds:
        yield _threshold(say, threshold)
    if skill.thresholds:
        yield (
            "Each fifth of the days was judged by the other four; raw means a normal curve of the forecast's "
            "mean and spread. With few days the average miss is partly luck."
        )


def _rests_on(say: Say, skill: RainSkill) -> str:
    if skill.begins_at is None or skill.ends_at is None:
        return (
            "No day of forecast and gauge has been paired yet, so the chance of rain rests on the default "
            "calibration: the members' own middle, spread wider than they are."
        )
    first, last = (at.astimezone(say.zone) for at in (skill.begins_at, skill.ends_at))
    return (
        f"The calibration rests on {_count(skill.pairs, 'day')} of forecast and gauge from {first:%Y-%m-%d} to "
        f"{last:%Y-%m-%d}; they weigh {100 * skill.calibration.weight:.0f} %, the default the rest."
    )


def _threshold(say: Say, t: ThresholdSkill) -> str:
    best = min(t.brier_raw, t.brier_climatology)
    verdict = "better than" if t.brier_calibrated < best else "no better than"
    rival = "the raw forecast" if t.brier_raw <= t.brier_climatology else "how often it rains here anyway"
    miss, raw_miss = 100 * t.reliability.average_miss, 100 * t.raw_miss
    return (
        f"At least {say.depth(t.threshold_mm)} a day fell on {100 * t.rain_share:.0f} % of the days. The "
        f"calibrated chance missed by {miss:.0f} points on average (raw: {raw_miss:.0f}); its Brier score "
        f"{t.brier_calibrated:.3f} is {verdict} the best rival, {rival} ({best:.3f})."
    )


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
