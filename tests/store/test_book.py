"""Beginning and opening a book, its key, its guards, and errors in words."""

from __future__ import annotations

import sqlite3
import stat
from pathlib import Path
from typing import Any

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, ReadOnly, StoreError
from ndi.store.book import SqliteBook, add_station, create_book, open_book
from ndi.store.dialect import SQLITE, guards_found
from ndi.store.errors import BookDamaged, DiskFull, KeyMismatch, StoreBusy
from ndi.store.host import network_file_system, refuse_network_drive
from ndi.store.keys import key_file
from tests.store.conftest import STATION, FakeClock, draft, forger, put

CHECK = f.ConfirmationGiven("I-1", "reading glasses on")


def _key_path(book: SqliteBook, folder: Path, station: str = STATION) -> Path:
    return key_file(folder / "keys", book.book_id, station)


def test_key_file_is_for_its_owner_only_and_not_in_the_book(book: SqliteBook, tmp_path: Path) -> None:
    path = _key_path(book, tmp_path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    secret = book.key.private.private_bytes_raw()
    assert secret.hex() in path.read_text()
    content = b"".join(p.read_bytes() for p in tmp_path.iterdir() if p.is_file())
    assert secret not in content and secret.hex().encode() not in content


def test_book_that_exists_is_not_begun_again(book: SqliteBook, tmp_path: Path, clock: FakeClock) -> None:
    with pytest.raises(StoreError, match="exists already"):
        create_book(book.path, shop="X", practice=False, station="S", key_folder=tmp_path, clock=clock)
    assert book.head().position == 2


def test_no_unfinished_file_is_left_behind(book: SqliteBook, tmp_path: Path) -> None:
    create_book(
        tmp_path / "b.book", shop="X", practice=True, station="S", key_folder=tmp_path / "keys", clock=book.clock
    ).close()
    book.close()
    assert {p.name for p in tmp_path.iterdir()} == {"shop.book", "b.book", "keys"}


def test_failed_beginning_leaves_no_file(tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr("ndi.store.book.save_key", full)
    with pytest.raises(OSError, match="no room"):
        create_book(tmp_path / "a.book", shop="X", practice=False, station="S", key_folder=tmp_path, clock=clock)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("station", ["", " ", "a ", "x" * 41, "a\nb"])
def test_station_code_that_cannot_be_used(tmp_path: Path, clock: FakeClock, station: str) -> None:
    with pytest.raises(InputError, match="station code"):
        create_book(tmp_path / "a.book", shop="X", practice=False, station=station, key_folder=tmp_path, clock=clock)


def test_open_without_file(tmp_path: Path, clock: FakeClock) -> None:
    with pytest.raises(NotFound, match="no record book"):
        open_book(tmp_path / "none.book", station="S", key_folder=tmp_path, clock=clock)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", [b"not a database at all " * 100, b""])
def test_open_what_is_no_book(tmp_path: Path, clock: FakeClock, content: bytes) -> None:
    path = tmp_path / "x.book"
    path.write_bytes(content)
    with pytest.raises(StoreError, match="not a record book"):
        open_book(path, station="S", key_folder=tmp_path, clock=clock)


def test_open_with_the_key_of_another_book(book: SqliteBook, reopen: Any, tmp_path: Path, clock: FakeClock) -> None:
    other = create_book(
        tmp_path / "b.book", shop="X", practice=True, station=STATION, key_folder=tmp_path / "keys", clock=clock
    )
    other.close()
    _key_path(book, tmp_path).write_text(_key_path(other, tmp_path).read_text())
    with pytest.raises(KeyMismatch, match="does not match book"):
        reopen()


def test_open_without_key_or_with_a_broken_one(book: SqliteBook, reopen: Any, tmp_path: Path) -> None:
    path = _key_path(book, tmp_path)
    path.write_text("{}")
    with pytest.raises(KeyMismatch, match="not a station key file"):
        reopen()
    path.unlink()
    with pytest.raises(KeyMismatch, match="no key of station BOOTH 1"):
        reopen()


def test_open_as_a_station_that_the_book_does_not_know(book: SqliteBook, reopen: Any, tmp_path: Path) -> None:
    _key_path(book, tmp_path).rename(_key_path(book, tmp_path, "DESK"))
    with pytest.raises(KeyMismatch, match="knows no station DESK"):
        reopen(station="DESK")


def test_second_station_signs_in_the_same_chain(book: SqliteBook, reopen: Any, tmp_path: Path) -> None:
    add_station(book, "DESK", key_folder=tmp_path / "keys", by="A. Example")
    desk = reopen(station="DESK")
    put(desk, draft(CHECK))
    put(book, draft(CHECK))
    put(desk, draft(CHECK))
    assert book.head().position == 6
    with pytest.raises(InputError, match="keys are not changed"):
        add_station(book, "DESK", key_folder=tmp_path / "keys2", by="A. Example")


def test_database_is_set_to_be_durable(book: SqliteBook) -> None:
    with book.transaction(reading=True) as tx:
        found = {
            name: tx.connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 15000}


def test_writers_take_the_lock_at_the_beginning_readers_do_not(book: SqliteBook) -> None:
    other = sqlite3.connect(book.path, timeout=0, isolation_level=None)
    with book.session(readonly=True) as session:
        session.head()
        other.execute("BEGIN IMMEDIATE")
        other.execute("ROLLBACK")
    with book.session(), pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("BEGIN IMMEDIATE")
    other.close()


# --- guards on the journal ---


def test_guards_are_in_the_file_as_listed(book: SqliteBook) -> None:
    with book.transaction(reading=True) as tx:
        assert guards_found(tx.connection) == SQLITE.guards()


def test_missing_guards_are_restored_at_opening(book: SqliteBook, reopen: Any) -> None:
    with forger(book.path) as connection:
        connection.execute("CREATE TRIGGER entry_no_gap BEFORE INSERT ON entry BEGIN SELECT 1; END")
    with reopen().transaction(reading=True) as tx:
        assert guards_found(tx.connection) == SQLITE.guards()


_COPY = "SELECT {position}, {uid}, station, {seq}, " + ", ".join(
    "kind kind_version event_time offset_min precision how recorded_time boot_ms boot_id by on_behalf_of supersedes why "
    "body prev_hash hash signature".replace(" by ", ' "by" ').split()
)


def _insert(verb: str, position: str = "position", uid: str = "uid", seq: str = "station_seq") -> str:
    return f"{verb} INTO entry {_COPY.format(position=position, uid=uid, seq=seq)} FROM entry WHERE position = 3"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET body = '{}' WHERE position = 3",
        "UPDATE OR IGNORE entry SET body = '{}'",
        "DELETE FROM entry WHERE position = 3",
        "DELETE FROM entry",
        _insert("REPLACE"),
        _insert("INSERT OR REPLACE", position="4"),
        _insert("INSERT OR REPLACE", position="4", uid="'new'"),
        _insert("INSERT", position="9", uid="'new'", seq="99"),
    ],
)
def test_another_program_cannot_change_the_journal_by_mistake(book: SqliteBook, statement: str) -> None:
    put(book, draft(CHECK))
    other = sqlite3.connect(book.path)
    before = other.execute("SELECT * FROM entry").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match="record book"):
        other.execute(statement)
    assert other.execute("SELECT * FROM entry").fetchall() == before
    other.close()


@pytest.mark.parametrize(
    "statement",
    ["DROP TABLE entry", "DROP TRIGGER entry_no_update", "DROP TABLE fact", "ALTER TABLE entry ADD COLUMN x TEXT"],
)
def test_our_own_process_cannot_drop_the_journal(book: SqliteBook, statement: str) -> None:
    with pytest.raises(StoreError, match="not allowed"), book.transaction(reading=False) as tx:
        tx.connection.exec_driver_sql(statement)


# --- errors in words ---


def test_busy_book(book: SqliteBook, reopen: Any) -> None:
    impatient = reopen(busy_seconds=0.05)
    with book.session(), pytest.raises(StoreBusy, match="try again"), impatient.session():
        pass


def test_full_disk_keeps_nothing(book: SqliteBook) -> None:
    with pytest.raises(DiskFull, match="make room"), book.session() as session:
        pages = session._tx.connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        session._tx.connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
        for _ in range(50):
            session.append([draft(f.ConfirmationGiven("I-1", "x" * 5000))])
    book.close()
    assert book.head().position == 2


def test_book_that_cannot_be_written(book: SqliteBook) -> None:
    with pytest.raises(ReadOnly, match="check the rights"), book.session() as session:
        session._tx.connection.exec_driver_sql("PRAGMA query_only = ON")
        session.append([draft(CHECK)])


def test_damaged_book(book: SqliteBook, reopen: Any) -> None:
    put(book, *(draft(f.ConfirmationGiven("I-1", "x" * 500)) for _ in range(50)))
    book.close()
    content = bytearray(book.path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    book.path.write_bytes(content)
    with pytest.raises(BookDamaged, match="restore the last backup"):
        reopen()


# --- network drives ---

MOUNTS = """/dev/sda1 / ext4 rw 0 0
server:/shop /mnt/shop nfs4 rw 0 0
//server/ndi /mnt/shop/with\\040blank cifs rw 0 0
/dev/sdb1 /mnt/shop/local ext4 rw 0 0
me@host: /home/x/far fuse.sshfs rw 0 0
share /mnt/p 9p rw 0 0
"""


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/data/a.book", None),
        ("/mnt/shop/a.book", "nfs4"),
        ("/mnt/shopping/a.book", None),
        ("/mnt/shop/with blank/a.book", "cifs"),
        ("/mnt/shop/local/deep/a.book", None),
        ("/home/x/far/a.book", "fuse.sshfs"),
        ("/mnt/p/a.book", "9p"),
    ],
)
def test_network_file_system(path: str, kind: str | None) -> None:
    assert network_file_system(Path(path), MOUNTS) == kind


def test_book_on_a_network_drive_is_refused_with_the_reason(
    tmp_path: Path, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(StoreError, match=r"network drive \(nfs4\).*disk of this machine"):
        refuse_network_drive(Path("/mnt/shop/a.book"), MOUNTS)
    monkeypatch.setattr("ndi.store.host._mount_table", lambda: f"server:/x {tmp_path} nfs rw 0 0\n")
    with pytest.raises(StoreError, match="network drive"):
        create_book(tmp_path / "a.book", shop="X", practice=True, station="S", key_folder=tmp_path, clock=clock)
    with pytest.raises(StoreError, match="network drive"):
        open_book(tmp_path / "a.book", station="S", key_folder=tmp_path, clock=clock)
