"""The day with one thing changed: what must move, and nothing else.

The whole list of changes is ``mutations.MUTATIONS``; here the telling ones,
because each is a replay of the day.  ``python -m tests.slow.changed_days`` plays all.
"""

from __future__ import annotations

import pytest

from tests.acceptance import day
from tests.acceptance.mutations import MUTATIONS, Mutation

PLAYED_EVERY_TIME = (
    "wash one second over 180 s a part",
    "dwell one second short",
    "developer one second short for the first view",
    "re-view ends one second after the developer's limit",
    "dryer to developer one second over, no reason",
    "part at 59.9 F: twice the dwell",
    "no pre-clean before the second attempt",
    "LP-3 at mid-day 1010: no containment",
    "LP-3 at mid-day 999.9",
    "LP-1 bad at mid-day",
    "LP-4 bad at closing",
    "no closing readings",
    "LP-2 typed in the wrong unit",
    "LP-4 read at 12 in at mid-day",
    "LP-4 bad before the day's first view",
    "UV-A channel of RM-1 out of calibration",
    "RM-1 found 9 % high in September",
    "RM-1 found 50 % high",
    "no second bath result",
    "bath too thin in the afternoon",
    "ring with four holes",
    "amps at plus 10 %",
    "current of another technique, shot not given up",
    "the coil shot is missing",
    "never demagnetised",
    "residual field over the limit",
    "gaussmeter out of calibration",
    "panel of the Method A line not all seen",
    "vision of L2-B ended yesterday",
    "certificate of L2-A ended yesterday",
    "second look by the first inspector",
    "technique of another part",
    "view ends before it starts: it never ended",
    "lamp of the other booth",
    "directive not answered",
    "blend too deep",
    "no rework recorded before its re-inspection",
    "four pores in line",
    "head cleaned before its re-view",
    "cover went to assembly unsaid: the scan is refused while the acceptance is provisional",
    "an inspection twice",
)
CHOSEN = [mutation for mutation in MUTATIONS if mutation.name in PLAYED_EVERY_TIME]


def check(mutation: Mutation) -> None:
    """Play a changed day and compare every record, event and containment with what is written down."""
    changed = day.Day()
    mutation.change(changed)
    replayed = day.replayed(changed)
    assert day.differences(replayed) == mutation.records
    assert day.unlike_before(replayed) == mutation.events
    containments = day.unchanged().containments() if mutation.containments is None else mutation.containments
    assert replayed.containments() == containments
    assert list(day.broken_law(replayed)) == []


@pytest.mark.parametrize("mutation", CHOSEN, ids=lambda mutation: mutation.name)
def test_changed_day(mutation: Mutation) -> None:
    check(mutation)


def test_every_chosen_change_exists_once() -> None:
    names = [mutation.name for mutation in MUTATIONS]
    assert len(set(names)) == len(names)
    assert set(PLAYED_EVERY_TIME) <= set(names)


def test_a_piece_in_no_record_is_counted() -> None:
    """Eleven of twelve tappets inspected: the lot is refused, and the twelfth piece does not vanish from the count."""
    changed = day.Day()
    changed.set("inspections_mt", {"insp": "MT-011"}, qty="11")
    pieces = day.replayed(changed).summary["figures"]["pieces"]["W26-0148"]
    assert {word: count for word, count in pieces.items() if count} == {
        "received": 123,
        "ACCEPT": 85,
        "REJECT": 2,
        "HOLD-ENG": 1,
        "SUSPENDED": 11,
        "NO DECISION": 24,
    }
