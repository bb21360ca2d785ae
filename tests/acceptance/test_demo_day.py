"""The demonstration day, replayed: every expected answer, every record as its own table says it ended, every figure."""

from __future__ import annotations

import pytest

from tests.acceptance import day

RECORDS = {
    "total": 61,
    "accept": 39,
    "accept after re-view": 6,
    "split": 1,
    "reject": 3,
    "rework closed": 1,
    "rework open": 0,
    "suspended": 10,
    "hold-eng": 1,
    "no decision": 0,
}
BY_WORK_ORDER = {
    "W26-0148": {**RECORDS, "total": 45, "accept": 25, "reject": 1},
    "W26-0151": {**dict.fromkeys(RECORDS, 0), "total": 16, "accept": 14, "reject": 2},
}
PIECES = {
    "W26-0148": {"received": 123, "ACCEPT": 97, "REJECT": 2, "HOLD-ENG": 1, "SUSPENDED": 11, "NO DECISION": 12},
    "W26-0151": {"received": 84, "ACCEPT": 18, "REJECT": 2, "NO DECISION": 64},
}
SUSPENDED = [f"PT-{number:03d}" for number in range(1, 12)]
ROWS = {row["insp"]: row for table in ("inspections_mt", "inspections_pt") for row in day.Day().tables[table].rows}
EVENTS = [row["#"] for row in day.Day().tables["events"].rows]


@pytest.fixture(scope="module")
def replayed() -> day.Replayed:
    return day.unchanged()


@pytest.mark.parametrize("event", EVENTS)
def test_every_event_is_answered_as_expected(replayed: day.Replayed, event: str) -> None:
    assert replayed.events[event].missing == ()


def test_thirty_events(replayed: day.Replayed) -> None:
    assert len(replayed.events) == len(EVENTS) == 30


def ended(row: dict[str, str]) -> tuple[str, bool]:
    """Decision and suspension that a row of the day's own tables states."""
    text = row.get("end_of_day") or row["inspector_decision"]
    decision = row["inspector_decision"]
    return decision, text.endswith("SUSPENDED")


@pytest.mark.parametrize("inspection", ROWS)
def test_every_record_ends_as_its_row_says(replayed: day.Replayed, inspection: str) -> None:
    record = replayed.summary["records"][inspection]
    assert (record["decision"], record["suspended"]) == ended(ROWS[inspection])
    assert not record["provisional"]


def test_no_other_record(replayed: day.Replayed) -> None:
    assert replayed.records.keys() == ROWS.keys()


def test_records_by_category(replayed: day.Replayed) -> None:
    assert replayed.summary["figures"]["records"] == RECORDS
    assert replayed.summary["figures"]["records_by_work_order"] == BY_WORK_ORDER


@pytest.mark.parametrize("work_order", PIECES)
def test_pieces(replayed: day.Replayed, work_order: str) -> None:
    found = {word: count for word, count in replayed.summary["figures"]["pieces"][work_order].items() if count}
    assert found == PIECES[work_order]


def test_what_can_be_verified(replayed: day.Replayed) -> None:
    figures = replayed.summary["figures"]
    assert (figures["verifiable"], sorted(figures["not_verifiable"])) == (50, SUSPENDED)


def test_the_one_containment(replayed: day.Replayed) -> None:
    assert replayed.containments() == {"CT-01": "LP-3: 17 records, 18 pieces, second looks SC-03 SC-10 SC-11"}
    actions = replayed.summary["containments"]["CT-01"]["actions"]
    assert {name: action for name, action in actions.items() if action != "reprocess"} == {
        "PT-006": "retrieve",
        **{f"PT-{number:03d}": "re-view" for number in range(12, 18)},
    }


def test_one_refusal_beside_the_events(replayed: day.Replayed) -> None:
    assert [text.partition(": ")[2] for text in replayed.refused] == ["select meter refused: RM-2 expired 2026-03-06"]


def test_nothing_is_accepted_over_an_open_line(replayed: day.Replayed) -> None:
    assert list(day.broken_law(replayed)) == []
