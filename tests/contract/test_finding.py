"""What a recall and a search ask, on every engine: uses with their records, parts by the beginning of a serial number."""

from __future__ import annotations

from itertools import product

import pytest

from ndi.domain import facts as f
from ndi.store.book import SqlBook
from tests.store.conftest import draft, moment, put
from tests.store.shop_day import fill

MINUTES = (None, *range(0, 61, 3))
SERIALS = ("A", "A1", "A10", "A1\u00e9", "A2", "B1", "a1")


def test_a_recall_finds_the_same_uses_with_their_records(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        objects = sorted(
            {subject for r in session.of_kind(f.ViewStarted) for subject in (*r.fact.lamps, r.fact.person)}
        )
        seen = 0
        for name, after, until in product(objects, MINUTES, MINUTES):
            interval = (None if after is None else moment(after).at, None if until is None else moment(until).at)
            uses, found = session.uses(name, *interval), session.reliances(name, *interval)
            assert [(u.inspection, u.what, u.kind, u.attempt) for u in uses] == [
                (r.inspection, r.what, r.kind, r.attempt) for r in found
            ]
            for each in found:
                row = session.inspection(each.inspection)
                assert (each.part, each.quantity) == (row.part, row.quantity)
                voided = session.facts(each.inspection, [f.AttemptVoided], include_superseded=True)
                assert each.some_voided == bool(voided)
            seen += len(found)
        assert seen


def test_uses_in_an_interval_are_those_of_all_uses_that_overlap_it(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        every = session.uses("LAMP-3", None, None)
        assert every
        for after, until in product(range(0, 61, 3), range(0, 61, 3)):
            start, stop = moment(after).at, moment(until).at
            overlap = [u for u in every if u.started <= stop and (u.ended is None or u.ended > start)]
            assert session.uses("LAMP-3", start, stop) == overlap


@pytest.mark.parametrize("start", ["", "A", "A1", "A10", "A1\u00e9", "B", "a", "C", "%", "A%", "*"])
def test_parts_are_found_by_the_beginning_of_their_serial_number(book: SqlBook, start: str) -> None:
    put(book, draft(f.WorkOrderOpened("WO-9", "6H-515", "1", "overhaul", "overhaul limits")))
    listed = [f.PartListed(f"P-{serial}", "WO-9", "PN-1", 1, serial=serial) for serial in reversed(SERIALS)]
    put(book, *(draft(fact) for fact in listed), draft(f.PartListed("P-lot", "WO-9", "PN-2", 4, lot="A1")))
    with book.session(readonly=True) as session:
        wanted = sorted(serial for serial in SERIALS if serial.startswith(start))
        assert [row.serial for row in session.parts_by_serial(start)] == wanted
        assert [row.serial for row in session.parts_by_serial(start, most=2)] == wanted[:2]


def test_records_are_found_by_the_beginning_of_their_number(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        names = [row.inspection for row in session.inspections()]
        for start in dict.fromkeys(["", *(name[:length] for name in names for length in (1, 2, 4, 9)), "%", "~"]):
            wanted = sorted(name for name in names if name.startswith(start))
            assert [row.inspection for row in session.inspections_named(start, most=len(names))] == wanted
            assert session.inspections_named(start, most=2) == [session.inspection(name) for name in wanted[:2]]
