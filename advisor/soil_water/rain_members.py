"""The members of the coming rain: those that know every hour up to the horizon, calibrated."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import CannotAdvise
from advisor.science.chance import Calibration, calibrate_members
from advisor.weather import Array, Weather

LEAST_SHARE = 0.8  # of the members must know an hour for it to lie within the horizon


def rain_members(
    weather: Weather, first: int, calibration: Calibration, usable: npt.NDArray[np.bool_] | None = None
) -> tuple[Array, tuple[Note, ...]]:
    """Calibrated precipitation per member from hour `first` to the horizon, shape (m, k), mm.

    The horizon is the first hour that too few members know, or that is not `usable` (h − first,).
    Of the hour `first`, which is running, the part that gauge readings cover has fallen: what is left of
    a member there is its share of the rest. Without members the source's one forecast stands alone, and
    that is told. Raises CannotAdvise where nothing is known of the hour `first`.
    """
    named = " and ".join(use.name for use in weather.sources) or "the weather"
    members = weather.members_mm[:, first:].copy()
    members[:, :1] *= 1.0 - weather.gauge_share[first]
    notes: tuple[Note, ...] = ()
    if len(members) == 0 or not np.isfinite(members[:, :1]).any():
        members = weather.rain_mm[None, first:].copy()
        members[:, :1] -= weather.gauge_mm[first]
        notes = (Note(level=NoteLevel.WARNING, kind=NoteKind.NO_ENSEMBLE),)
    known = np.isfinite(members).mean(axis=0) >= LEAST_SHARE
    if usable is not None:
        known &= usable
    horizon = int(np.argmin(known)) if not known.all() else len(known)
    if horizon == 0:
        raise CannotAdvise(
            f"{named} knows no rain for the coming hours, so nothing can be said about tonight; give hourly "
            "weather that holds them, or leave the file out to ask the services"
        )
    whole = members[np.isfinite(members[:, :horizon]).all(axis=1), :horizon]
    if len(whole) == 0:
        raise CannotAdvise(
            f"no rain member of {named} covers tonight without gaps; ask again later, or give hourly weather "
            "with --weather FILE"
        )
    if len(whole) > 1:
        whole = calibrate_members(members_mm=whole, calibration=calibration)
    return whole, notes
