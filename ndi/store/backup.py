"""Copies of a record book made while it is in use, and books made from such copies; compared by their heads.

The copy is one plain file that appears under its name only when it was read
back and found whole.  Photographs are files named by their SHA-256: they lie in
one folder beside the copies, and only those that are missing there are copied.
Keys are never part of a copy; who keeps them does so elsewhere.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import chain, count
from pathlib import Path

from ndi.domain.errors import InputError, NotFound, StoreError
from ndi.domain.facts import FormTranscribed, PhotoAttached
from ndi.services.ports import Clock, Head
from ndi.store.book import SqliteBook
from ndi.store.dialect import APPLICATION_ID, SQLITE
from ndi.store.errors import store_error
from ndi.store.host import flush_folder, publish, refuse_network_drive, write_private
from ndi.store.keys import StationKey, nobody
from ndi.store.new_file import remove as _remove
from ndi.store.new_file import settle as _settle
from ndi.store.verify import verify

BUSY_SECONDS = 15.0
_PHOTOGRAPH = re.compile(r"([0-9a-f]{64})(\.\w+)?\Z", re.ASCII)


@dataclass(frozen=True)
class Photographs:
    """Copied now, there already, and named in the book but not found in its folder (or not what they were)."""

    copied: int = 0
    kept: int = 0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Copy:
    """A copy that was read back: its file, its end of chain, how many entries hold, its photographs."""

    path: Path
    head: Head
    entries: int
    photographs: Photographs
    same_disk: bool = False


def back_up(book: SqliteBook, destination: Path, photographs: Path | None, *, whole_chain: bool = False) -> Copy:
    """Copy a book that may be in use into the folder ``destination``.

    The copy is opened again: its file is checked, its head compared with the
    entry of that position in the book, and with ``whole_chain`` every entry and
    signature.  StoreError if it does not hold or cannot be written; then
    nothing is left behind.
    """
    if destination.resolve() == book.path.parent.resolve():
        raise InputError(f"{destination} is where the book itself lies: name a folder on another disk or machine")
    with _no_os_error(destination):
        destination.mkdir(parents=True, exist_ok=True)
        unfinished = destination / f".{book.path.stem}-{os.getpid()}.unfinished"
        try:
            _copy_database(book.path, unfinished)
            head = _head_of(unfinished)
            _compare_with(book, head)
            entries = _whole(unfinished, book.clock, book.key, head) if whole_chain else head.position
            pictures = _copy_photographs(
                unfinished, photographs, destination / photo_folder_name(book.path), whole_chain
            )
            _settle(unfinished)
            path = _free_name(destination, book, head)
            publish(unfinished, path)
        finally:
            _remove(unfinished)
        return Copy(path, head, entries, pictures, _is_same_disk(book.path, path))


def restore(backup: Path, path: Path, *, clock: Clock, against: str | None = None) -> Copy:
    """Make a book from a copy; every entry and signature is checked before it gets its name.

    InputError if ``path`` is taken, StoreError if the copy does not hold or
    ``against`` (a head from paper) is not in its chain; then nothing is left behind.
    """
    refuse_network_drive(path)
    if path.exists():
        raise InputError(
            f"{path} is there already and is not overwritten: restore under another name, or move it away first"
        )
    if not backup.is_file():
        raise NotFound(f"there is no backup {backup}: name the file that `ndi backup` wrote")
    with _no_os_error(path.parent):
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_name(f".{path.name}-{os.getpid()}.unfinished")
        try:
            _copy_database(backup, unfinished)
            head = _head_of(unfinished)
            if head != _head_of(backup):
                raise StoreError(f"{backup} changed while it was copied: copy the file aside and restore from that")
            entries = _whole(unfinished, clock, None, head, against)
            source = backup.parent / _folder_of_copies(backup)
            pictures = _copy_photographs(unfinished, source, path.with_name(photo_folder_name(path)), True)
            _settle(unfinished)
            publish(unfinished, path)
        finally:
            _remove(unfinished)
        return Copy(path, head, entries, pictures, _is_same_disk(backup, path))


def photo_folder_name(book: Path) -> str:
    """The folder of a book's photographs, beside it."""
    return f"{book.stem}-photographs"


def copy_keys(source: Path, target: Path) -> int:
    """Copy every key file (mode 0600) into a folder that is not where the backup lies; how many there were."""
    if not source.is_dir():
        raise NotFound(f"there is no key folder {source}: name the folder that holds the keys of this book's stations")
    files = sorted(path for path in source.iterdir() if path.is_file())
    for path in files:
        text, copy = path.read_text(encoding="utf-8"), target / path.name
        if copy.exists() and copy.read_text(encoding="utf-8") == text:
            continue
        write_private(copy, text)
    return len(files)


def _free_name(destination: Path, book: SqliteBook, head: Head) -> Path:
    """Book, time and position; a second copy within one second gets a number."""
    name = f"{book.path.stem}-{book.clock.now():%Y%m%dT%H%M%SZ}-{head.position}"
    names = (f"{name}{ending}{book.path.suffix}" for ending in chain([""], (f"-{number}" for number in count(2))))
    return next(path for path in (destination / each for each in names) if not path.exists())


def _folder_of_copies(backup: Path) -> str:
    """``shop-20260310T120000Z-812.ndibook`` lies beside ``shop-photographs``."""
    name = re.sub(r"-\d{8}T\d{6}Z-\d+(-\d+)?\Z", "", backup.stem, flags=re.ASCII)
    return f"{name}-photographs"


# --- the database file ----------------------------------------------------------------------------


def _copy_database(source: Path, target: Path) -> None:
    """One consistent state of ``source``; writers there need not wait."""
    with _no_database_error(), closing(_read_only(source)) as old, closing(sqlite3.connect(target)) as new:
        if old.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            raise StoreError(f"{source} is not a record book: choose another file")
        old.backup(new)


def _read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=BUSY_SECONDS)


def _head_of(path: Path) -> Head:
    """The end of the chain as a file holds it; BookDamaged if the file itself is not whole."""
    with _no_database_error(), closing(_read_only(path)) as connection:
        found = connection.execute("PRAGMA quick_check").fetchone()[0]
        if found != "ok":
            raise StoreError(f"{path} is damaged ({found}): use an earlier backup")
        row = connection.execute("SELECT position, hash FROM entry ORDER BY position DESC LIMIT 1").fetchone()
    if row is None:
        raise StoreError(f"{path} holds no entry: use another backup")
    return Head(int(row[0]), str(row[1]))


def _compare_with(book: SqliteBook, head: Head) -> None:
    """The head of the copy is the entry of that position in the book, which may have gone on since."""
    with _no_database_error(), closing(_read_only(book.path)) as connection:
        row = connection.execute("SELECT hash FROM entry WHERE position = ?", (head.position,)).fetchone()
    if row is None or row[0] != head.hash:
        raise StoreError(f"the copy ends with {head}, the book has another entry there: nothing was kept, copy again")


def _whole(path: Path, clock: Clock, key: StationKey | None, head: Head, against: str | None = None) -> int:
    """Walk the chain of a copy; how many entries hold."""
    engine = SQLITE.engine(path, BUSY_SECONDS)
    try:
        found = verify(SqliteBook(engine, path, key or nobody(), clock), against=against)
    finally:
        engine.dispose()
    if not found.ok:
        raise StoreError(f"the copy does not hold and was not kept. {found.message}")
    if found.head != head:
        raise StoreError(f"the copy ends with {found.head} and not with {head}: nothing was kept, copy again")
    return found.checked


# --- photographs ------------------------------------------------------------------------------------


def _copy_photographs(copy: Path, source: Path | None, target: Path, look_at_all: bool) -> Photographs:
    """Bring what is missing in ``target``; each new file (``look_at_all``: every file) must be what its name says."""
    found = {str(path.relative_to(source)): path for path in _photographs(source)} if source is not None else {}
    copied = kept = 0
    whole: set[str] = set()
    for name, path in sorted(found.items()):
        place = target / name
        if place.exists() and (not look_at_all or _is_itself(place)):
            kept += 1
        elif _is_itself(path):
            _copy_file(path, place)
            copied += 1
        else:
            continue
        whole.add(path.name[:64])
    return Photographs(copied, kept, tuple(sorted(_named_in(copy) - whole)))


def _photographs(folder: Path | None) -> Iterator[Path]:
    if folder is not None and folder.is_dir():
        yield from (path for path in folder.rglob("*") if path.is_file() and _PHOTOGRAPH.match(path.name))


def _is_itself(path: Path) -> bool:
    return _digest(path) == path.name[:64]


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _copy_file(path: Path, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    unfinished = place.with_name(f".{place.name}.unfinished")
    with path.open("rb") as source, unfinished.open("wb") as target:
        shutil.copyfileobj(source, target)
        target.flush()
        os.fsync(target.fileno())
    if _digest(unfinished) != path.name[:64]:
        unfinished.unlink()
        raise StoreError(
            f"the copy of {path} in {place.parent} is not what was copied: look after that disk; copy again"
        )
    os.replace(unfinished, place)
    flush_folder(place.parent)


def _named_in(copy: Path) -> set[str]:
    """The photographs that the book's entries name."""
    query = "SELECT json_extract(body, '$.sha256') FROM entry WHERE kind IN (?, ?) AND json_extract(body, '$.sha256') IS NOT NULL"
    with _no_database_error(), closing(_read_only(copy)) as connection:
        return {str(row[0]) for row in connection.execute(query, (PhotoAttached.__name__, FormTranscribed.__name__))}


# --- errors -----------------------------------------------------------------------------------------


@contextmanager
def _no_database_error() -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise store_error(error) from error


@contextmanager
def _no_os_error(place: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"{place} cannot be used ({error.strerror}): make room or name another folder; nothing was kept"
        ) from error


def _is_same_disk(one: Path, other: Path) -> bool:
    return one.stat().st_dev == other.stat().st_dev
