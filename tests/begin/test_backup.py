"""Copies of a book in use: compared by their heads, never half there, never over a book, keys apart."""

from __future__ import annotations

import errno
import hashlib
import sqlite3
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.services.copies import backup_age, copies_text, late_backup, record_backup
from ndi.services.lookup import every
from ndi.services.workplace import Workplace
from ndi.store import backup as store_backup
from tests.begin.conftest import Run, head, put
from tests.services.shop import Shop


def fill(work: Workplace, count: int = 20) -> None:
    put(work, *(f.EquipmentEntered(f"E-{number}", "lamp") for number in range(count)))


def rows(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        return connection.execute("SELECT * FROM entry ORDER BY position").fetchall()


def book_of(tmp_path: Path) -> Path:
    return tmp_path / "empty.ndibook"


def photograph(work: Workplace, folder: Path, content: bytes) -> str:
    """A photograph in its folder and in the book; its name."""
    name = hashlib.sha256(content).hexdigest()
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.jpg").write_bytes(content)
    put(work, f.PhotoAttached("MT-1", name, work.now()))
    return name


def test_copy_holds_every_entry_and_its_head_is_in_the_book(empty: Workplace, tmp_path: Path) -> None:
    fill(empty)
    made = bootstrap.back_up(empty, tmp_path / "away", whole_chain=True)
    assert str(made.head) == head(empty)
    assert made.entries == made.head.position
    assert rows(made.path) == rows(book_of(tmp_path))
    assert [path.name for path in (tmp_path / "away").iterdir()] == [made.path.name]  # one plain file, no log beside it


def test_copy_of_a_book_that_is_being_written_is_one_state_of_it(empty: Workplace, tmp_path: Path) -> None:
    """While another connection appends: what is copied is a beginning of the chain, whole."""
    stop = threading.Event()
    failed: list[BaseException] = []

    def write() -> None:
        work = bootstrap.open_book(book_of(tmp_path))
        try:
            while not stop.is_set():
                put(work, *(f.EquipmentSwitched("E-1", "on") for _ in range(5)))
        except BaseException as error:  # reported below
            failed.append(error)
        finally:
            work.book.close()  # type: ignore[attr-defined]

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [bootstrap.back_up(empty, tmp_path / f"away{number}", whole_chain=True) for number in range(4)]
    finally:
        stop.set()
        writer.join()
    assert not failed
    whole = rows(book_of(tmp_path))
    assert copies[-1].head.position > copies[0].head.position
    for copy in copies:
        assert rows(copy.path) == whole[: copy.head.position]


def test_two_copies_within_one_second_are_both_kept_and_restored_with_their_photographs(
    shop: Shop, tmp_path: Path
) -> None:
    """The clock of this shop stands still."""
    book = shop.work.book.path  # type: ignore[attr-defined]
    name = photograph(shop.work, bootstrap.photo_folder(book), b"one")
    copies = [bootstrap.back_up(shop.work, tmp_path / "away").path for _ in range(3)]
    assert len(set(copies)) == 3
    for number, copy in enumerate(copies):
        assert bootstrap.restore(copy, tmp_path / f"again{number}.book").photographs.copied == 1
        assert (tmp_path / f"again{number}-photographs" / f"{name}.jpg").is_file()


def test_copy_is_not_put_beside_the_book(empty: Workplace, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="another disk"):
        bootstrap.back_up(empty, tmp_path)


@pytest.mark.parametrize("step", ["_copy_database", "_compare_with", "_copy_photographs", "_settle", "publish"])
def test_failure_at_any_step_leaves_nothing_behind(
    empty: Workplace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(store_backup, step, fail)
    before = head(empty)
    with pytest.raises(StoreError, match="No space left"):
        bootstrap.back_up(empty, tmp_path / "away")
    assert list((tmp_path / "away").iterdir()) == []
    assert head(empty) == before


def test_photographs_go_along_once_and_missing_ones_are_named(empty: Workplace, tmp_path: Path) -> None:
    folder = bootstrap.photo_folder(book_of(tmp_path))
    first, second = photograph(empty, folder, b"one"), photograph(empty, folder, b"two")
    away = tmp_path / "away"
    assert bootstrap.back_up(empty, away).photographs == store_backup.Photographs(2, 0, ())
    third = photograph(empty, folder, b"three")
    (folder / f"{third}.jpg").write_bytes(b"changed")
    again = bootstrap.back_up(empty, away)
    assert again.photographs == store_backup.Photographs(0, 2, (third,))
    assert {path.name for path in (away / folder.name).iterdir()} == {f"{first}.jpg", f"{second}.jpg"}


def test_damaged_photograph_of_the_copy_is_copied_again_when_all_is_looked_at(empty: Workplace, tmp_path: Path) -> None:
    folder = bootstrap.photo_folder(book_of(tmp_path))
    name = photograph(empty, folder, b"one")
    away = tmp_path / "away"
    bootstrap.back_up(empty, away)
    (away / folder.name / f"{name}.jpg").write_bytes(b"rot")
    assert bootstrap.back_up(empty, away, whole_chain=True).photographs.copied == 1
    assert (away / folder.name / f"{name}.jpg").read_bytes() == b"one"


# --- restoring ----------------------------------------------------------------------------------------


def test_restored_book_is_the_book_and_goes_on(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    fill(empty)
    name = photograph(empty, bootstrap.photo_folder(book_of(tmp_path)), b"one")
    said = ndi("backup", book_of(tmp_path), tmp_path / "away", "--with-keys", tmp_path / "safe")
    assert said.code == 0 and "1 copied" in said.out
    assert not [path for path in (tmp_path / "away").rglob("*") if path.suffix in (".key", ".pepper")]
    copy = next((tmp_path / "away").glob("*.ndibook"))
    restored = tmp_path / "new" / "again.ndibook"
    said = ndi("restore", copy, restored, "--keys", tmp_path / "safe")
    assert said.code == 0 and "head of the backup" in said.out
    assert rows(restored) == rows(copy)
    assert (tmp_path / "new" / "again-photographs" / f"{name}.jpg").read_bytes() == b"one"
    work = bootstrap.open_book(restored)
    put(work, f.EquipmentSwitched("E-1", "on"))
    assert bootstrap.verify(work.book).ok
    work.book.close()  # type: ignore[attr-defined]


def test_head_from_paper_shows_whether_a_backup_is_too_old(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    fill(empty)
    on_paper = head(empty)
    copy = bootstrap.back_up(empty, tmp_path / "away").path
    put(empty, f.EquipmentSwitched("E-1", "on"))
    later = head(empty)
    assert ndi("restore", copy, tmp_path / "a.ndibook", "--against", on_paper).code == 0
    said = ndi("restore", copy, tmp_path / "b.ndibook", "--against", later)
    assert said.code == 3 and "does not hold" in said.err
    assert not (tmp_path / "b.ndibook").exists()


def test_book_that_is_there_is_never_written_over(empty: Workplace, tmp_path: Path) -> None:
    copy = bootstrap.back_up(empty, tmp_path / "away").path
    before = head(empty)
    with pytest.raises(InputError, match="not overwritten"):
        bootstrap.restore(copy, book_of(tmp_path))
    assert head(empty) == before
    with pytest.raises(NotFound):
        bootstrap.restore(tmp_path / "none.ndibook", tmp_path / "c.ndibook")


def _without_guards(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(statement)
        connection.commit()


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE entry SET by = 'SOMEBODY' WHERE position = 9", "Entry 9: changed"),
        ("DELETE FROM entry WHERE position = 9", "Entry 9: removed"),
        ("UPDATE entry SET signature = '00' WHERE position = 9", "Entry 9"),
    ],
)
def test_backup_that_was_changed_is_not_restored(empty: Workplace, tmp_path: Path, statement: str, words: str) -> None:
    fill(empty)
    copy = bootstrap.back_up(empty, tmp_path / "away").path
    _without_guards(copy, statement)
    target = tmp_path / "again.ndibook"
    with pytest.raises(StoreError, match=words):
        bootstrap.restore(copy, target)
    assert [path.name for path in tmp_path.iterdir() if "again" in path.name] == []


def test_file_that_is_no_book_or_is_cut_is_said_so(empty: Workplace, tmp_path: Path) -> None:
    fill(empty, 200)
    copy = bootstrap.back_up(empty, tmp_path / "away").path
    other = tmp_path / "other.ndibook"
    other.write_bytes(b"something else entirely " * 300)
    with pytest.raises(StoreError, match="not a record book"):
        bootstrap.restore(other, tmp_path / "again.ndibook")
    other.write_bytes(copy.read_bytes()[:40_000])
    with pytest.raises(StoreError):
        bootstrap.restore(other, tmp_path / "again.ndibook")
    assert not (tmp_path / "again.ndibook").exists()


# --- what the book knows of it ------------------------------------------------------------------------


def test_age_of_the_last_backup_is_known(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    said = ndi("backup", book_of(tmp_path), "--age")
    assert (said.code, said.out) == (1, "no backup of this book was ever made\n")
    before = head(empty)
    assert ndi("backup", book_of(tmp_path), tmp_path / "away", "--by", "CLERK").code == 0
    with empty.book.session(readonly=True) as session:
        (made,) = every(session, f.BackupMade)
        age = backup_age(empty, session)
    assert (f"{made.fact.position}:{made.fact.hash[:16]}", made.by) == (before, "CLERK")
    assert Path(made.fact.place).is_file()
    assert age is not None and age.entries_since == 1 and timedelta(0) <= age.age < timedelta(minutes=2)
    said = ndi("backup", book_of(tmp_path), "--age", "--most", "26")
    assert said.code == 0 and said.out.startswith("last backup ")
    assert ndi("backup", book_of(tmp_path), "--age", "--most", "0").code == 1


def test_latest_backup_counts(empty: Workplace) -> None:
    with empty.book.session(readonly=True) as session:
        first = session.head()
    record_backup(empty, "/a", first, "CLERK")
    with empty.book.session(readonly=True) as session:
        second = session.head()
    record_backup(empty, "/b", second, "CLERK")
    with empty.book.session(readonly=True) as session:
        age = backup_age(empty, session)
    assert age is not None and (age.made.fact.place, age.entries_since) == ("/b", 1)


def test_keys_are_not_put_where_the_backup_lies(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    for place in ("away", "away/keys"):
        said = ndi("backup", book_of(tmp_path), tmp_path / "away", "--with-keys", tmp_path / place)
        assert said.code == 2 and "apart" in said.err
    assert not (tmp_path / "away").exists()


def test_desk_says_how_old_backup_and_export_are(empty: Workplace, tmp_path: Path, ndi: Run) -> None:
    def said() -> str:
        with empty.book.session(readonly=True) as session:
            return copies_text(empty, session)

    assert said() == "No backup of this book was ever made. Never exported."
    assert ndi("backup", book_of(tmp_path), tmp_path / "away").code == 0
    assert said().startswith("Last backup ") and "Never exported." in said()
    assert ndi("export", book_of(tmp_path), tmp_path / "out.zip").code == 0
    assert "Last export 20" in said() and "entries since" in said()


@pytest.mark.parametrize(("hours", "entries", "late"), [(24, 3, False), (24.1, 3, True), (24.1, 0, False)])
def test_backup_is_late_after_a_day_with_entries(shop: Shop, hours: float, entries: int, late: bool) -> None:
    """A backup each day: common practice, no source."""

    def is_late() -> bool:
        with shop.work.book.session(readonly=True) as session:
            return bool(late_backup(shop.work, session))

    assert is_late()  # never made
    with shop.work.book.session(readonly=True) as session:
        head = session.head()
    record_backup(shop.work, "/mnt/away/x", head, "SUP-F")
    assert not is_late()
    shop.after(int(hours * 3600))
    put(shop.work, *(f.EquipmentEntered(f"E-{number}", "lamp") for number in range(entries)))
    assert is_late() is late
