"""The answers on two hundred made evenings are those that are kept; whoever changes one says why.

To keep the answers of today: python tests/made_evenings.py. The file then shows in the change which evenings
answer otherwise, and in what.
"""

from __future__ import annotations

from collections import Counter

from made_evenings import COUNT, KEPT, answer_on, differences, evenings, read_answers


def test_each_made_evening_is_answered_as_before() -> None:
    kept = read_answers(KEPT)
    asked = {one.name: one for one in evenings()}
    assert list(asked) == list(kept)
    changed = {
        name: found for name, one in asked.items() if (found := list(differences(kept[name], answer_on(one))))
    }
    assert changed == {}


def test_the_made_evenings_hold_every_sort_of_answer() -> None:
    kept = [answer for answer in read_answers(KEPT).values() if "error" not in answer]
    verdicts = Counter(zone["verdict"] for answer in kept for zone in answer["zones"].values())
    actions = Counter(one["action"] for answer in kept for one in answer["obligations"])
    assert COUNT - 10 < len(kept) <= COUNT
    assert min(verdicts[v] for v in ("run", "wait", "cannot", "leave to rain", "not needed")) >= 3
    assert min(actions[a] for a in ("run", "wait", "rain", "keep dry", "keep moist", "none")) >= 3
    assert sum(any(run["conditional"] for run in answer["runs"]) for answer in kept) >= 30
    assert sum(bool(answer["not_planned"]) for answer in kept) >= 15
    assert not any(answer["failed_checks"] for answer in kept)
