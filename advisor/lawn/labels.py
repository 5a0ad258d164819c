"""An owner's product: its entry in the site file, and its label put over its kind's defaults."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator

from advisor.lawn import fields as f
from advisor.lawn.fields import Names, Refused, Section, choice, number
from advisor.lawn.products import FORMS, Kind, Product
from advisor.lawn.tables import head_table

_PLAIN_FIELDS = {
    "form": "form",
    "single_event": "single_event",
    "wet_foliage_first": "wet_foliage_first",
    "water_night_after": "water_night_after",
    "washoff": "washoff_mm",
    "wind_least": "wind_least_m_s",
    "wind_most": "wind_most_m_s",
    "temperature_least": "temp_least_c",
    "temperature_most": "temp_most_c",
    "mow_before": "mow_before_d",
    "mow_after": "mow_after_d",
    "light_run": "light_run_mm",
    "harms_seedlings": "harms_seedlings",
    "seed_after": "seed_after_d",
}
_MINUTES_TO_HOURS = {
    "within": "within_h",
    "hurry": "hurry_h",
    "dry": "dry_h",
    "washoff_within": "washoff_h",
    "rain_free": "rain_free_h",
}
_COUNTS = {"light_runs_per_day": "light_runs_per_day", "for_days": "for_days"}


class ProductWritten(Section):
    """One entry of `products:`; whatever the label says goes over the kind's defaults."""

    name: f.Text
    kind: f.ProductKind
    form: Annotated[str, choice(FORMS, "the form")] | None = None
    rate: Any = None
    stock: Any = None
    every: f.Interval | None = None
    least: f.Depth | None = None
    target: f.Depth | None = None
    most: f.Depth | None = None
    label_minutes: f.Minutes | None = None
    label_sprinkler: Annotated[Any, Field(validate_default=True)] = None
    within: f.HoursLong | None = None
    hurry: f.HoursLong | None = None
    dry: f.HoursLong | None = None
    single_event: f.Truth | None = None
    wet_foliage_first: f.Truth | None = None
    water_night_after: f.Truth | None = None
    washoff: f.Depth | None = None
    washoff_within: f.HoursLong | None = None
    wind_least: f.Wind | None = None
    wind_most: f.Wind | None = None
    temperature_least: f.Temperature | None = None
    temperature_most: f.Temperature | None = None
    rain_free: f.HoursLong | None = None
    mow_before: f.DaysLong | None = None
    mow_after: f.DaysLong | None = None
    light_runs_per_day: Annotated[float, number(0, 12, "runs a day")] | None = None
    light_run: f.Depth | None = None
    for_days: f.Interval | None = None
    harms_seedlings: f.Truth | None = None
    seed_after: f.DaysLong | None = None
    not_together_undiluted: Names = ()
    not_together_diluted: Names = ()
    fill_order: Annotated[float, number(0, 1000, "the filling order")] = 50
    not_before: f.Day | None = None
    cautions: Names = ()

    @field_validator("rate", "stock")
    @classmethod
    def _by_form(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None or "kind" not in info.data or "form" not in info.data:
            return None
        liquid = (info.data["form"] or info.data["kind"].form) == "liquid"
        if info.field_name == "rate":
            return f.quantity_of(value, "liquid rate" if liquid else "granule rate", 0.001, 1000.0)
        return f.quantity_of(value, "small volume" if liquid else "mass", 0.0, 1e7)

    @field_validator("label_minutes")
    @classmethod
    def _depth_or_minutes(cls, minutes: float | None, info: ValidationInfo) -> float | None:
        if minutes is not None and info.data.get("target") is not None:
            raise Refused(
                "the label's guidance is given twice", found="target and label_minutes", allowed="one of them"
            )
        return minutes

    @field_validator("label_sprinkler")
    @classmethod
    def _meant_for(cls, value: Any, info: ValidationInfo) -> float | None:
        """The rate, mm/h, of the sprinkler that the label's minutes were meant for."""
        minutes = info.data.get("label_minutes")
        if value is None and minutes is not None:
            raise Refused(
                "minutes on a label need the sprinkler they were meant for, because a minute is not a depth",
                found="label_minutes alone",
                allowed="label_sprinkler: fixed spray, or 1.5 in/h",
            )
        if value is None:
            return None
        text = f.text_of(value, "a sprinkler")
        rate = (
            f.quantity_of(text, "rate", 1.0, 200.0, "a rate no sprinkler has")
            if text[0].isdigit() or text[0] == "."
            else f.row_of(text, head_table(), "the head type").rate_mm_h
        )
        if minutes is not None and rate * minutes / 60 > 100:
            raise Refused(
                "the label's minutes are a depth no label asks",
                found=f"{rate * minutes / 60:.0f} mm",
                allowed="at most 100 mm",
            )
        return rate


def label_keys(product: Product) -> tuple[str, ...]:
    """What its label says, by the keys of the site file: dry, least, wind_most."""
    keys = {name: key for key, name in (_PLAIN_FIELDS | _MINUTES_TO_HOURS | _COUNTS).items()}
    return tuple(keys.get(name, name.removesuffix("_mm")).replace("_", " ") for name in product.overrides)


def product_of(written: ProductWritten) -> Product:
    """The product with its label over its kind; raises Refused where the two do not make sense."""
    kind, label = written.kind, {}
    for key, name in _PLAIN_FIELDS.items():
        if (value := getattr(written, key)) is not None:
            label[name] = value
    for key, name in _MINUTES_TO_HOURS.items():
        if (value := getattr(written, key)) is not None:
            label[name] = value / 60
    for key, name in _COUNTS.items():
        if (value := getattr(written, key)) is not None:
            label[name] = round(value)
    depths = _depths(written, kind)
    label |= depths
    own = replace(kind, **label)
    told = "washoff_mm" in label or own.washoff_h <= own.dry_h
    if depths and not told and own.washoff_mm <= own.target_mm:
        own = replace(own, washoff_mm=own.most_mm)  # what waters it in must not count as washing it off
    if own.wind_least_m_s >= own.wind_most_m_s:
        raise Refused(
            "no wind is left to spray in", found="wind_least above wind_most", allowed="least < most"
        )
    minutes = ("label_minutes",) if written.label_minutes is not None else ()
    return Product(
        name=written.name,
        kind=own,
        rate=written.rate,
        stock=written.stock,
        interval_days=None if written.every is None else round(written.every),
        apart_undiluted=written.not_together_undiluted,
        apart_diluted=written.not_together_diluted,
        label_minutes=written.label_minutes,
        label_rate_mm_h=written.label_sprinkler if minutes else None,
        fill_order=round(written.fill_order),
        no_apply_before=written.not_before,
        overrides=(*sorted(label), *minutes),
        cautions=written.cautions,
    )


def _depths(written: ProductWritten, kind: Kind) -> dict[str, float]:
    """The depths that change: what the label says, and the kind's other depths moved to keep order."""
    said = {} if written.least is None else {"least_mm": written.least}
    if written.label_minutes is not None:
        said["target_mm"] = written.label_minutes * written.label_sprinkler / 60
    elif written.target is not None:
        said["target_mm"] = written.target
    if written.most is not None:
        said["most_mm"] = written.most
    if not said:
        return {}
    partly = len(said) < 3 or (kind.within_h is None and written.within is None)
    if kind.target_mm == 0 and any(said.values()) and partly:
        raise Refused(
            f"the kind {kind.key!r} is not watered in, so a label that asks it must say all of it",
            found=", ".join(name.removesuffix("_mm") for name in said),
            allowed="least, target, most and within together",
        )
    least = said.get("least_mm", min([kind.least_mm, *said.values()]))
    target = said.get("target_mm", max(kind.target_mm, least))
    target = target if "target_mm" in said else min(target, said.get("most_mm", target))
    most = said.get("most_mm", max(kind.most_mm, target))
    if not least <= target <= most:
        raise Refused(
            "the depths are out of order",
            found=f"least {least:g}, target {target:g}, most {most:g} mm",
            allowed="least ≤ target ≤ most",
        )
    final = {"least_mm": least, "target_mm": target, "most_mm": most}
    return {name: depth for name, depth in final.items() if depth != getattr(kind, name)} | said
