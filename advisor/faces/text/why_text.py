"""Which judged numbers tonight's answers hang on, in plain text. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from advisor.advice import ApplicationHangsOn, JudgedWhy, ZoneHangsOn
from advisor.faces.text.paragraphs import MOST_WIDE, bullets, not_kept_lines, wrapped
from advisor.sentences import application_hangs_words, zone_hangs_words
from advisor.wording import INVENTED, heading_time

LEAD = (
    "Some numbers that the advice rests on are judged, because nobody has published them. Here each of them is "
    "halved and doubled, as far as that is reasonable, and the night advised again."
)


def why_text(why: JudgedWhy, *, width: int = MOST_WIDE, demo: bool = False) -> str:
    """What tonight's answers hang on, for a terminal of `width` columns."""
    local = why.now.astimezone(ZoneInfo(why.time_zone))
    title = f"{why.site} — what tonight's answers hang on, {heading_time(local)}"
    lines = [title, "=" * len(title)]
    if demo:
        lines.append(INVENTED)
    lines += not_kept_lines(why.not_kept, width)
    lines += ["", *wrapped(LEAD, width)]
    for words, turns in _told(why):
        lines += ["", *wrapped(words, width), *bullets(turns, width)]
    lines += ["", *wrapped(f"{why.tried} numbers tried.", width)]
    return "\n".join(lines) + "\n"


def _told(why: JudgedWhy) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each answer with what would change it: the zones, then what was put down."""
    together: dict[tuple[object, ...], list[ZoneHangsOn]] = {}
    for zone in why.zones:
        turned = tuple((turn.number, turn.verdict) for turn in zone.turns if turn.verdict != zone.verdict)
        together.setdefault((zone.verdict, turned, not zone.turns), []).append(zone)
    for zones in together.values():
        words = dict.fromkeys(turn.words for zone in zones for turn in zone.turns)
        yield zone_hangs_words(*zones), tuple(words)
    alike: dict[tuple[object, ...], list[ApplicationHangsOn]] = {}
    for one in why.applications:
        alike.setdefault((one.action, one.turns), []).append(one)
    for those in alike.values():
        yield application_hangs_words(those), tuple(turn.words for turn in those[0].turns)
