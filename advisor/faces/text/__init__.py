"""What a terminal, a page to print or a message shows, as plain text.

It shows what was handed out and computes nothing. Nothing here loads arrays or the code that decides.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.faces.text.advice_text import advice_text, explain_text
    from advisor.faces.text.audit_text import audit_text
    from advisor.faces.text.can_map import placed, svg_map
    from advisor.faces.text.clock_sheet_text import sheet_csv, sheet_html, sheet_text
    from advisor.faces.text.mix_text import mix_text
    from advisor.faces.text.paragraphs import bullets, terminal_width
    from advisor.faces.text.rain_text import rain_text
    from advisor.faces.text.replay_text import own_season_text, replay_text
    from advisor.faces.text.rounds_text import rounds_text
    from advisor.faces.text.runtime_text import runtime_text
    from advisor.faces.text.status_text import status_text
    from advisor.faces.text.weather_text import weather_csv, weather_text
    from advisor.faces.text.why_text import why_text
else:
    __getattr__ = lazy(
        __name__,
        {
            "advice_text": ["advice_text", "explain_text"],
            "audit_text": ["audit_text"],
            "can_map": ["placed", "svg_map"],
            "clock_sheet_text": ["sheet_csv", "sheet_html", "sheet_text"],
            "mix_text": ["mix_text"],
            "paragraphs": ["bullets", "terminal_width"],
            "rain_text": ["rain_text"],
            "replay_text": ["own_season_text", "replay_text"],
            "rounds_text": ["rounds_text"],
            "runtime_text": ["runtime_text"],
            "status_text": ["status_text"],
            "weather_text": ["weather_csv", "weather_text"],
            "why_text": ["why_text"],
        },
    )

__all__ = [
    "advice_text",
    "audit_text",
    "bullets",
    "explain_text",
    "mix_text",
    "own_season_text",
    "placed",
    "rain_text",
    "replay_text",
    "rounds_text",
    "runtime_text",
    "sheet_csv",
    "sheet_html",
    "sheet_text",
    "status_text",
    "svg_map",
    "terminal_width",
    "weather_csv",
    "weather_text",
    "why_text",
]
