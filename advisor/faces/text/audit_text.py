"""An audit in plain text: the verdict first, then the figures, the map, what to look at."""

from __future__ import annotations

from pathlib import Path

from advisor.advice import AuditResult
from advisor.faces.text.can_map import text_map
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.lawn import AuditMethod
from advisor.units import show
from advisor.wording import Say, count_words, heading_time


def audit_text(
    say: Say, result: AuditResult, *, width: int, demo: bool = False, kept: Path | None = None
) -> str:
    """The whole audit for a terminal of `width` columns; `kept` is where it was recorded, if it was."""
    title = f"{result.zone}: {result.method}, {heading_time(result.measured_at.astimezone(say.zone))}"
    lines = [title, "=" * min(len(title), width)]
    if demo:
        lines.append("Invented demo: nothing is recorded.")
    lines += ["", *wrapped(result.verdict, width), "", *columns(_figures(result, say.units))]
    picture = text_map(result.readings, say.units, width=width)
    if picture:
        lines += ["", "The cans where they stood", *picture]
    if result.look_at:
        lines += ["", "Look at", *bullets(result.look_at, width)]
    lines += ["", "Take care", *bullets((c.text for c in result.cautions), width)]
    end = f"Recorded in {kept}: runs rest on it from now on." if kept else "Not recorded."
    return "\n".join([*lines, "", *wrapped(end, width)]) + "\n"


def _figures(result: AuditResult, units: str) -> list[list[str]]:
    def rate(mm_h: float) -> str:
        return show(mm_h, "rate", units, 3 if units == "us" else 2)

    sure = f"{rate(result.rate_low_mm_h)} to {rate(result.rate_high_mm_h)}"
    rows = [
        [
            "Precipitation rate",
            rate(result.rate_mm_h),
            sure if result.method != AuditMethod.FLOW_METER else "",
        ]
    ]
    if result.driest_mm_h is not None:
        rows.append(["Driest quarter's rate", rate(result.driest_mm_h), ""])
    if result.uniformity is not None:
        span = ""
        if result.uniformity_low is not None and result.uniformity_high is not None:
            low, high = (show(v, "share", units) for v in (result.uniformity_low, result.uniformity_high))
            span = f"{low} to {high}"
        rows.append(["Low-quarter uniformity", show(result.uniformity, "share", units), span])
    if result.christiansen is not None:
        rows.append(["Christiansen coefficient", show(result.christiansen, "share", units), ""])
    if result.multiplier is not None and result.strict_multiplier is not None:
        rows.append(
            ["Scheduling multiplier", f"{result.multiplier:.2f}", f"strict {result.strict_multiplier:.2f}"]
        )
    cans = f"{count_words(result.cans, 'can')}, " if result.cans else ""
    return [*rows, ["Confidence", result.confidence, f"{cans}{result.minutes:g} min"]]
