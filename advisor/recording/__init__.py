"""Recording, editing and undoing what happened.

What is asked becomes a record, checked against the lawn and against what is there. No face inside: whoever
asks shows the outcome.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.recording.as_advised import AsAdvisedEntry, advised_runs
    from advisor.recording.carry import (
        Wanted,
        examine_records,
        export_records,
        kinds_asked,
        of_kinds,
        refuse_held,
        take_in_records,
        undo_last,
    )
    from advisor.recording.edit import edit_record, remove_record
    from advisor.recording.entry import (
        ApplicationEntry,
        Entry,
        ProbeEntry,
        RainEntry,
        RunEntry,
        StockEntry,
        keep,
        understood,
    )
    from advisor.recording.gate import keep_audit
    from advisor.recording.said import all_named, named
    from advisor.recording.what_if import Question, asked_about, will_rain_do_it
else:
    __getattr__ = lazy(
        __name__,
        {
            "as_advised": ["AsAdvisedEntry", "advised_runs"],
            "carry": [
                "Wanted",
                "examine_records",
                "export_records",
                "kinds_asked",
                "of_kinds",
                "refuse_held",
                "take_in_records",
                "undo_last",
            ],
            "edit": ["edit_record", "remove_record"],
            "entry": [
                "ApplicationEntry",
                "Entry",
                "ProbeEntry",
                "RainEntry",
                "RunEntry",
                "StockEntry",
                "keep",
                "keep_audit",
                "understood",
            ],
            "gate": ["keep_audit"],
            "said": ["all_named", "named"],
            "what_if": ["Question", "asked_about", "will_rain_do_it"],
        },
    )

__all__ = [
    "ApplicationEntry",
    "AsAdvisedEntry",
    "Entry",
    "ProbeEntry",
    "Question",
    "RainEntry",
    "RunEntry",
    "StockEntry",
    "Wanted",
    "advised_runs",
    "all_named",
    "asked_about",
    "edit_record",
    "examine_records",
    "export_records",
    "keep",
    "keep_audit",
    "kinds_asked",
    "named",
    "of_kinds",
    "refuse_held",
    "remove_record",
    "take_in_records",
    "understood",
    "undo_last",
    "will_rain_do_it",
]
