"""The reference tables in data/: turf, soil, heads, exposure and product kinds, a source on each row.

Read once and kept. A row that is not there is an error for whoever asks, never a default.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from types import MappingProxyType

from advisor.errors import InputError
from advisor.lawn.products import OF_KINDS, CautionKind, Disagreement, Kind
from advisor.lawn.site_values import Head, Soil, Turf
from advisor.shipped import shipped

MM_PER_INCH = 25.4
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
SLOPE_BANDS = ("0_3", "4_6", "7_12", "13")
KINDS_FILE = "product_kinds.toml"


def _rows(name: str) -> Iterator[dict[str, str]]:
    """The rows of data/`name`, lines that begin with # left out."""
    with shipped("data", name).open(encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(line for line in lines if not line.startswith("#"))


@cache
def turf_table() -> Mapping[str, Turf]:
    """Grasses by key; `kc_month` as printed, for the northern hemisphere."""
    return MappingProxyType(
        {
            row["key"]: Turf(
                key=row["key"],
                name=row["name"],
                season=row["season"],
                kc_month=tuple(float(row[f"kc_{month}"]) for month in MONTHS),
                p=float(row["p"]),
                root_depth_m=float(row["root_depth_m"]),
                source=row["source"],
            )
            for row in _rows("turf.csv")
        }
    )


@cache
def soil_table() -> Mapping[str, Soil]:
    """USDA textures by key; inches and m³/m³ as printed become mm; available water is the midpoint."""
    table = {}
    for row in _rows("soil.csv"):
        low, high = (round(1000 * float(row[f"available_{end}"]), 6) for end in ("low", "high"))
        first, second, third, fourth = (
            float(row[f"accumulation_{band}_in"]) * MM_PER_INCH for band in SLOPE_BANDS
        )
        table[row["key"]] = Soil(
            key=row["key"],
            name=row["name"],
            available_mm_m=(low + high) / 2,
            available_low_mm_m=low,
            available_high_mm_m=high,
            intake_mm_h=float(row["intake_in_h"]) * MM_PER_INCH,
            accumulation_mm=(first, second, third, fourth),
            source=row["source"],
        )
    return MappingProxyType(table)


@cache
def head_table() -> Mapping[str, Head]:
    """Head types by key: rates in mm/h with wide bounds, low-quarter uniformity 0–1."""
    return MappingProxyType(
        {
            row["key"]: Head(
                key=row["key"],
                name=row["name"],
                rate_mm_h=float(row["rate_mm_h"]),
                rate_low_mm_h=float(row["rate_low_mm_h"]),
                rate_high_mm_h=float(row["rate_high_mm_h"]),
                uniformity=float(row["uniformity"]),
                source=row["source"],
            )
            for row in _rows("heads.csv")
        }
    )


@cache
def exposure_table() -> Mapping[str, float]:
    """The share of open-sky demand by the name of the light: full sun, part shade, shade."""
    return MappingProxyType({row["key"]: float(row["share"]) for row in _rows("exposure.csv")})


@cache
def kind_table() -> Mapping[str, Kind]:
    """Product kinds by key, with what each asks and where sources disagree."""
    return kinds_of(shipped("data", KINDS_FILE).read_text(encoding="utf-8"))


def kinds_of(text: str) -> Mapping[str, Kind]:
    """The product kinds of a text as in data/product_kinds.toml.

    Raises TOMLDecodeError where it is no TOML and InputError where a caution is no code of `CautionKind`.
    """
    return MappingProxyType(
        {
            key: Kind(
                key=key,
                within_h=row.pop("within_h", None),
                hurry_h=row.pop("hurry_h", None),
                cautions=_cautions(key, row.pop("cautions", [])),
                disagreements=tuple(Disagreement(**entry) for entry in row.pop("disagreements", ())),
                **row,
            )
            for key, row in tomllib.loads(text).items()
        }
    )


def _cautions(key: str, written: list[str]) -> tuple[CautionKind, ...]:
    """The cautions of a kind; none may be unknown, named twice, or left out altogether."""
    unknown = [code for code in written if code not in OF_KINDS]
    if unknown or not written or len(set(written)) < len(written):
        raise InputError(
            f"the cautions of {key!r} are not understood",
            where=f"data/{KINDS_FILE}",
            found=", ".join(map(repr, unknown or written)) or "none",
            allowed=f"each once: {', '.join(sorted(OF_KINDS))}",
        )
    return tuple(CautionKind(code) for code in written)
