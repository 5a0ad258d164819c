"""What a family of rules uses of water where it leaves the turf as short as another way of watering does.

Two ways can be compared by their water only where they leave the same demand unmet. Whoever takes one rule
of a family on some days and another on the others gets what lies between them, so the best that a family
can do is the lower convex hull of its points (unmet, water).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from advisor.replay.rivals import Point


def water_at(points: Sequence[Point], unmet_mm: float) -> float | None:
    """The least water (mm, with what is owed) by which a family leaves no more than `unmet_mm` unmet.

    None where even its most generous rule leaves more.
    """
    hull = lower_hull([(point.grass.unmet_mm, point.water_mm) for point in points])
    if not hull or unmet_mm < hull[0][0]:
        return None
    for (near, more), (far, less) in itertools.pairwise(hull):
        if unmet_mm <= far:
            return more + (less - more) * (unmet_mm - near) / (far - near)
    return hull[-1][1]


def least_unmet(points: Sequence[Point]) -> float:
    """What the most generous rule of a family leaves unmet, mm."""
    return min(point.grass.unmet_mm for point in points)


def lower_hull(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The corners from the least unmet to the least water: convex, and falling all the way.

    >>> lower_hull([(0, 10), (1, 9), (2, 4), (3, 5), (4, 3), (9, 3)])
    [(0, 10), (2, 4), (4, 3)]
    """
    corners: list[tuple[float, float]] = []
    for unmet, water in sorted(points):
        if corners and water >= corners[-1][1]:
            continue  # more is left unmet, and no water is spared
        while len(corners) >= 2 and _above(corners[-2], corners[-1], (unmet, water)):
            corners.pop()
        corners.append((unmet, water))
    return corners


def _above(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Whether b lies on or above the line from a to c."""
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])
