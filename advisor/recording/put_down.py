"""What an owner says was put down: products, method, rate and what it took from the stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.errors import InputError
from advisor.faces.cli.asked import quantity
from advisor.lawn.records import METHODS, Application, StockChange
from advisor.lawn.site_values import Round, Site
from advisor.recording.entry import dimension_of, in_words, named
from advisor.wording import listed


def put_down_words(put_down: Sequence[Application], site: Site) -> str:
    """Several products put down together in one sentence; they share zones, method and times."""
    if len(put_down) == 1:
        return f"application {put_down[0].id}: {in_words(put_down[0], site)}"
    together = replace(put_down[0], product=listed(each.product for each in put_down), rate=None)
    return f"applications {put_down[0].id}–{put_down[-1].id}: {in_words(together, site)}"


def products_of(found: Sequence[str], site: Site) -> tuple[list[str], Round | None]:
    """Products by their names in the site file; a round's name stands for its products."""
    rounds = {each.name: each for each in site.rounds}
    names: list[str] = []
    round_: Round | None = None
    for each in found:
        name = named(each, [*site.products, *rounds], what="product or round", where="PRODUCT")
        if name in site.products:
            names.append(name)
        else:
            round_ = rounds[name]
            names += round_.products
    return list(dict.fromkeys(names)), round_


def method_of(
    said: str | None, names: Sequence[str], round_: Round | None, site: Site
) -> tuple[str, float | None]:
    """How it was put down, and the dilution of the sprayer that the site file gives for it."""
    sprayers = {each.name: each for each in site.sprayers}
    if said is not None:
        how = named(said, [*METHODS, *sprayers], what="method or equipment", where="--method", known="")
        return (sprayers[how].method, sprayers[how].dilution) if how in sprayers else (how, None)
    if round_ is not None and round_.sprayer in sprayers:
        return sprayers[round_.sprayer].method, sprayers[round_.sprayer].dilution
    if all(site.products[name].kind.form != "liquid" for name in names):
        return "spreader", None
    liquid = [each for each in site.sprayers if each.method not in ("spreader", "by hand")]
    if len(liquid) == 1:
        return liquid[0].method, liquid[0].dilution
    raise InputError("it is not said how it was put down", where="--method", allowed=", ".join(METHODS))


def rate_of(name: str, said: str | None, site: Site) -> float | None:
    """The rate that was said, or that of the site file."""
    return (
        quantity(said, dimension_of(name, site, " rate"), where="--rate")
        if said
        else site.products[name].rate
    )


def used_up(put_down: Sequence[Application], site: Site) -> list[StockChange]:
    """What the round took from the stock, where its rate is known."""
    area = sum(zone.area_m2 for zone in site.zones if zone.name in put_down[0].zones)
    return [
        StockChange(each.product, each.ended_at, -each.rate * area, "put down")
        for each in put_down
        if each.rate is not None
    ]
