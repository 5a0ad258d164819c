"""How much water a family of rules uses where it lets the grass go as short as ours does.

Rules may be mixed, one on some seasons or zones and another on the rest, so the family's frontier is the lower convex
hull of its points (demand unmet, water).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

Pair = tuple[float, float]


def mixture(points: Sequence[Pair], unmet_mm: float) -> list[float]:
    """The weights, one a point, of the mixture that uses least water at so much unmet demand.

    Where every point goes shorter than that, it is the one that goes least short; where none goes as short,
    the one that uses least.

    >>> mixture([(0.0, 400.0), (10.0, 300.0), (5.0, 390.0)], 2.5)
    [0.75, 0.25, 0.0]
    """
    hull = frontier_of(points)
    weights = [0.0] * len(points)
    if unmet_mm <= points[hull[0]][0]:
        weights[hull[0]] = 1.0
        return weights
    for left, right in pairwise(hull):
        begin, end = points[left][0], points[right][0]
        if begin <= unmet_mm <= end:
            share = (unmet_mm - begin) / (end - begin)
            weights[left], weights[right] = 1.0 - share, share
            return weights
    weights[hull[-1]] = 1.0
    return weights


def water_at(points: Sequence[Pair], unmet_mm: float) -> float:
    """The water that the best mixture uses at so much unmet demand, mm.

    >>> water_at([(0.0, 400.0), (10.0, 300.0), (5.0, 390.0)], 2.5)
    375.0
    """
    return sum(w * water for w, (_, water) in zip(mixture(points, unmet_mm), points, strict=True))


def frontier_of(points: Sequence[Pair]) -> list[int]:
    """The indices of the points on the falling part of the lower convex hull, by rising unmet demand.

    >>> frontier_of([(0.0, 400.0), (10.0, 300.0), (5.0, 390.0), (12.0, 320.0)])
    [0, 1]
    """
    order = sorted(range(len(points)), key=lambda i: points[i])
    hull: list[int] = []
    for i in order:
        if hull and points[i][1] >= points[hull[-1]][1]:
            continue  # goes shorter and saves nothing
        while len(hull) >= 2 and _above(points[hull[-2]], points[hull[-1]], points[i]):
            hull.pop()
        hull.append(i)
    return hull


def _above(left: Pair, middle: Pair, right: Pair) -> bool:
    """Whether the middle point lies on or above the line from left to right."""
    return (middle[1] - left[1]) * (right[0] - left[0]) >= (right[1] - left[1]) * (middle[0] - left[0])
