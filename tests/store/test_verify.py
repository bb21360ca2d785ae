"""A forger with the file in hand: what he did is named, at the first entry it touches."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.services.ports import Head
from ndi.store.book import SqliteBook, add_station
from ndi.store.canonical import ENVELOPE, GENESIS, canonical, entry_hash
from ndi.store.keys import StationKey
from ndi.store.verify import Fault, verify
from tests.store.conftest import draft, forger, moment, put
from tests.store.shop_day import fill

FIRST_DAY = 10  # entries in the book of these tests: see ``day``


@pytest.fixture
def day(book: SqliteBook) -> SqliteBook:
    items = (f.ConfirmationGiven("I-1", f"item {n}") for n in range(8))
    put(book, *(draft(item, n, on_behalf_of="Q", why="transcribed from paper") for n, item in enumerate(items)))
    return book


def _found(book: SqliteBook, **more: Any) -> tuple[int | None, Fault] | None:
    problem = verify(book, **more).problem
    return None if problem is None else (problem.position, problem.what)


def _rehash(connection: sqlite3.Connection, start: int, sign: Callable[[str], str] | None = None) -> None:
    """Make the chain follow again from ``start``, as far as one can without the key (or with ``sign``)."""
    row = connection.execute("SELECT hash FROM entry WHERE position = ?", (start - 1,)).fetchone()
    before = GENESIS if row is None else row["hash"]
    for row in connection.execute("SELECT * FROM entry WHERE position >= ? ORDER BY position", (start,)).fetchall():
        envelope = {**dict(row), "prev_hash": before}
        new = entry_hash(envelope, json.loads(row["body"]))
        signature = row["signature"] if sign is None else sign(new)
        connection.execute(
            "UPDATE entry SET prev_hash = ?, hash = ?, signature = ? WHERE position = ?",
            (before, new, signature, row["position"]),
        )
        before = new


def test_untouched_book_holds(book: SqliteBook) -> None:
    fill(book)
    result = verify(book)
    assert result.ok and result.head == book.head() and result.checked == book.head().position
    assert "read tables follow" in result.message
    assert "cut at the end shows only against a head" in result.message


CHANGES: dict[str, Any] = {
    "uid": "OTHER",
    "station": "BOOTH 9",
    "station_seq": 99,
    "kind": "PartMoved",
    "kind_version": 2,
    "event_time": "2026-03-10T12:00:00.000001Z",
    "offset_min": 0,
    "precision": "min",
    "how": "timer",
    "recorded_time": "2026-03-10T12:00:00.000001Z",
    "boot_ms": 1,
    "boot_id": "boot-b",
    "by": "Q. Example",
    "on_behalf_of": None,
    "supersedes": "OTHER",
    "why": None,
    "body": canonical({"about": "I-1", "item": "item 3", "value": "no"}),
    "prev_hash": "1" * 64,
    "hash": "2" * 64,
}


def test_every_field_of_the_envelope_is_tried() -> None:
    assert {*CHANGES, "position"} == {*ENVELOPE, "hash"}


@pytest.mark.parametrize("position", [1, 6, FIRST_DAY])
@pytest.mark.parametrize("column", CHANGES)
def test_changed_field_is_found(day: SqliteBook, column: str, position: int) -> None:
    with forger(day.path) as connection:
        connection.execute(f'UPDATE entry SET "{column}" = ? WHERE position = ?', (CHANGES[column], position))
        if column in ("on_behalf_of", "why") and position < 3:
            connection.execute(f'UPDATE entry SET "{column}" = ? WHERE position = ?', ("somebody", position))
    assert _found(day) == (position, Fault.CHANGED)


def test_changed_signature_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute(
            "UPDATE entry SET signature = (SELECT signature FROM entry WHERE position = 7) WHERE position = 6"
        )
    assert _found(day) == (6, Fault.BAD_SIGNATURE)


@pytest.mark.parametrize("signature", ["", "zz", "00" * 64])
def test_signature_that_is_none_is_found(day: SqliteBook, signature: str) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET signature = ? WHERE position = 6", (signature,))
    assert _found(day) == (6, Fault.BAD_SIGNATURE)


def test_changed_position_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET position = 105 WHERE position = 6")
    assert _found(day) == (6, Fault.REORDERED)


def test_position_before_the_first_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET position = -3 WHERE position = 6")
    assert _found(day) == (-3, Fault.INSERTED)


def test_body_that_only_looks_different_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET body = replace(body, ',', ', ') WHERE position = 6")
    assert _found(day) == (6, Fault.CHANGED)


def test_body_that_cannot_be_read_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET body = '{' WHERE position = 6")
    assert _found(day) == (6, Fault.CHANGED)


def test_hash_made_fit_to_a_changed_body_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET body = ? WHERE position = 6", (CHANGES["body"],))
        row = dict(connection.execute("SELECT * FROM entry WHERE position = 6").fetchone())
        connection.execute("UPDATE entry SET hash = ? WHERE position = 6", (entry_hash(row, json.loads(row["body"])),))
    assert _found(day) == (6, Fault.BAD_SIGNATURE)


@pytest.mark.parametrize("position", [1, 2, 6, FIRST_DAY - 1])
def test_removed_entry_is_found(day: SqliteBook, position: int) -> None:
    with forger(day.path) as connection:
        connection.execute("DELETE FROM entry WHERE position = ?", (position,))
    assert _found(day) == (position, Fault.REMOVED)


def _shift(connection: sqlite3.Connection, start: int, by: int) -> None:
    connection.execute("UPDATE entry SET position = -position WHERE position >= ?", (start,))
    connection.execute("UPDATE entry SET position = -position + ? WHERE position < 0", (by,))


def test_removed_entry_is_found_though_the_rest_was_renumbered(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("DELETE FROM entry WHERE position = 6")
        _shift(connection, 7, -1)
    assert _found(day) == (6, Fault.REMOVED)


def test_removed_entry_is_found_though_the_chain_was_recomputed(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("DELETE FROM entry WHERE position = 6")
        _shift(connection, 7, -1)
        _rehash(connection, 6)
    assert _found(day) == (6, Fault.BAD_SIGNATURE)


@pytest.mark.parametrize(("one", "other"), [(5, 6), (4, 9), (3, FIRST_DAY)])
def test_swapped_entries_are_found(day: SqliteBook, one: int, other: int) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET position = -1 WHERE position = ?", (one,))
        connection.execute("UPDATE entry SET position = ? WHERE position = ?", (one, other))
        connection.execute("UPDATE entry SET position = ? WHERE position = -1", (other,))
    assert _found(day) == (one, Fault.REORDERED)


def _insert_copy(connection: sqlite3.Connection, position: int, **changes: Any) -> None:
    row = dict(connection.execute("SELECT * FROM entry ORDER BY position LIMIT 1 OFFSET 4").fetchone())
    row |= {"position": position, "uid": "NEW", "station_seq": 777, **changes}
    names = ", ".join(f'"{name}"' for name in row)
    connection.execute(f"INSERT INTO entry ({names}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))


@pytest.mark.parametrize("fitted", [False, True])
def test_inserted_entry_is_found(day: SqliteBook, fitted: bool) -> None:
    with forger(day.path) as connection:
        _shift(connection, 6, 1)
        before = connection.execute("SELECT hash FROM entry WHERE position = 5").fetchone()["hash"]
        _insert_copy(connection, 6, prev_hash=before)
        if fitted:  # with the right hash, so that only the signature is missing
            row = dict(connection.execute("SELECT * FROM entry WHERE position = 6").fetchone())
            connection.execute(
                "UPDATE entry SET hash = ? WHERE position = 6", (entry_hash(row, json.loads(row["body"])),)
            )
    assert _found(day) == (6, Fault.INSERTED)


def test_entry_put_at_the_end_without_the_key_is_found(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        _insert_copy(connection, FIRST_DAY + 1)
        _rehash(connection, FIRST_DAY + 1)
    assert _found(day) == (FIRST_DAY + 1, Fault.BAD_SIGNATURE)


def test_entry_of_a_station_that_the_book_does_not_know_is_found(day: SqliteBook) -> None:
    stranger = StationKey(day.book_id, "BOOTH 9", Ed25519PrivateKey.generate())
    with forger(day.path) as connection:
        _insert_copy(connection, FIRST_DAY + 1, station="BOOTH 9")
        _rehash(connection, FIRST_DAY + 1, stranger.sign)
    assert _found(day) == (FIRST_DAY + 1, Fault.UNKNOWN_STATION)


def test_cut_tail_is_found_against_a_head_only(day: SqliteBook) -> None:
    head = day.head()
    with forger(day.path) as connection:
        connection.execute("DELETE FROM entry WHERE position > 7")
        for table in ("fact", "inspection", "part", "object_use"):
            column = {"object_use": "source", "part": "listed", "inspection": "opened"}.get(table, "position")
            connection.execute(f"DELETE FROM {table} WHERE {column} > 7")
    result = verify(day)
    assert result.ok and "cut at the end shows only" in result.message
    assert _found(day, against=str(head)) == (8, Fault.REMOVED)
    assert _found(day, against=head) == (8, Fault.REMOVED)


@pytest.mark.parametrize("position", [1, 2, 6])
def test_whole_chain_recomputed_without_the_key_is_found(day: SqliteBook, position: int) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET by = 'X' WHERE position = ?", (position,))
        _rehash(connection, 1)
    assert _found(day) == (position, Fault.BAD_SIGNATURE)


def _rewrite(day: SqliteBook, mine: StationKey, station: str) -> None:
    """The forger signs everything himself and enters his own key in place of the book's."""
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET station = ?", (station,))
        body = canonical({"station": station, "public_key": mine.public_hex})
        connection.execute("UPDATE entry SET body = ? WHERE position = 2", (body,))
        _rehash(connection, 1, mine.sign)


def test_whole_chain_recomputed_with_another_key_is_found(day: SqliteBook) -> None:
    mine = StationKey(day.book_id, day.station, Ed25519PrivateKey.generate())
    _rewrite(day, mine, day.station)
    assert _found(day) == (1, Fault.BAD_SIGNATURE)


def test_whole_chain_recomputed_by_an_invented_station_is_found(day: SqliteBook) -> None:
    mine = StationKey(day.book_id, "BOOTH 9", Ed25519PrivateKey.generate())
    _rewrite(day, mine, "BOOTH 9")
    assert _found(day) == (2, Fault.CHANGED)  # not the entry that this station's key file names


def test_second_station_verifies_the_beginning_by_its_own_key_file(
    day: SqliteBook, reopen: Any, tmp_path: Path
) -> None:
    add_station(day, "DESK", key_folder=tmp_path / "keys", by="A. Example")
    desk = reopen(station="DESK")
    put(desk, draft(f.ConfirmationGiven("I-1", "desk")))
    put(day, draft(f.ConfirmationGiven("I-1", "booth")))
    assert verify(desk).ok and verify(day).ok
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET signature = '00' WHERE position = 12")
    assert _found(desk) == _found(day) == (12, Fault.BAD_SIGNATURE)


@pytest.mark.parametrize(("position", "column"), [(1, "body"), (2, "body"), (2, "hash")])
def test_beginning_changed_is_found_by_a_second_station(
    day: SqliteBook, reopen: Any, tmp_path: Path, position: int, column: str
) -> None:
    add_station(day, "DESK", key_folder=tmp_path / "keys", by="A. Example")
    desk = reopen(station="DESK")
    with forger(day.path) as connection:
        connection.execute(f"UPDATE entry SET {column} = '{{}}' WHERE position = ?", (position,))
    assert _found(desk) == (position, Fault.CHANGED)


def test_station_that_joined_sees_a_cut_before_its_own_entry(day: SqliteBook, reopen: Any, tmp_path: Path) -> None:
    add_station(day, "DESK", key_folder=tmp_path / "keys", by="A. Example")
    desk = reopen(station="DESK")
    with forger(day.path) as connection:
        connection.execute("DELETE FROM entry WHERE position > 1")
    assert _found(desk) == (2, Fault.REMOVED)


def test_second_key_for_a_known_station_is_found(day: SqliteBook) -> None:
    other = StationKey(day.book_id, day.station, Ed25519PrivateKey.generate())
    body = canonical({"station": day.station, "public_key": other.public_hex})
    with forger(day.path) as connection:
        _insert_copy(connection, FIRST_DAY + 1, kind="StationKeyEntered", body=body)
        _rehash(connection, FIRST_DAY + 1, day.key.sign)
    assert _found(day) == (FIRST_DAY + 1, Fault.INSERTED)


# --- printed heads, going on, read tables ---


def test_printed_head_is_in_the_chain(day: SqliteBook) -> None:
    heads = [Head(e.position, e.hash) for e in _entries(day)]
    for head in heads:
        for against in (head, str(head), f" {str(head).upper()} "):
            result = verify(day, against=against, read_tables=False)
            assert result.ok and "is in the chain" in result.message
    assert _found(day, against=f"5:{heads[5].hash[:16]}") == (5, Fault.CHANGED)


def _entries(book: SqliteBook) -> list[Any]:
    from sqlalchemy import select

    from ndi.store.schema import entry

    with book.transaction(reading=True) as tx:
        return list(tx.rows(select(entry).order_by(entry.c.position)))


@pytest.mark.parametrize("text", ["", "5", "5:abc", "5:" + "g" * 16, "0:" + "a" * 16, "x:" + "a" * 16, "5:" + "a" * 65])
def test_head_that_cannot_be_read(day: SqliteBook, text: str) -> None:
    with pytest.raises(InputError, match="no printed head"):
        verify(day, against=text)


def test_going_on_from_a_verified_head(day: SqliteBook) -> None:
    result = verify(day, since=6)
    assert result.ok and result.checked == 4 and result.head == day.head()
    assert verify(day, since=FIRST_DAY).checked == 0
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET by = 'X' WHERE position = 4")
    assert _found(day, since=6) is None  # before what was asked
    assert _found(day) == (4, Fault.CHANGED)
    assert _found(day, since=4) == (4, Fault.CHANGED)
    assert _found(day, since=3) == (4, Fault.CHANGED)
    assert _found(day, since=11) == (11, Fault.REMOVED)
    with pytest.raises(InputError):
        verify(day, since=0)


def test_read_tables_that_differ_are_found(book: SqliteBook) -> None:
    fill(book)
    connection = sqlite3.connect(book.path)
    connection.execute("UPDATE inspection SET disposition = 'ACCEPT' WHERE inspection = 'I3'")
    connection.commit()
    connection.close()
    result = verify(book)
    assert result.problem is not None and result.problem.what is Fault.READ_TABLES_DIFFER
    assert [str(each) for each in result.differences] == ["inspection I3"]
    assert "rebuild the read tables" in result.message
    assert verify(book, read_tables=False).ok


def test_message_names_entry_fault_and_what_to_do(day: SqliteBook) -> None:
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET by = 'X' WHERE position = 4")
    result = verify(day)
    assert result.checked == 3
    assert result.message.startswith("Entry 4: changed (")
    assert "compare it with the last backup" in result.message


def test_facts_in_memory_do_not_hide_a_change_in_the_file(day: SqliteBook) -> None:
    with day.session(readonly=True) as session:
        assert session.facts("I-1", since=moment(0).at)
    with forger(day.path) as connection:
        connection.execute("UPDATE entry SET body = ? WHERE position = 6", (CHANGES["body"],))
    assert _found(day) == (6, Fault.CHANGED)
