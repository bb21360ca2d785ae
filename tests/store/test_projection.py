"""What the read tables say after facts that come in order, late, or corrected."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound
from ndi.domain.quantity import Number
from ndi.services.ports import Book, InspectionRow, PartRow, Session, UseRow
from ndi.store.book import SqliteBook
from tests.store.conftest import draft, moment, put
from tests.store.shop_day import opened, shot, signed, viewed

WHY = "typed on the wrong line"


def _inspection(book: SqliteBook, inspection: str = "I1") -> InspectionRow:
    with book.session(readonly=True) as session:
        return session.inspection(inspection)


def _part(book: SqliteBook, part: str = "P1") -> PartRow:
    with book.session(readonly=True) as session:
        return session.part(part)


def _uses(book: SqliteBook, name: str, after: float | None = None, until: float | None = None) -> list[UseRow]:
    with book.session(readonly=True) as session:
        return session.uses(
            name, None if after is None else moment(after).at, None if until is None else moment(until).at
        )


def _spans(book: SqliteBook, name: str) -> list[tuple[str, float, float | None]]:
    """(inspection, start, end) in minutes of the day."""
    start = moment().at

    def minutes(at: Any) -> float | None:
        return None if at is None else (at - start).total_seconds() / 60

    return [(use.inspection, minutes(use.started) or 0, minutes(use.ended)) for use in _uses(book, name)]


def test_book_and_session_keep_their_protocols(book: SqliteBook) -> None:
    as_book: Book = book
    with as_book.session() as session:
        as_session: Session = session
        assert as_session.head().position == 2


# --- parts ---


def test_part_as_listed(book: SqliteBook) -> None:
    put(book, draft(f.PartListed("P1", "WO-1", "PN-1", 4, lot="L7", description="bolt", reason_code="not sampled")))
    assert _part(book) == PartRow("P1", "WO-1", "PN-1", None, "L7", 4, "not sampled", "bolt", None)


def test_parts_come_in_the_order_they_were_listed(book: SqliteBook) -> None:
    put(book, draft(f.PartListed("P2", "WO-1", "A", 1), 5), draft(f.PartListed("P1", "WO-1", "A", 1), 1))
    put(book, draft(f.PartListed("P0", "WO-2", "A", 1)))
    with book.session() as session:
        assert [part.part for part in session.parts()] == ["P2", "P1", "P0"]
        assert [part.part for part in session.parts("WO-2")] == ["P0"]


def test_part_stands_where_the_latest_scan_saw_it(book: SqliteBook) -> None:
    put(book, draft(f.PartMoved("P1", "dock"), 1), draft(f.PartListed("P1", "WO-1", "A", 1), 2))
    assert _part(book).place == "dock"
    put(book, draft(f.PartMoved("P1", "rack"), 9), draft(f.PartMoved("P1", "line"), 5))
    assert _part(book).place == "rack"


def test_corrected_part_keeps_its_place_in_list_and_shop(book: SqliteBook) -> None:
    first, _ = put(book, draft(f.PartListed("P1", "WO-1", "A", 1)), draft(f.PartListed("P2", "WO-1", "A", 1)))
    put(book, draft(f.PartMoved("P1", "rack"), 9), draft(opened("I1", "P1")))
    put(book, draft(f.PartListed("P1", "WO-1", "B", 3), supersedes=first.uid, why=WHY))
    with book.session() as session:
        assert [part.part for part in session.parts()] == ["P1", "P2"]
    assert (_part(book).part_no, _part(book).quantity, _part(book).place) == ("B", 3, "rack")
    assert _inspection(book).part_no == "B"


def test_part_that_was_listed_under_a_wrong_name(book: SqliteBook) -> None:
    (first,) = put(book, draft(f.PartListed("P1", "WO-1", "A", 1)))
    put(book, draft(f.PartListed("P9", "WO-1", "A", 1), supersedes=first.uid, why=WHY))
    assert _part(book, "P9").part_no == "A"
    with pytest.raises(NotFound, match="P1"):
        _part(book)


def test_same_part_or_inspection_is_not_entered_twice(book: SqliteBook) -> None:
    listed, inspection = draft(f.PartListed("P1", "WO-1", "A", 1)), draft(opened("I1", "P1"))
    put(book, listed, inspection)
    for again in ([listed], [inspection], [draft(opened("I2", "P1")), draft(opened("I2", "P1"))]):
        with book.session() as session, pytest.raises(InputError, match="already"):
            session.append(again)
    old, _ = put(book, draft(f.PartListed("P2", "WO-1", "A", 1)), draft(f.PartListed("P3", "WO-1", "A", 1)))
    with book.session() as session, pytest.raises(InputError, match="part P3 is in the book already"):
        session.append([draft(f.PartListed("P3", "WO-1", "A", 1), supersedes=old.uid, why=WHY)])


# --- inspections ---


def test_inspection_as_opened(book: SqliteBook) -> None:
    put(book, draft(f.PartListed("P1", "WO-1", "PN-1", 1)))
    (entry,) = put(book, draft(opened("I1", "P1", reason="rework", previous="I0"), 3))
    assert _inspection(book) == InspectionRow(
        inspection="I1",
        part="P1",
        work_order="WO-1",
        part_no="PN-1",
        quantity=1,
        method="MT",
        technique="T-1",
        procedure="Q-1",
        procedure_revision="C",
        inspector="ann",
        reason="rework",
        previous="I0",
        opened_at=moment(3).at,
        disposition="NO DECISION",
        provisional=False,
        suspended=False,
        decision=None,
        decided_at=None,
        verified=False,
        version=entry.position,
    )


def test_inspection_of_an_unlisted_part_has_no_part_number(book: SqliteBook) -> None:
    put(book, draft(opened("I1", "P1")))
    assert _inspection(book).part_no == ""


def test_inspections_by_work_order_and_part_in_order_of_opening(book: SqliteBook) -> None:
    put(book, draft(opened("I2", "P1"), 5), draft(opened("I1", "P2"), 1))
    other = dataclasses.replace(opened("I3", "P1"), work_order="WO-2")
    put(book, draft(other))
    with book.session() as session:
        assert [row.inspection for row in session.inspections()] == ["I2", "I1", "I3"]
        assert [row.inspection for row in session.inspections(work_order="WO-1")] == ["I2", "I1"]
        assert [row.inspection for row in session.inspections(part="P1")] == ["I2", "I3"]
        assert [row.inspection for row in session.inspections(work_order="WO-2", part="P1")] == ["I3"]
        assert session.inspections(part="P9") == []


def test_version_is_the_last_entry_that_names_the_inspection(book: SqliteBook) -> None:
    put(book, draft(opened("I1", "P1")), draft(opened("I2", "P2")))
    (loaded,) = put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1", "I2"), 1)))
    (counted,) = put(book, draft(f.PlugsCounted("I1", "in", 2)))
    put(book, draft(f.EquipmentSwitched("LAMP-1", "on")))
    assert (_inspection(book).version, _inspection(book, "I2").version) == (counted.position, loaded.position)


def test_corrected_opening_leaves_the_decision(book: SqliteBook) -> None:
    (entry,) = put(book, draft(opened("I1", "P1")))
    (decision,) = put(book, draft(signed("I1", "P1")))
    (new,) = put(book, draft(opened("I1", "P1", "PT"), supersedes=entry.uid, why=WHY))
    row = _inspection(book)
    assert (row.method, row.disposition, row.decision, row.version) == ("PT", "ACCEPT", decision.position, new.position)


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ([signed("I1", "P1")], ("ACCEPT", False, False, False)),
        ([signed("I1", "P1", provisional=True)], ("ACCEPT", True, False, False)),
        ([signed("I1", "P1", provisional=True), f.ProvisionalCleared("I1", "P1", 3)], ("ACCEPT", False, False, False)),
        ([signed("I1", "P1"), f.AcceptanceSuspended("I1", "P1", ("L01",), 3)], ("ACCEPT", False, True, False)),
        (
            [signed("I1", "P1"), f.AcceptanceSuspended("I1", "P1", (), 3), f.AcceptanceRestored("I1", "P1", 4)],
            ("ACCEPT", False, False, False),
        ),
        (
            [signed("I1", "P1"), f.AcceptanceSuspended("I1", "P1", (), 3), signed("I1", "P1", "REJECT")],
            ("REJECT", False, False, False),
        ),
        ([signed("I1", "P1"), f.VerificationSigned("bob", ("I1",), ())], ("ACCEPT", False, False, True)),
        ([signed("I1", "P1"), f.VerificationSigned("bob", (), ("I1",))], ("ACCEPT", False, False, False)),
        (
            [signed("I1", "P1"), f.VerificationSigned("bob", ("I1",), ()), signed("I1", "P1")],
            ("ACCEPT", False, False, False),
        ),
        (
            [signed("I1", "P1", provisional=True), f.DecisionUndone("I1", "P1", 3)],
            ("NO DECISION", False, False, False),
        ),
        ([signed("I1", "P1", "ACCEPT", (f.Child("ACCEPT", 3),))], ("ACCEPT", False, False, False)),
        ([signed("I1", "P1", "ACCEPT", (f.Child("ACCEPT", 2), f.Child("REJECT", 1, "7"))),], ("SPLIT", False, False, False)),
        ([signed("I1", "P1", "REJECT", (f.Child("REJECT", 2), f.Child("REJECT", 1, "7"))),], ("REJECT", False, False, False)),
    ],
)  # fmt: skip
def test_where_an_inspection_stands(
    book: SqliteBook, facts: list[f.Fact], expected: tuple[str, bool, bool, bool]
) -> None:
    put(book, draft(opened("I1", "P1")))
    entries = put(book, *(draft(fact, 10 + n) for n, fact in enumerate(facts)))
    row = _inspection(book)
    assert (row.disposition, row.provisional, row.suspended, row.verified) == expected
    decisions = [each for each in entries if isinstance(each.fact, f.DecisionSigned)]
    if expected[0] == "NO DECISION":
        assert (row.decision, row.decided_at) == (None, None)
    else:
        assert (row.decision, row.decided_at) == (decisions[-1].position, decisions[-1].at)


def test_corrected_verification_no_longer_covers_what_it_left_out(book: SqliteBook) -> None:
    put(
        book, draft(opened("I1", "P1")), draft(opened("I2", "P2")), draft(signed("I1", "P1")), draft(signed("I2", "P2"))
    )
    (old,) = put(book, draft(f.VerificationSigned("bob", ("I1", "I2"), ())))
    put(book, draft(f.VerificationSigned("bob", ("I2",), ("I1",)), supersedes=old.uid, why=WHY))
    assert (_inspection(book).verified, _inspection(book, "I2").verified) == (False, True)


# --- uses of objects ---


def test_view_uses_lamps_person_and_station_until_it_ends(book: SqliteBook) -> None:
    put(book, draft(viewed("V1", "I1", ("LAMP-1", "LAMP-2"), station="BOOTH 1", attempt=2), 10))
    for name in ("LAMP-1", "LAMP-2", "ann", "BOOTH 1"):
        assert _uses(book, name) == [UseRow(name, moment(10).at, None, "I1", "V1", "first", 2)]
    put(book, draft(f.ViewEnded("V1", "I1"), 14))
    for name in ("LAMP-1", "LAMP-2", "ann", "BOOTH 1"):
        assert _spans(book, name) == [("I1", 10, 14)]


def test_view_whose_end_came_first_or_is_before_its_start(book: SqliteBook) -> None:
    put(book, draft(f.ViewEnded("V1", "I1"), 14), draft(f.ViewEnded("V2", "I1"), 5))
    put(book, draft(viewed("V1", "I1"), 10), draft(viewed("V2", "I1"), 20))
    assert _spans(book, "LAMP-1") == [("I1", 10, 14), ("I1", 20, None)]


def test_corrected_view_replaces_the_uses(book: SqliteBook) -> None:
    start, stop = put(book, draft(viewed("V1", "I1", ("LAMP-1",)), 10), draft(f.ViewEnded("V1", "I1"), 14))
    put(book, draft(viewed("V1", "I1", ("LAMP-2",)), 11, supersedes=start.uid, why=WHY))
    assert _uses(book, "LAMP-1") == []
    assert _spans(book, "LAMP-2") == [("I1", 11, 14)]
    put(book, draft(f.ViewEnded("V1", "I1"), 16, supersedes=stop.uid, why=WHY))
    assert _spans(book, "LAMP-2") == _spans(book, "ann") == [("I1", 11, 16)]


def test_uses_that_overlap_a_doubt_interval(book: SqliteBook) -> None:
    put(book, draft(viewed("V1", "I1"), 10), draft(f.ViewEnded("V1", "I1"), 20), draft(viewed("V2", "I2"), 30))

    def found(after: float | None, until: float | None) -> list[str]:
        return [use.what for use in _uses(book, "LAMP-1", after, until)]

    assert found(None, None) == ["V1", "V2"]
    assert found(20, None) == ["V2"]  # ended not later than 20
    assert found(19.999, None) == ["V1", "V2"]
    assert found(None, 10) == ["V1"]  # started at 10
    assert found(None, 9.999) == []
    assert found(15, 16) == ["V1"]
    assert found(21, 29) == []
    assert found(40, 50) == ["V2"]


def test_shot_uses_bench_bath_and_batches(book: SqliteBook) -> None:
    put(book, draft(f.EquipmentEntered("BENCH-1", "bench", tank_bath="BATH-1")))
    put(book, draft(f.TankFilled("BENCH-1", ("MIX-1",)), 1), draft(f.TankFilled("BENCH-1", ("MIX-2",)), 20))
    put(book, draft(shot("I1"), 10), draft(shot("I2"), 20))
    assert _uses(book, "BENCH-1")[0] == UseRow("BENCH-1", moment(10).at, moment(10).at, "I1", "shots", "shots", 1)
    assert _spans(book, "BATH-1") == [("I1", 10, 10), ("I2", 20, 20)]
    assert (_spans(book, "MIX-1"), _spans(book, "MIX-2")) == ([("I1", 10, 10)], [("I2", 20, 20)])


def test_corrected_shot_replaces_the_uses(book: SqliteBook) -> None:
    (old,) = put(book, draft(shot("I1"), 10))
    put(book, draft(shot("I1", "BENCH-2"), 11, supersedes=old.uid, why=WHY))
    assert (_spans(book, "BENCH-1"), _spans(book, "BENCH-2")) == ([], [("I1", 11, 11)])


def test_bath_and_batches_that_are_entered_late(book: SqliteBook) -> None:
    put(book, draft(shot("I1"), 10), draft(shot("I2"), 30))
    put(book, draft(f.EquipmentEntered("BENCH-1", "bench", tank_bath="BATH-1"), 20))
    assert _spans(book, "BATH-1") == [("I1", 10, 10), ("I2", 30, 30)]  # the first bath known also stands for before
    put(book, draft(f.EquipmentEntered("BENCH-1", "bench", tank_bath="BATH-2"), 25))
    assert (_spans(book, "BATH-1"), _spans(book, "BATH-2")) == ([("I1", 10, 10)], [("I2", 30, 30)])
    put(book, draft(f.TankFilled("BENCH-1", ("MIX-1",)), 15))
    assert _spans(book, "MIX-1") == [("I2", 30, 30)]


def test_corrected_bath_of_a_bench(book: SqliteBook) -> None:
    (old,) = put(book, draft(f.EquipmentEntered("BENCH-1", "bench", tank_bath="BATH-1")))
    put(book, draft(shot("I1"), 10))
    put(book, draft(f.EquipmentEntered("BENCH-1", "bench"), supersedes=old.uid, why=WHY))
    assert _uses(book, "BATH-1") == []


def test_residual_reading_uses_its_meter(book: SqliteBook) -> None:
    read = f.ResidualRead("I1", "end", Number("1", "G"), meter="GAUSS-1")
    (old,) = put(book, draft(read, 10))
    assert _uses(book, "GAUSS-1") == [UseRow("GAUSS-1", moment(10).at, moment(10).at, "I1", "residual", "residual", 1)]
    put(book, draft(dataclasses.replace(read, meter="GAUSS-2"), 10, supersedes=old.uid, why=WHY))
    assert (_uses(book, "GAUSS-1"), len(_uses(book, "GAUSS-2"))) == ([], 1)
    put(book, draft(dataclasses.replace(read, meter=None), 12))


def test_basket_uses_line_and_batches_from_wetting_to_the_end_of_developing(book: SqliteBook) -> None:
    put(
        book, draft(f.TankFilled("L1", ("PEN-1", "DEV-1"))), draft(f.BasketLoaded("B1", "PT", "L1", ("I1", "I2"), 2), 5)
    )
    put(book, draft(f.StepStarted("B1", "wet"), 10), draft(f.StepEnded("B1", "wet"), 11))
    assert _uses(book, "L1")[0] == UseRow("L1", moment(10).at, None, "I1", "B1", "steps", 2)
    put(book, draft(f.StepStarted("B1", "wash"), 30), draft(f.StepEnded("B1", "develop"), 60))
    for name in ("L1", "PEN-1", "DEV-1"):
        assert _spans(book, name) == [("I1", 10, 60), ("I2", 10, 60)]


def test_basket_that_is_used_again(book: SqliteBook) -> None:
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1",), 1), 5), draft(f.StepStarted("B1", "wet"), 10))
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1", "I2"), 2), 20), draft(f.StepStarted("B1", "wet"), 25))
    put(book, draft(f.StepEnded("B1", "develop"), 60))
    assert _spans(book, "L1") == [
        ("I1", 10, 20),
        ("I1", 25, 60),
        ("I2", 25, 60),
    ]  # emptied at the latest when loaded anew


def test_basket_that_is_wetted_again_in_one_attempt(book: SqliteBook) -> None:
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1",), 1), 5))
    put(book, draft(f.StepStarted("B1", "wet"), 10), draft(f.StepStarted("B1", "wet"), 25))
    put(book, draft(f.StepEnded("B1", "develop"), 60))
    assert _spans(book, "L1") == [("I1", 10, 60), ("I1", 25, 60)]


def test_voided_attempt_ends_the_use_of_its_inspection_only(book: SqliteBook) -> None:
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1", "I2"), 1), 5), draft(f.StepStarted("B1", "wet"), 10))
    put(book, draft(f.AttemptVoided("I1", "B1", 2, "another attempt"), 15))
    (void,) = put(book, draft(f.AttemptVoided("I1", "B1", 1, "dwell too short"), 20))
    assert _spans(book, "L1") == [("I1", 10, 20), ("I2", 10, None)]
    put(book, draft(f.AttemptVoided("I1", "B1", 1, "dwell too short"), 30, supersedes=void.uid, why=WHY))
    assert _spans(book, "L1") == [("I1", 10, 30), ("I2", 10, None)]


def test_basket_whose_facts_come_late(book: SqliteBook) -> None:
    put(book, draft(f.StepEnded("B1", "develop"), 60), draft(f.StepStarted("B1", "wet"), 10))
    assert _uses(book, "L1") == []
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1",), 1), 5))
    put(book, draft(f.TankFilled("L1", ("PEN-1",)), 1))
    assert _spans(book, "L1") == _spans(book, "PEN-1") == [("I1", 10, 60)]
    put(book, draft(f.StepStarted("B1", "wet"), 8))
    assert _spans(book, "L1") == [("I1", 8, 60), ("I1", 10, 60)]


def test_corrected_basket_facts(book: SqliteBook) -> None:
    put(book, draft(f.TankFilled("L1", ("PEN-1",))), draft(f.TankFilled("L2", ("PEN-2",))))
    loaded, wet, stop = put(
        book,
        draft(f.BasketLoaded("B1", "PT", "L1", ("I1", "I2"), 1), 5),
        draft(f.StepStarted("B1", "wet"), 10),
        draft(f.StepEnded("B1", "develop"), 60),
    )
    put(book, draft(f.StepStarted("B1", "wet"), 12, supersedes=wet.uid, why=WHY))
    put(book, draft(f.StepEnded("B1", "develop"), 70, supersedes=stop.uid, why=WHY))
    assert _spans(book, "PEN-1") == [("I1", 12, 70), ("I2", 12, 70)]
    put(book, draft(f.BasketLoaded("B1", "PT", "L2", ("I1",), 1), 5, supersedes=loaded.uid, why=WHY))
    assert (_uses(book, "L1"), _uses(book, "PEN-1")) == ([], [])
    assert _spans(book, "L2") == _spans(book, "PEN-2") == [("I1", 12, 70)]


def test_corrected_filling_of_a_line(book: SqliteBook) -> None:
    (fill,) = put(book, draft(f.TankFilled("L1", ("PEN-1",)), 1))
    put(book, draft(f.BasketLoaded("B1", "PT", "L1", ("I1",), 1), 5), draft(f.StepStarted("B1", "wet"), 10))
    put(book, draft(f.TankFilled("L1", ("PEN-2",)), 11, supersedes=fill.uid, why=WHY))
    assert (_uses(book, "PEN-1"), _uses(book, "PEN-2")) == ([], [])  # filled only after this basket went in


def test_a_piece_that_is_moved_does_not_take_its_lot_along(book: SqliteBook) -> None:
    listed = f.PartListed("W-1/P-1/LOT-1", "W-1", "P-1", 12, lot="LOT-1")
    put(book, draft(listed), draft(f.PartMoved(listed.part, "booth"), 1))
    put(book, draft(f.PartMoved(listed.part, "quarantine", 1, "RA-07"), 2))
    with book.session(readonly=True) as session:
        assert session.part(listed.part).place == "booth"
