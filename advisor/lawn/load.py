"""The site file → a validated `Site`, or every problem at once with file and line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from advisor.errors import InputError, ManyProblems
from advisor.lawn.declared import decision_of, place_of, rules_of, spans_of, sprayer_of, supply_of, zone_of
from advisor.lawn.fields import Refused, Section, close_to, told
from advisor.lawn.labels import ProductWritten, product_of
from advisor.lawn.products import Product
from advisor.lawn.refusals import missing, option, problems_of
from advisor.lawn.schema import (
    FREE,
    LISTS,
    MAPPINGS,
    NEEDED,
    TOP_KEYS,
    PlaceWritten,
    RoundWritten,
    SprayerWritten,
    WateringWritten,
    WeatherWritten,
    ZoneWritten,
)
from advisor.lawn.site_values import Round, Site, WeatherSettings
from advisor.lawn.yaml_lines import Loc, Written, read_text, read_yaml, typed

MOST = {"zones": 200, "equipment": 100, "products": 300, "rounds": 100}
"""How many entries a list may have: far more than a lawn needs, and no more than a night is planned for in time."""
WAY_OUT = "`advisor init` writes one, --site names another"


def load_site(path: Path) -> Site:
    """The site that the file at `path` declares.

    Raises InputError when there is no readable file, ManyProblems with everything wrong in it.
    """
    return read_site(read_text(path, WAY_OUT), path)


def read_site(text: str, path: Path) -> Site:
    """The site that `text` declares; `path` is where it stands (or will), for errors and paths."""
    written = read_yaml(text, str(path))
    whole = written.value
    if whole is None:
        raise InputError("the file is empty", where=str(path), allowed=WAY_OUT)
    if not isinstance(whole, dict):
        raise InputError(
            "the file is not a site file",
            where=str(path),
            line=1,
            found=told(whole),
            allowed="sections such as site:, zones: and watering:",
        )
    reading = _Reading(path, written)
    site = reading.site()
    if site is None:
        raise ManyProblems(reading.problems)
    return site


class _Reading:
    """One pass over one file: pieces are checked one by one so that all problems are told."""

    def __init__(self, path: Path, written: Written) -> None:
        self.path, self.written = path, written
        self.whole: dict[str, Any] = written.value
        self.problems: list[InputError] = []

    def site(self) -> Site | None:
        """The site, or None when there are problems."""
        for key in self.whole:
            if key not in TOP_KEYS:
                self._problem((key,), "is not a known section", allowed=close_to(key, TOP_KEYS))
        self.problems += [missing(key, str(self.path)) for key in NEEDED if key not in self.whole]
        sections = {key: self._section(key, model) for key, model in MAPPINGS.items()}
        lists = {key: self._list(key, model) for key, model in LISTS.items()}
        for key in LISTS:
            self._no_doubles(key)
        self._references()
        products = {
            piece.name: product
            for index, piece in lists["products"]
            if isinstance(piece, ProductWritten) and (product := self._product(index, piece))
        }
        weather = self._weather(sections["weather"])
        records = self._path(("records",), self.whole.get("records"), self.path.with_suffix(".sqlite"))
        settings = {key: self._free(key) for key in FREE if key in self.whole}
        place, rules = sections["site"], sections["watering"]
        if self.problems or not isinstance(place, PlaceWritten) or not isinstance(rules, WateringWritten):
            return None
        assert records is not None
        return Site(
            path=self.path,
            place=place_of(place),
            zones=tuple(zone_of(z, place.latitude) for _, z in lists["zones"] if isinstance(z, ZoneWritten)),
            rules=rules_of(rules),
            supply=supply_of(sections["supply"]),
            sprayers=tuple(sprayer_of(s) for _, s in lists["equipment"] if isinstance(s, SprayerWritten)),
            products=products,
            rounds=tuple(self._round(r) for _, r in lists["rounds"] if isinstance(r, RoundWritten)),
            decision=decision_of(sections["decision"]),
            weather=weather,
            records_path=records,
            settings=settings,
        )

    def _problem(self, loc: Loc, what: str, *, found: str = "", allowed: str = "") -> None:
        self.problems.append(
            InputError(
                f"{option(loc, self.whole)} {what}",
                where=str(self.path),
                line=self.written.line(loc),
                found=found,
                allowed=allowed,
            )
        )

    def _check(self, model: type[Section], loc: Loc, value: Any) -> Section | None:
        try:
            return model.model_validate(value)
        except ValidationError as error:
            self.problems += problems_of(
                error, model, loc, self.whole, lambda at: (str(self.path), self.written.line(at))
            )
            return None

    def _section(self, key: str, model: type[Section]) -> Section | None:
        value = self.whole.get(key)
        if value is None and key in NEEDED and key in self.whole:
            self._problem((key,), "is empty", allowed=missing(key, "").allowed)
            return None
        return None if value is None else self._check(model, (key,), value)

    def _list(self, key: str, model: type[Section]) -> list[tuple[int, Section | None]]:
        value = self.whole.get(key)
        if key not in self.whole or (key not in NEEDED and (value is None or value == [])):
            return []
        if not isinstance(value, list) or not value:
            allowed = f"a list, each entry beginning with a dash, with {', '.join(model.model_fields)}"
            self._problem((key,), "is not a list of entries", found=told(value or None), allowed=allowed)
            return []
        if len(value) > MOST[key]:
            allowed = f"up to {MOST[key]}; several lawns go into several site files"
            self._problem((key, MOST[key]), f"is more than any lawn has under {key}", allowed=allowed)
            return []
        return [(index, self._check(model, (key, index), entry)) for index, entry in enumerate(value)]

    def _names(self, key: str) -> dict[str, str]:
        """The names in a list of entries, by their lower case, also of entries with other faults."""
        entries = self.whole.get(key)
        named = [e.get("name") for e in entries if isinstance(e, dict)] if isinstance(entries, list) else []
        return {
            _folded(name): " ".join(name.split())
            for name in named
            if isinstance(name, str) and name.isprintable()
        }

    def _no_doubles(self, key: str) -> None:
        seen: dict[str, int] = {}
        entries = self.whole.get(key)
        for index, entry in enumerate(entries if isinstance(entries, list) else []):
            name = entry.get("name") if isinstance(entry, dict) else None
            if not isinstance(name, str):
                continue
            loc: Loc = (key, index, "name")
            if _folded(name) in seen:
                self._problem(
                    loc,
                    "stands twice (capitals do not matter)",
                    found=f"{name!r} again after line {seen[_folded(name)]}",
                    allowed="a name of its own",
                )
            seen.setdefault(_folded(name), self.written.line(loc))

    def _references(self) -> None:
        """Names that point to entries elsewhere must have one there."""
        for key, field, target in (
            ("rounds", "zones", "zones"),
            ("rounds", "products", "products"),
            ("rounds", "sprayer", "equipment"),
            ("products", "not_together_undiluted", "products"),
            ("products", "not_together_diluted", "products"),
        ):
            known = self._names(target)
            entries = self.whole.get(key)
            for index, entry in enumerate(entries if isinstance(entries, list) else []):
                said = entry.get(field) if isinstance(entry, dict) else None
                for place, name in enumerate(said if isinstance(said, list) else [said]):
                    if not isinstance(name, str) or _folded(name) in known:
                        continue
                    loc: Loc = (key, index, field, place) if isinstance(said, list) else (key, index, field)
                    self._problem(
                        loc,
                        f"is not a name under {target}",
                        found=told(name),
                        allowed=close_to(name, known.values()) if known else f"an entry under {target}",
                    )

    def _product(self, index: int, piece: ProductWritten) -> Product | None:
        try:
            product = product_of(piece)
        except Refused as error:
            self._problem(("products", index), f"- {error.what}", found=error.found, allowed=error.allowed)
            return None
        names = self._names("products")
        return replace(
            product,
            apart_undiluted=_canonical(product.apart_undiluted, names),
            apart_diluted=_canonical(product.apart_diluted, names),
        )

    def _round(self, piece: RoundWritten) -> Round:
        return Round(
            name=piece.name,
            products=_canonical(piece.products, self._names("products")),
            every_days=round(piece.every),
            zones=_canonical(piece.zones, self._names("zones")),
            sprayer=self._names("equipment").get(_folded(piece.sprayer), ""),
            blackouts=spans_of(piece.blackout),
        )

    def _weather(self, section: Section | None) -> WeatherSettings:
        piece = section if isinstance(section, WeatherWritten) else WeatherWritten.model_validate({})
        return WeatherSettings(
            sources=piece.sources,
            base_urls=dict(piece.base_urls),
            ensemble_models=piece.ensemble_models,
            warn_after_h=piece.warn_after / 60,
            refuse_after_h=(piece.refuse_after or 0.0) / 60,
            csv=self._path(("weather", "csv"), piece.csv, None),
            cache=self._path(("weather", "cache"), piece.cache, None),
        )

    def _path(self, loc: Loc, value: object, otherwise: Path | None) -> Path | None:
        """A path relative to the site file."""
        if value is None:
            return otherwise
        if not isinstance(value, str) or not value.isprintable() or not value.strip():
            self._problem(loc, "is not a path", found=told(value), allowed="a file name beside the site file")
            return otherwise
        try:
            return self.path.parent / Path(value.strip()).expanduser()
        except RuntimeError:
            self._problem(loc, "names a home folder that is not there", found=told(value), allowed="a path")
            return otherwise

    def _free(self, key: str) -> Mapping[str, object]:
        value = typed(self.whole[key])
        if value is None or isinstance(value, dict):
            return value or {}
        self._problem((key,), "is not understood", found=told(value), allowed="a mapping of names to values")
        return {}


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def _canonical(names: Sequence[str], known: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(known.get(_folded(name), name) for name in names)
