"""What a family of rules uses of water where it leaves the turf as short as another way of watering does.

Two ways can be compared by their water only where they leave the same demand unmet. Whoever takes one rule
of a family on some days and another on the others gets what lies between them, so the best that a family
can do is the lower convex hull of its points (unmet, water).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from advisor.replay.rivals import Point

Pair = tuple[float, float]
ALIKE_MM = 0.5
"""Water, used or gone short of, that differs by less over a season is told as the same: a gauge and the minutes of a
run are no surer than that, so nobody could see the difference on a lawn. Our judgement, no source; it is shown with
and steers nothing."""


def water_at(points: Sequence[Point], unmet_mm: float) -> float | None:
    """The least water (mm, with what is owed) by which a family leaves no more than `unmet_mm` unmet.

    None where even its most generous rule leaves more, by so much that it can be told.
    """
    if not points or unmet_mm < least_unmet(points) - ALIKE_MM:
        return None
    pairs = [(point.grass.unmet_mm, point.spent_mm) for point in points]
    return sum(w * water for w, (_, water) in zip(mixture(pairs, unmet_mm), pairs, strict=True))


def least_unmet(points: Sequence[Point]) -> float:
    """What the most generous rule of a family leaves unmet, mm."""
    return min(point.grass.unmet_mm for point in points)


def mixture(pairs: Sequence[Pair], unmet_mm: float) -> list[float]:
    """The weights, one a pair of unmet demand and water, of the mixture that leaves so much unmet for the least
    water.

    Where every rule leaves more, it is the one that leaves least; where none leaves as much, the one that uses
    least water.

    >>> mixture([(0.0, 400.0), (10.0, 300.0), (5.0, 390.0)], 2.5)
    [0.75, 0.25, 0.0]
    """
    hull = lower_hull(pairs)
    weights = [0.0] * len(pairs)
    if unmet_mm <= pairs[hull[0]][0]:
        weights[hull[0]] = 1.0
        return weights
    for left, right in pairwise(hull):
        begin, end = pairs[left][0], pairs[right][0]
        if unmet_mm <= end:
            share = (unmet_mm - begin) / (end - begin)
            weights[left], weights[right] = 1.0 - share, share
            return weights
    weights[hull[-1]] = 1.0
    return weights


def lower_hull(pairs: Sequence[Pair]) -> list[int]:
    """The indices of the corners from the least unmet to the least water: convex, and falling all the way.

    >>> lower_hull([(0, 10), (1, 9), (2, 4), (3, 5), (4, 3), (9, 3)])
    [0, 2, 4]
    """
    corners: list[int] = []
    for i in sorted(range(len(pairs)), key=lambda i: pairs[i]):
        if corners and pairs[i][1] >= pairs[corners[-1]][1]:
            continue  # more is left unmet, and no water is spared
        while len(corners) >= 2 and _above(pairs[corners[-2]], pairs[corners[-1]], pairs[i]):
            corners.pop()
        corners.append(i)
    return corners


def _above(a: Pair, b: Pair, c: Pair) -> bool:
    """Whether b lies on or above the line from a to c."""
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])
