"""The ground tonight: demand, rain, received water and the root-zone balance of every zone.

From weather and records to arrays, once; what is decided later only reads them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from itertools import pairwise

import numpy as np

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import CannotAdvise
from advisor.lawn import ProbeReading, RateBasis, Records, Site
from advisor.science.balance import as_if_watered, root_zone_balance
from advisor.science.chance import Calibration
from advisor.science.rain import EffectiveRain, effective_rain
from advisor.science.snow import melt, split
from advisor.science.turf import crop_coefficient, depletion_fraction
from advisor.soil_water.calibration import calibration_from
from advisor.soil_water.rain_members import rain_members
from advisor.soil_water.reference_et import ReferenceET, daily_reference_et, filled_past
from advisor.soil_water.water_received import Water, before_now, given_by, irrigation_by_hour
from advisor.soil_water.zone_figures import ZoneFigures, zone_figures
from advisor.weather import Array, Weather

PAST_DAYS = 31


@dataclass(frozen=True, eq=False, slots=True)
class RootZone:
    """Axes (zone, member, hour). `first` is the hour of `now`; ahead series start there.

    `depletion_mm` (z, 3, p) past traces: from the wet, middle and dry reading of what is not known
    (state a month back, unmeasured rates). `ahead_depletion_mm`, `ahead_actual_mm` (z, m, k) without
    any irrigation from now on; `etc_mm` (z, h) potential; `kc` (z, d); `p` (z, d); `taw_mm` (z,).
    `unwatered` are the zones of which nothing was ever recorded, no run and no probe reading: before the
    hour `guessed_until` their middle trace is held at the allowance, as if someone had watered whenever it
    was reached; from then on they count as not watered.
    `rain_ahead_mm` (m, k) liquid at the gauge and `net_ahead_mm` (z, m, k) into the soil.
    """

    site: Site
    weather: Weather
    figures: tuple[ZoneFigures, ...]
    reference_et: ReferenceET
    calibration: Calibration
    water: Water
    first: int
    begin: int
    taw_mm: Array
    kc: Array
    p: Array
    etc_mm: Array
    depletion_mm: Array
    percolation_mm: Array
    actual_mm: Array
    rain_ahead_mm: Array
    net_ahead_mm: Array
    ahead_depletion_mm: Array
    ahead_actual_mm: Array
    ahead_percolation_mm: Array
    unwatered: tuple[int, ...]
    guessed_until: int
    notes: tuple[Note, ...]

    @property
    def hours_ahead(self) -> int:
        """How many hours ahead are known."""
        return int(self.rain_ahead_mm.shape[1])

    def day_of(self, hours_ahead: int) -> int:
        """The index into `reference_et.days` of an hour ahead (the last known one past the end)."""
        return int(self.reference_et.day_index[min(self.first + hours_ahead, self.weather.hours - 1)])

    def allowed_mm(self, zone: int, hours_ahead: int = 12) -> float:
        """The allowed depletion (RAW) of a zone some hours ahead, mm."""
        return float(self.p[zone, self.day_of(hours_ahead)] * self.taw_mm[zone])


def survey(
    *, site: Site, records: Records, weather: Weather, now: datetime, asked_since: datetime | None = None
) -> RootZone:
    """Work out the state of every root zone. Raises CannotAdvise when `now` lies outside the weather.

    `asked_since` is when advice was first asked for, None: now. That someone watered before may be guessed
    where nothing is recorded; since then only what is recorded counts.
    """
    local = site.place.zone
    first = _hour_of(now, weather, local)
    begin = max(0, first - 24 * PAST_DAYS)
    figures = tuple(
        zone_figures(
            zone,
            [audit for audit in records.audits if audit.measured_at <= now],
            site.rules,
            local=local,
            on=now.astimezone(local).date(),
        )
        for zone in site.zones
    )
    reference_et = filled_past(daily_reference_et(weather, local), first)
    if not np.isfinite(reference_et.eto_mm[begin : first + 1]).any():
        raise CannotAdvise("no day of the weather has the temperatures that evapotranspiration needs")
    calibration = calibration_from(
        (pair for pair in records.pairs if pair.starts_at < now), site.judgement.rain
    )
    liquid, pack_mm = _liquid_past(weather, first)
    ahead, members_note = _members_ahead(weather, first, reference_et, calibration, pack_mm)
    coming = _entering(ahead, figures, site.judgement.rain.interception_mm)
    water = _water(site, records, weather, figures, liquid, now)
    turf = _turf(site, figures, reference_et)

    probes = _probe_hours(records.probes, site, weather, range(begin, first + 1), now)
    unwatered = _nothing_recorded(site, records, now) if first > begin else ()
    until = first if asked_since is None else min(max(weather.index_at(asked_since), begin), first)
    guess = _taken_as_watered(list(unwatered), water, turf, range(begin, until), first)
    since_probe = _given_since_probe(records.probes, site, weather, water, now)
    past, notes = _past_balance(_Past(figures, water, turf, begin, first, probes, since_probe, guess))
    if guess is not None:
        water.irrigation_mm[guess.zones, begin:until] += guess.irrigation_mm
    end = first + ahead.shape[1]
    balance = root_zone_balance(
        depletion_start_mm=past[0][:, 1:2, -1] if first > begin else past[0][:, 1:2, 0],
        etc_mm=turf.etc_mm[:, None, first:end],
        water_mm=coming.net_mm + water.irrigation_mm[:, None, first:end],
        taw_mm=turf.taw_mm,
        p=turf.p_hourly[:, None, first:end],
    )
    return RootZone(
        site=site,
        weather=weather,
        figures=figures,
        reference_et=reference_et,
        calibration=calibration,
        water=water,
        first=first,
        begin=begin,
        taw_mm=turf.taw_mm,
        kc=turf.kc,
        p=turf.p,
        etc_mm=turf.etc_mm,
        depletion_mm=past[0],
        percolation_mm=past[1],
        actual_mm=past[2],
        rain_ahead_mm=ahead,
        net_ahead_mm=coming.net_mm,
        ahead_depletion_mm=balance.depletion_mm,
        ahead_actual_mm=balance.etc_actual_mm,
        ahead_percolation_mm=balance.percolation_mm,
        unwatered=unwatered,
        guessed_until=until,
        notes=(*reference_et.notes, *members_note, *notes),
    )


def _hour_of(now: datetime, weather: Weather, local: tzinfo) -> int:
    """The hour of the weather that holds `now`."""
    first = weather.index_at(now)
    if not 0 <= first < weather.hours:
        begins, ends = (weather.starts_at(hour).astimezone(local) for hour in (0, weather.hours))
        raise CannotAdvise(
            f"the weather reaches from {begins:%Y-%m-%d %H:%M} to {ends:%Y-%m-%d %H:%M} and does not cover "
            f"{now.astimezone(local):%Y-%m-%d %H:%M}, local time; "
            "hourly weather of your own must hold the coming hours as well as the past ones"
        )
    return first


@dataclass(frozen=True, eq=False, slots=True)
class _Turf:
    """What the turf of each zone asks: `kc`, `p` (z, d), `p_hourly`, `etc_mm` (z, h), `taw_mm` (z,)."""

    kc: Array
    p: Array
    p_hourly: Array
    etc_mm: Array
    taw_mm: Array


def _turf(site: Site, figures: Sequence[ZoneFigures], reference_et: ReferenceET) -> _Turf:
    """Crop coefficients with the zone's exposure, potential ET and the fraction that may be depleted."""
    days = reference_et.days
    kc = np.asarray(crop_coefficient(kc_month=np.array([z.turf.kc_month for z in site.zones]), days=days))
    kc = kc * np.array([[z.exposure] for z in site.zones])
    p = np.asarray(
        depletion_fraction(
            p_table=np.array([[z.turf.p] for z in site.zones]),
            etc_mm_d=np.nan_to_num(kc * reference_et.eto_day_mm, nan=5.0),  # unknown: p as tabled
        )
    ).copy()
    for i, zone in enumerate(site.zones):
        if zone.allowed_depletion is not None:
            p[i] = zone.allowed_depletion
        if zone.mode == "new" and zone.mode_until is not None:
            p[i, days <= np.datetime64(zone.mode_until)] *= 0.5
    hourly = reference_et.day_index
    return _Turf(
        kc=kc,
        p=p,
        p_hourly=p[:, hourly],
        etc_mm=kc[:, hourly] * reference_et.eto_mm,
        taw_mm=np.array([f.taw_mm for f in figures]),
    )


def _entering(rain_mm: Array, figures: Sequence[ZoneFigures], interception_mm: float) -> EffectiveRain:
    """What of some members' rain (m, h) enters each zone's soil, (z, m, h)."""
    return effective_rain(
        rain_mm=rain_mm[None, :, :],
        interception_mm=interception_mm,
        intake_mm_h=np.array([[f.intake_mm_h] for f in figures]),
        accumulation_mm=np.array([[f.accumulation_mm] for f in figures]),
    )


def _water(
    site: Site,
    records: Records,
    weather: Weather,
    figures: Sequence[ZoneFigures],
    liquid_mm: Array,
    now: datetime,
) -> Water:
    """Past rain and recorded runs by hour, over the whole weather series."""
    fell = _entering(liquid_mm[None, :], figures, site.judgement.rain.interception_mm)
    runs = [run for run in records.runs if run.started_at <= now]
    given = given_by(runs, [zone.name for zone in site.zones], figures)
    begins, ends = weather.starts_at(0), weather.starts_at(weather.hours)
    irrigation = np.stack(
        [irrigation_by_hour(weather, given, z, begins, ends)[0] for z in range(len(site.zones))]
    )
    first = weather.index_at(now)
    if first > 0:  # what was given in the hour of `now` is had, though that hour is to come as a whole
        irrigation[:, first - 1] += irrigation[:, first]
        irrigation[:, first] = 0.0
    return Water(
        rain_mm=_padded(liquid_mm, weather.hours),
        net_mm=_padded(fell.net_mm[:, 0, :], weather.hours),
        runoff_mm=_padded(fell.runoff_mm[:, 0, :], weather.hours),
        irrigation_mm=irrigation,
        given=given,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Guess:
    """Zones taken as watered up to the hour `until`: the depletion, percolation and actual ET of their middle
    trace, (z, h) each, and the irrigation that held it."""

    zones: list[int]
    until: int
    middle: tuple[Array, Array, Array]
    irrigation_mm: Array

    def put_into(self, past: tuple[Array, Array, Array]) -> None:
        """Write the middle trace into past ones (z, 3, p), and the wet one as full."""
        gone = self.irrigation_mm.shape[1]
        for part, values in zip(past, self.middle, strict=True):
            part[self.zones, 1, :gone] = values
        past[0][self.zones, 0, :gone] = 0.0


def _taken_as_watered(zones: list[int], water: Water, turf: _Turf, hours: range, first: int) -> _Guess | None:
    """The guess for zones with nothing recorded: held at the allowance in these `hours`."""
    if not zones or not hours:
        return None
    part = slice(hours.start, hours.stop)
    net_mm = np.nan_to_num(before_now(water.net_mm[zones], hours.start, first))
    assumed = as_if_watered(
        etc_mm=turf.etc_mm[zones, part],
        water_mm=net_mm[:, : len(hours)],
        allowed_mm=(turf.p_hourly * turf.taw_mm[:, None])[zones, part],
    )
    middle = (assumed.depletion_mm, assumed.percolation_mm, turf.etc_mm[zones, part])
    return _Guess(zones, hours.stop, middle, assumed.irrigation_mm)


def _liquid_past(weather: Weather, first: int) -> tuple[Array, float]:
    """Liquid water at the ground by now (first + 1,), and the snow lying then, mm.

    Of the hour `first`, which is running, it is what the gauge measured; what melts in it is to come.
    """
    rain, snow, temp = weather.rain_mm[:first], weather.snow_mm[:first], weather.temp_c[:first]
    if not np.isfinite(snow).all():
        snow = np.where(np.isfinite(snow), snow, split(rain, temp)[1])
    snow = np.minimum(snow, rain)
    liquid = melt(rain_mm=rain - snow, snow_mm=snow, temp_c=temp)
    measured, frozen = _measured_of(weather, first)
    lying = max(0.0, float(np.nansum(rain) - np.nansum(liquid)))
    return np.append(liquid, measured - frozen), lying + frozen


def _measured_of(weather: Weather, hour: int) -> tuple[float, float]:
    """What the gauge measured of an hour, and how much of it was snow, by the share of that hour; mm."""
    measured, rain, snow = (float(x[hour]) for x in (weather.gauge_mm, weather.rain_mm, weather.snow_mm))
    if measured > 0.0 and np.isfinite(snow):
        return measured, measured * min(1.0, snow / rain)
    return measured, float(split(weather.gauge_mm[hour : hour + 1], weather.temp_c[hour : hour + 1])[1][0])


def _padded(values: Array, hours: int) -> Array:
    """`values` (…, k) with zeros after, (…, hours)."""
    out = np.zeros((*values.shape[:-1], hours))
    out[..., : values.shape[-1]] = values
    return out


def _members_ahead(
    weather: Weather, first: int, reference_et: ReferenceET, calibration: Calibration, pack_mm: float
) -> tuple[Array, tuple[Note, ...]]:
    """Calibrated liquid rain per member from hour `first` to where rain or demand is no longer known."""
    whole, notes = rain_members(weather, first, calibration, np.isfinite(reference_et.eto_mm[first:]))
    temp = weather.temp_c[first : first + whole.shape[1]]
    rain, snow = split(whole, temp)
    return melt(rain_mm=rain, snow_mm=snow, temp_c=temp, pack_mm=pack_mm), notes


@dataclass(frozen=True, eq=False, slots=True)
class _Past:
    """What the past balance rests on: the hours from `begin` up to `first`, `probes` by their hour, what a zone
    was given in the running hour after its probe was read, and what is guessed of zones with nothing recorded."""

    figures: tuple[ZoneFigures, ...]
    water: Water
    turf: _Turf
    begin: int
    first: int
    probes: dict[int, list[tuple[int, float]]]
    given_since_probe: dict[int, float]
    guess: _Guess | None = None


def _past_balance(past: _Past) -> tuple[tuple[Array, Array, Array], tuple[Note, ...]]:
    """Past depletion, percolation and actual ET of the wet, middle and dry trace; shape (z, 3, p)."""
    turf, begin, first = past.turf, past.begin, past.first
    p, taw, etc = turf.p_hourly, turf.taw_mm, turf.etc_mm
    zones = len(past.figures)
    if first <= begin:
        half = 0.5 * p[:, first] * taw
        state = np.stack([np.zeros(zones), half, 2 * half], axis=1)[:, :, None]
        empty = np.zeros((zones, 3, 0))
        return (state, empty, empty), (Note(level=NoteLevel.WARNING, kind=NoteKind.NO_PAST),)
    gone, notes = _received(past)
    allowed = p[:, begin] * taw
    state = np.stack([np.zeros(zones), 0.5 * allowed, allowed], axis=1)
    parts: list[tuple[Array, Array, Array]] = []
    guess = past.guess
    cuts = [begin, *sorted([*past.probes, *([guess.until] if guess is not None else [])]), first]
    for a, b in pairwise(cuts):
        if guess is not None and a == guess.until:
            state = state.copy()
            state[guess.zones, 0], state[guess.zones, 1] = 0.0, guess.middle[0][:, -1]
        for z, reading in past.probes.get(a, ()):
            state = state.copy()
            state[z] = min(max(reading, 0.0), taw[z])
        if b == a:
            continue
        piece = root_zone_balance(
            depletion_start_mm=state,
            etc_mm=etc[:, None, a:b],
            water_mm=gone[:, :, a - begin : b - begin],
            taw_mm=taw,
            p=p[:, None, a:b],
        )
        state = piece.depletion_mm[:, :, -1]
        parts.append((piece.depletion_mm, piece.percolation_mm, piece.etc_actual_mm))
    depletion, deep, actual = (np.concatenate([part[i] for part in parts], axis=2) for i in range(3))
    if guess is not None:
        guess.put_into((depletion, deep, actual))
    for z, reading in past.probes.get(first, ()):  # of the hour that is running: the state is that of now
        depletion[z, :, -1] = min(max(reading - past.given_since_probe.get(z, 0.0), 0.0), taw[z])
    return (depletion, deep, actual), notes


def _received(past: _Past) -> tuple[Array, tuple[Note, ...]]:
    """Water into each zone's soil in the past hours by the wet, middle and dry reading of a guessed rate."""
    hours = slice(past.begin, past.first)
    factor = np.array(
        [
            [f.high_mm_h / f.rate_mm_h, 1.0, f.low_mm_h / f.rate_mm_h]
            if f.rate_basis == RateBasis.GUESS
            else [1.0] * 3
            for f in past.figures
        ]
    )
    fell = before_now(past.water.net_mm, past.begin, past.first)
    gone = fell[:, None, :] + past.water.irrigation_mm[:, None, hours] * factor[:, :, None]
    unknown = ~np.isfinite(gone).all(axis=(0, 1))
    if not unknown.any():
        return gone, ()
    note = Note(level=NoteLevel.WARNING, kind=NoteKind.PAST_RAIN_UNKNOWN, hours=int(unknown.sum()))
    return np.nan_to_num(gone, nan=0.0), (note,)


def _nothing_recorded(site: Site, records: Records, now: datetime) -> tuple[int, ...]:
    """The zones without a probe reading where no run at all was ever recorded, however long ago.

    Where some zone's runs are recorded, that another has none is told by the records. A run recorded as
    skipped is a record too.
    """
    if any(run.started_at <= now for run in records.runs):
        return ()
    known = {probe.zone for probe in records.probes if probe.read_at <= now}
    return tuple(i for i, zone in enumerate(site.zones) if zone.name not in known)


def _probe_hours(
    probes: Sequence[ProbeReading], site: Site, weather: Weather, within: range, now: datetime
) -> dict[int, list[tuple[int, float]]]:
    """Probe readings by the hour they were taken in: zone index and depletion."""
    names = {zone.name: i for i, zone in enumerate(site.zones)}
    hours: dict[int, list[tuple[int, float]]] = {}
    for probe in probes:
        hour = weather.index_at(probe.read_at)
        if probe.zone in names and hour in within and probe.read_at <= now:
            hours.setdefault(hour, []).append((names[probe.zone], probe.depletion_mm))
    return hours


def _given_since_probe(
    probes: Sequence[ProbeReading], site: Site, weather: Weather, water: Water, now: datetime
) -> dict[int, float]:
    """By zone the effective irrigation of the running hour after its last probe of that hour, mm."""
    names = {zone.name: i for i, zone in enumerate(site.zones)}
    begins = weather.starts_at(weather.index_at(now))
    found: dict[int, float] = {}
    for probe in sorted(probes, key=lambda each: each.read_at):
        if probe.zone in names and begins <= probe.read_at <= now:
            z = names[probe.zone]
            found[z] = float(irrigation_by_hour(weather, water.given, z, probe.read_at, now)[0].sum())
    return found
