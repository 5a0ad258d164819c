"""What turf asks of the water: the coefficient by season and the allowed depletion.

Source of every equation number: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and
Smith, 1998).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Numbers = npt.ArrayLike


def crop_coefficient(*, kc_month: Numbers, days: npt.NDArray[np.datetime64]) -> Array:
    """Turf coefficient Kc for each day, interpolated in a straight line between mid-months.

    `kc_month` (12,) or (z, 12), January to December; result (d,) or (z, d). A month's value holds at
    its middle and December runs on into January, so there are no steps at the turn of the month.
    """
    table = np.asarray(kc_month, dtype=np.float64)
    if table.shape[-1:] != (12,):
        raise ValueError(f"kc_month must hold 12 values, January to December, found shape {table.shape}")
    dates = np.asarray(days).astype("datetime64[D]")
    month = dates.astype("datetime64[M]")
    noon = dates.astype(np.float64) + 0.5
    before = np.where(noon < _middle(month), month - 1, month)
    first, last = _middle(before), _middle(before + 1)
    share = (noon - first) / (last - first)
    index = before.astype(np.int64) % 12
    return np.asarray(table[..., index] * (1.0 - share) + table[..., (index + 1) % 12] * share)


def _middle(month: npt.NDArray[np.datetime64]) -> Array:
    """The middle of a month, in days since 1970."""
    first, following = ((month + step).astype("datetime64[D]").astype(np.float64) for step in (0, 1))
    return np.asarray((first + following) / 2.0)


def depletion_fraction(*, p_table: Numbers, etc_mm_d: Numbers) -> Array:
    """The share p of the available water that turf takes without stress, at this demand.

    p = p_table + 0.04 (5 − ETc), held within 0.1–0.8 (FAO-56 Table 22, footnote).
    """
    p = np.asarray(p_table, dtype=np.float64) + 0.04 * (5.0 - np.asarray(etc_mm_d, dtype=np.float64))
    return np.asarray(np.clip(p, 0.1, 0.8))
