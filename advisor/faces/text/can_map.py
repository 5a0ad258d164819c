"""The cans where they stood: a picture for the terminal and one as an SVG file."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from advisor.advice import Reading
from advisor.units import show

PLOT_WIDE, PLOT_LEAST, PLOT_MOST, EDGE = 640.0, 120.0, 640.0, 50.0

Placed = tuple[float, float, float, bool]


def placed(readings: Sequence[Reading]) -> list[Placed]:
    """(x m, y m, depth mm, whether among the driest quarter) of the cans whose places are known."""
    known = [(r.x_m, r.y_m, r.depth_mm) for r in readings if r.x_m is not None and r.y_m is not None]
    order = sorted(range(len(known)), key=lambda i: known[i][2])
    driest = set(order[: max(1, len(known) // 4)])
    return [(x, y, depth, i in driest) for i, (x, y, depth) in enumerate(known)]


def text_map(readings: Sequence[Reading], units: str, *, width: int) -> list[str]:
    """Each can in percent of the mean at its place, large y on top; empty without places."""
    cans = placed(readings)
    if not cans:
        return []
    labels = [f"{share}{'*' if can[3] else ''}" for can, share in zip(cans, _shares(cans), strict=True)]
    wide = max(map(len, labels)) + 1
    left, low, across, up = _bounds(cans)
    room = max(wide, min(width - wide - 2, 78))
    high = max(1, min(24, round(room * up / across / 2))) if across else min(24, 2 * len(cans))
    rows: dict[int, list[str]] = {}
    for (x, y, _, _), label in sorted(zip(cans, labels, strict=True), key=lambda c: (-c[0][1], c[0][0])):
        column = round((x - left) / across * room) if across else 0
        row = round((low + up - y) / up * high) if up else 0
        while any(c != " " for c in rows.get(row, [])[max(0, column - 1) : column + wide]):
            row += 1
        line = rows.setdefault(row, [])
        line += " " * (column + len(label) - len(line))
        line[column : column + len(label)] = label
    size = f"{show(across, 'length', units)} across, {show(up, 'length', units)} up the page"
    picture: list[str] = []
    for row in range(max(rows) + 1):
        if row in rows or picture[-1]:  # no more than one empty line between rows of cans
            picture.append(("  " + "".join(rows[row])) if row in rows else "")
    return [*picture, f"  100 is the mean; * the driest quarter; {size}"]


def svg_map(readings: Sequence[Reading], units: str, *, title: str) -> str:
    """The same as a picture: darker means wetter, a dashed ring the driest quarter."""
    cans = placed(readings)
    left, low, across, up = _bounds(cans)
    scale = PLOT_WIDE / across if across else (PLOT_MOST / up if up else 1.0)
    scale = min(scale, PLOT_MOST / up) if up else scale
    wide, tall = max(across * scale, PLOT_LEAST), max(up * scale, PLOT_LEAST)
    least, most = min(c[2] for c in cans), max(c[2] for c in cans)
    radius = min(22.0, max(9.0, 0.4 * (wide * tall / len(cans)) ** 0.5))
    parts = []
    for (x, y, depth, dry), share_of_mean in zip(cans, _shares(cans), strict=True):
        at = f'cx="{EDGE + (x - left) * scale:.1f}" cy="{2 * EDGE + (low + up - y) * scale:.1f}"'
        text = at.replace("cx", "x").replace("cy", "y")
        share = (depth - least) / (most - least) if most > least else 0.5
        ring = 'stroke="#b3261e" stroke-width="2.5" stroke-dasharray="4 3"' if dry else 'stroke="#33507a"'
        ink = "#ffffff" if share > 0.45 else "#10233f"
        parts.append(
            f'<circle {at} r="{radius:.1f}" fill="hsl(212 60% {92 - 52 * share:.0f}%)" {ring}/>'
            f'<text {text} dy="0.35em" text-anchor="middle" font-size="{radius * 0.7:.1f}" fill="{ink}">'
            f"{share_of_mean}</text>"
        )
    width, height = wide + 2 * EDGE, tall + 3 * EDGE
    note = (
        "100 is the mean; dashed ring: the driest quarter; "
        f"{show(across, 'length', units)} by {show(up, 'length', units)}"
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
            f'viewBox="0 0 {width:.0f} {height:.0f}" font-family="sans-serif" role="img">',
            f"<title>{escape(title)}</title>",
            '<rect width="100%" height="100%" fill="#ffffff"/>',
            f'<text x="{EDGE / 2:.0f}" y="28" font-size="15" fill="#10233f">{escape(title)}</text>',
            f'<text x="{EDGE / 2:.0f}" y="48" font-size="11" fill="#33507a">{escape(note)}</text>',
            *parts,
            "</svg>",
            "",
        ]
    )


def _bounds(cans: Sequence[Placed]) -> tuple[float, float, float, float]:
    """Least x, least y, extent in x, extent in y."""
    xs, ys = [c[0] for c in cans], [c[1] for c in cans]
    return min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)


def _shares(cans: Sequence[Placed]) -> list[str]:
    """Each depth as percent of their mean."""
    mean = sum(c[2] for c in cans) / len(cans)
    return [f"{100 * c[2] / mean:.0f}" for c in cans]
