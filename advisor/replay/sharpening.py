"""Errors of forecasts that sharpen: what is told of a block loses a part of its error with every issue."""

from __future__ import annotations

import numpy as np

from advisor.weather import Array


def issue_errors(fresh: Array, variance: Array, count: int) -> Array:
    """The error (count, k) of each block at each lead of which the variance (k,), rising, is given.

    `fresh` (count + k, k) are standard normal draws, a row for each issue, the first k before block 0; a row
    may be correlated over its leads. The error of block b, k ahead, is the sum of what the issues from b − k
    to b left: an issue's row belongs to the blocks from its own on.
    """
    ahead = len(variance)
    leads = np.arange(ahead)
    steps = np.sqrt(np.diff(variance, prepend=0.0))
    rows = np.arange(count)[:, None] - leads[None, :] + ahead
    return np.asarray(np.cumsum(fresh[rows, leads] * steps, axis=1))


def issued(values: Array, issue: int) -> Array:
    """What is issued in block `issue`, (k,): of `values` (n, k) by block and lead, a block more a lead."""
    leads = np.arange(values.shape[1])
    return np.asarray(values[issue + leads, leads])
