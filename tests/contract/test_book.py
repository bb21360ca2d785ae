"""What every engine must do: append, read, correct, remember calls, rebuild, verify, and say what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.domain.quantity import Number
from ndi.store.book import SqlBook, add_station, open_book
from ndi.store.errors import KeyMismatch, StoreBusy
from ndi.store.postgres import open_book_on
from ndi.store.rebuild import Difference
from ndi.store.verify import Fault, verify
from tests.contract.conftest import Place
from tests.store.conftest import STATION, FakeClock, draft, moment, put
from tests.store.shop_day import fill

TICK = f.ConfirmationGiven("I-1", "reading glasses on")


def reading(value: str = "1200", lamp: str = "LAMP-1") -> f.ReadingRecorded:
    return f.ReadingRecorded(lamp, "uv_a", Number(value, "uW/cm2"))


def _content(book: SqlBook) -> list[list[tuple[Any, ...]]]:
    with book.transaction(reading=True) as tx:
        return [
            sorted((tuple(row) for row in tx.connection.execute(table.select())), key=str) for table in tx.tables.all
        ]


def test_appended_facts_are_read_by_subject_in_order_of_time(book: SqlBook, reopen: Any) -> None:
    put(book, draft(reading("3"), 30), draft(reading("1"), 10), draft(reading("2"), 10))
    with reopen().session(readonly=True) as session:
        found = session.facts("LAMP-1")
        assert [(r.position, r.fact.value.typed) for r in found] == [(4, "1"), (5, "2"), (3, "3")]
        assert [r.position for r in session.facts("LAMP-1", since=moment(10).at, until=moment(10).at)] == [4, 5]
        assert session.of_kind(f.ReadingRecorded) == found
        assert session.entry(3).fact == reading("3")
        with pytest.raises(NotFound, match="no entry 99"):
            session.entry(99)


def test_corrected_entry_leaves_the_answers_and_stays_in_the_chain(book: SqlBook) -> None:
    (old,) = put(book, draft(reading()))
    (new,) = put(book, draft(reading("1100"), supersedes=old.uid, why="wrong digit"))
    with book.session() as session:
        assert session.facts("LAMP-1") == [new]
        assert session.facts("LAMP-1", include_superseded=True) == [old, new]
        with pytest.raises(InputError, match="corrected already"):
            session.append([draft(reading("1000"), supersedes=old.uid, why="wrong digit")])


def test_large_boot_clock_and_strange_letters_come_back_as_they_were(
    book: SqlBook, clock: FakeClock, reopen: Any
) -> None:
    clock.ms = 2**45
    note = "\u00b5W/cm\u00b2 Jos\u00e9 \U0001f4a1 'quoted' %s \\ \n\ttab"
    (recorded,) = put(book, draft(f.ConfirmationGiven("I-1", note), on_behalf_of="\u0141uk"))
    with reopen().session(readonly=True) as session:
        assert session.entry(recorded.position) == recorded
    assert verify(book).ok


def test_names_sort_by_code_point_on_every_engine(book: SqlBook) -> None:
    names = ["a", "B", "Z", "_", "\u00e9", "10", "9"]
    put(book, *(draft(f.PartListed(name, "WO-1", "PN", 1)) for name in names))
    with book.transaction(reading=True) as tx:
        part = tx.tables.part
        rows = tx.rows(part.select().order_by(part.c.part))
    assert [row.part for row in rows] == sorted(names)


def test_call_is_remembered_by_its_key(book: SqlBook) -> None:
    with book.session() as session:
        recorded = session.append([draft(reading()), draft(reading())])
        session.keep_client_key("call-1", [each.position for each in recorded])
        session.commit()
    with book.session() as session:
        assert session.seen_client_key("call-1") == (3, 4)
        assert session.seen_client_key("call-2") is None
        with pytest.raises(InputError, match="done already"):
            session.keep_client_key("call-1", [3])


def test_leaving_without_commit_leaves_nothing(book: SqlBook) -> None:
    with book.session() as session:
        session.append([draft(reading())])
        session.keep_client_key("call-1", [3])
        assert session.head().position == 3
    with pytest.raises(ZeroDivisionError), book.session() as session:
        session.append([draft(reading())])
        raise ZeroDivisionError
    with book.session() as session:
        assert (session.head().position, session.facts("LAMP-1"), session.seen_client_key("call-1")) == (2, [], None)


def test_rows_and_uses_of_a_day(book: SqlBook) -> None:
    fill(book)
    with book.session(readonly=True) as session:
        assert [row.part for row in session.parts("WO-1")] == ["P1", "P2", "P3"]
        assert session.part("P1").place == "rack B"
        assert [row.inspection for row in session.inspections(work_order="WO-1")] == ["I1", "I2", "I3"]
        assert [row.inspection for row in session.inspections(part="P2")] == ["I2"]
        row = session.inspection("I2")
        assert (row.disposition, row.suspended, row.verified, row.part_no) == ("ACCEPT", True, True, "PN-2")
        assert session.inspection("I1").disposition == "NO DECISION"
        uses = session.uses("LAMP-3", None, None)
        assert [(u.inspection, u.what, u.started, u.ended) for u in uses] == [("I1", "V1", moment(6).at, moment(12).at)]
        assert session.uses("LAMP-1", moment(12).at, None) == []
        assert session.uses("LAMP-2", None, None) == []
        assert {u.inspection for u in session.uses("PEN-2", None, moment(11).at)} == {"I2", "I3"}


def test_rebuilt_tables_are_equal(book: SqlBook, owned: SqlBook) -> None:
    fill(book)
    before = _content(book)
    assert owned.rebuild() == []
    assert _content(book) == before
    put(book, draft(reading()))
    assert verify(book).ok


def test_difference_is_named_and_put_right(book: SqlBook, owned: SqlBook, place: Place) -> None:
    fill(book)
    before = _content(book)
    with place.forger() as run:
        run("UPDATE part SET quantity = 7 WHERE part = 'P2'")
        run("DELETE FROM object_use WHERE object = 'GAUSS-1'")
    expected = [Difference("object_use", f"{_source(before)} GAUSS-1 I1"), Difference("part", "P2")]
    assert book.rebuild(compare_only=True) == expected
    result = verify(book)
    assert result.problem is not None and result.problem.what is Fault.READ_TABLES_DIFFER
    assert owned.rebuild() == expected
    assert _content(book) == before


def _source(content: list[list[tuple[Any, ...]]]) -> int:
    return next(int(row[0]) for row in content[3] if row[1] == "GAUSS-1")


FORGERIES = {
    "body": ("UPDATE entry SET body = replace(body, 'PN-2', 'PN-9') WHERE position = 6", 6, Fault.CHANGED),
    "person": ("UPDATE entry SET \"by\" = 'X. Forged' WHERE position = 9", 9, Fault.CHANGED),
    "time": ("UPDATE entry SET event_time = recorded_time WHERE position = 5", 5, Fault.CHANGED),
    "removed": ("DELETE FROM entry WHERE position = 7", 7, Fault.REMOVED),
    "signature": (
        "UPDATE entry SET signature = (SELECT signature FROM entry WHERE position = 3) WHERE position = 4",
        4,
        Fault.BAD_SIGNATURE,
    ),
}


@pytest.mark.parametrize("name", FORGERIES)
def test_forgery_is_found_at_its_entry(book: SqlBook, place: Place, name: str) -> None:
    statement, position, fault = FORGERIES[name]
    fill(book)
    with place.forger() as run:
        run(statement)
    problem = verify(book).problem
    assert problem is not None
    assert (problem.position, problem.what) == (position, fault)


def test_cut_tail_shows_against_a_printed_head_only(book: SqlBook, place: Place) -> None:
    fill(book)
    printed = str(book.head())
    with place.forger() as run:
        run(f"DELETE FROM entry WHERE position = {book.head().position}")
    assert verify(book, read_tables=False).ok
    problem = verify(book, against=printed).problem
    assert problem is not None and problem.what is Fault.REMOVED


def test_key_of_another_book_or_none_is_refused(place: Place, tmp_path: Path) -> None:
    with pytest.raises(KeyMismatch, match="no key of station"):
        place.open(keys=tmp_path / "elsewhere")
    with pytest.raises(KeyMismatch, match="no key of station"):
        place.open(station="DESK")


def test_second_station_signs_in_the_same_chain(book: SqlBook, reopen: Any, place: Place) -> None:
    add_station(book, "DESK", key_folder=place.keys, by="A. Example")
    desk = reopen(station="DESK")
    put(desk, draft(TICK))
    put(book, draft(TICK))
    assert verify(desk).checked == 5


def test_writer_waits_its_turn_and_is_told_when_it_takes_too_long(
    book: SqlBook, place: Place, engine_name: str, clock: FakeClock
) -> None:
    settings: dict[str, Any] = {"station": STATION, "key_folder": place.keys, "clock": clock, "busy_seconds": 0.2}
    other: SqlBook = (
        open_book(Path(place.where), **settings)
        if engine_name == "sqlite"
        else open_book_on(str(place.where), **settings)
    )
    with other, book.session() as session:
        session.append([draft(TICK)])
        with other.session(readonly=True) as reader:
            assert reader.head().position == 2  # readers wait for nobody
        with pytest.raises(StoreBusy, match=r"try again; nothing was saved"), other.session():
            pass
        session.commit()
    assert book.head().position == 3


def test_reader_keeps_one_picture_while_others_write(book: SqlBook, reopen: Any) -> None:
    other = reopen()
    with other.session(readonly=True) as reader:
        assert reader.head().position == 2
        put(book, draft(TICK))
        assert reader.head().position == 2
        assert reader.facts("I-1") == []
    with other.session(readonly=True) as reader:
        assert reader.head().position == 3


def test_session_goes_on_behind_what_others_wrote_after_its_commit(book: SqlBook, reopen: Any) -> None:
    other = reopen()
    with book.session() as session:
        session.append([draft(TICK)])
        session.commit()
        put(other, draft(TICK))
        (last,) = session.append([draft(TICK)])
        session.commit()
    assert last.position == 5


def test_guards_that_were_taken_away_are_put_back(book: SqlBook, place: Place, engine_name: str) -> None:
    with place.forger() as run:
        if engine_name == "postgresql":
            with pytest.raises(StoreError, match="guards of the record book were taken away"):
                place.open()
        place.open(as_owner=True).close()
        place.open().close()
        with pytest.raises(Exception, match="append-only"):
            run("UPDATE entry SET kind = 'X'")


def test_refused_statement_says_that_nothing_was_saved(book: SqlBook) -> None:
    with book.session() as session:
        session.append([draft(TICK)])
        with pytest.raises(StoreError, match="nothing was saved"):
            session._tx.run(text("INSERT INTO client_key (key) VALUES ('k')"))
    assert book.head().position == 2
