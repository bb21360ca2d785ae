"""Read tables filled again from the journal are the same; what is not is named and put right."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from ndi.domain import facts as f
from ndi.domain.entry import Recorded
from ndi.domain.errors import StoreError
from ndi.store.book import SqliteBook, open_book
from ndi.store.projection import apply
from ndi.store.rebuild import Difference, rebuild
from ndi.store.schema import read_tables
from ndi.store.transaction import Tx
from tests.store.conftest import STATION, FakeClock, draft, put
from tests.store.shop_day import fill, opened, shot, signed, viewed

TABLES = [table.name for table in read_tables().all]


def _content(path: Path) -> dict[str, list[tuple[object, ...]]]:
    connection = sqlite3.connect(path)
    try:
        return {name: sorted(connection.execute(f"SELECT * FROM {name}").fetchall(), key=repr) for name in TABLES}
    finally:
        connection.close()


def _change(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(statement)
    connection.commit()
    connection.close()


def _names(path: Path) -> set[str]:
    connection = sqlite3.connect(path)
    try:
        return {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    finally:
        connection.close()


@pytest.fixture
def full(book: SqliteBook) -> SqliteBook:
    fill(book)
    return book


@pytest.mark.parametrize("batch", [1, 7, 1000])
def test_rebuilt_tables_are_equal(full: SqliteBook, batch: int) -> None:
    before, names = _content(full.path), _names(full.path)
    assert all(before.values())
    assert rebuild(full, compare_only=True, batch=batch) == []
    assert rebuild(full, batch=batch) == []
    assert _content(full.path) == before
    assert _names(full.path) == names


@pytest.mark.parametrize(
    ("statement", "difference"),
    [
        ("UPDATE inspection SET disposition = 'REJECT' WHERE inspection = 'I2'", Difference("inspection", "I2")),
        ("DELETE FROM part WHERE part = 'P3'", Difference("part", "P3")),
        ("UPDATE part SET place = NULL WHERE part = 'P1'", Difference("part", "P1")),
        ("UPDATE fact SET superseded = 1 WHERE position = 4 AND nth = 0", Difference("fact", "4 0")),
        (
            "INSERT INTO object_use VALUES (3, 'LAMP-9', 'I9', '2026', NULL, 'V9', 'first', 1)",
            Difference("object_use", "3 LAMP-9 I9"),
        ),
    ],
)
def test_difference_is_named_then_put_right(full: SqliteBook, statement: str, difference: Difference) -> None:
    before = _content(full.path)
    _change(full.path, statement)
    changed = _content(full.path)
    assert full.rebuild(compare_only=True) == [difference]
    assert _content(full.path) == changed
    assert full.rebuild() == [difference]
    assert full.rebuild() == []
    assert _content(full.path) == before


def test_comparing_does_not_wait_for_a_writer(full: SqliteBook) -> None:
    other = sqlite3.connect(full.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert full.rebuild(compare_only=True) == []
    other.close()


def test_interrupted_rebuild_goes_on_where_it_was(full: SqliteBook, monkeypatch: pytest.MonkeyPatch) -> None:
    parts, applied = len(_content(full.path)["part"]), list[int]()

    def failing(tx: Tx, recorded: Recorded[Any]) -> None:
        if len(applied) == 25:
            raise StoreError("power cut")
        counting(tx, recorded)

    def counting(tx: Tx, recorded: Recorded[Any]) -> None:
        applied.append(recorded.position)
        apply(tx, recorded)

    monkeypatch.setattr("ndi.store.rebuild.apply", failing)
    with pytest.raises(StoreError, match="power cut"):
        rebuild(full, batch=10)
    put(full, draft(f.PartMoved("P1", "rack C"), 99))  # work goes on in between
    monkeypatch.setattr("ndi.store.rebuild.apply", counting)
    assert rebuild(full, batch=10) == []
    assert applied[25] == 21  # two batches of ten were kept
    after = _content(full.path)["part"]
    assert len(after) == parts and "rack C" in str(after)


def test_half_done_rebuild_of_another_program_version_starts_anew(
    full: SqliteBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ndi.store import rebuild as module

    shadow = read_tables("_shadow")
    module._prepare(full, shadow)
    with full.transaction(reading=False, tables=shadow) as tx:
        tx.run(shadow.part.insert(), {"part": "wrong", "listed": 1, "work_order": "W", "part_no": "A", "quantity": 1})
        tx.commit()
    monkeypatch.setattr(module, "PROJECTION_VERSION", 99)
    assert rebuild(full) == []
    assert "wrong" not in str(_content(full.path))


# --- any order of facts gives the same tables, one by one or from the start ---

_I = st.sampled_from(["I1", "I2"])
_FACTS = st.one_of(
    st.builds(lambda i, v: viewed(v, i), _I, st.sampled_from(["V1", "V2"])),
    st.builds(lambda i, v: f.ViewEnded(v, i), _I, st.sampled_from(["V1", "V2"])),
    st.builds(lambda i: shot(i), _I),
    st.builds(lambda bath: f.EquipmentEntered("BENCH-1", "bench", tank_bath=bath), st.sampled_from([None, "T1", "T2"])),
    st.builds(lambda on, b: f.TankFilled(on, (b,)), st.sampled_from(["L1", "L2", "BENCH-1"]), st.sampled_from("XY")),
    st.builds(lambda i, n, on: f.BasketLoaded("B1", "PT", on, i, n), st.tuples(_I), st.integers(1, 2), st.sampled_from(["L1", "L2"])),
    st.builds(lambda step: f.StepStarted("B1", step), st.sampled_from(["wet", "wash"])),
    st.builds(lambda step: f.StepEnded("B1", step), st.sampled_from(["wet", "develop"])),
    st.builds(lambda i, n: f.AttemptVoided(i, "B1", n, "why"), _I, st.integers(1, 2)),
    st.builds(lambda i: signed(i, "P1"), _I),
    st.builds(lambda i: f.AcceptanceSuspended(i, "P1", (), 1), _I),
    st.builds(lambda i: f.DecisionUndone(i, "P1", 1), _I),
    st.builds(lambda i: f.VerificationSigned("bob", i, ()), st.tuples(_I)),
    st.builds(lambda place: f.PartMoved("P1", place), st.sampled_from("AB")),
)  # fmt: skip


@contextmanager
def _fresh(new_book: Path) -> Iterator[SqliteBook]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shop.book"
        shutil.copy(new_book / "shop.book", path)
        with open_book(path, station=STATION, key_folder=new_book / "keys", clock=FakeClock()) as book:
            yield book


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(_FACTS, st.integers(0, 6), st.booleans()), min_size=3, max_size=25))
def test_any_sequence_of_facts_is_rebuilt_equal(new_book: Path, steps: list[tuple[f.Fact, int, bool]]) -> None:
    with _fresh(new_book) as book:
        put(book, draft(f.PartListed("P1", "WO-1", "A", 1)), draft(opened("I1", "P1")), draft(opened("I2", "P1")))
        latest: dict[tuple[type[f.Fact], str], str] = {}
        with book.session() as session:
            for fact, minutes, is_correction in steps:
                key = (type(fact), fact.subjects()[0])
                old_uid = latest.get(key) if is_correction else None
                why = None if old_uid is None else "typed on the wrong line"
                (entry,) = session.append([draft(fact, minutes, supersedes=old_uid, why=why)])
                latest[key] = entry.uid
            session.commit()
        assert book.rebuild(compare_only=True) == []


def _uses_after(new_book: Path, steps: list[tuple[int, f.Fact]]) -> set[tuple[object, ...]]:
    with _fresh(new_book) as book:
        put(book, *(draft(fact, minutes) for minutes, fact in steps))
        columns = [column for column in read_tables().object_use.columns if column.name != "source"]
        with book.transaction(reading=True) as tx:
            return {tuple(row) for row in tx.rows(select(*columns))}


@settings(max_examples=25, deadline=None)
@given(st.lists(_FACTS, min_size=3, max_size=16).flatmap(lambda each: st.permutations(list(enumerate(each)))))
def test_uses_do_not_depend_on_the_order_of_entering(new_book: Path, steps: list[tuple[int, f.Fact]]) -> None:
    in_order = sorted(steps, key=lambda step: step[0])
    assert _uses_after(new_book, steps) == _uses_after(new_book, in_order)
