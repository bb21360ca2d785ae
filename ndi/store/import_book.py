"""A book from its export: everything is checked first, then all of it is taken over or nothing.

The entries come in as they went out, byte for byte, so that the new book ends
with the same head; the read tables are made from them anew.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TypeVar

from sqlalchemy import Connection, insert
from sqlalchemy.exc import DataError

from ndi.domain.errors import ExportError, InputError, StoreError
from ndi.services.ports import Clock, Head, PhotoArchive
from ndi.store.book import BUSY_SECONDS, SqlBook, SqliteBook, connected, make_tables
from ndi.store.dialect import SQLITE, Dialect
from ndi.store.export import TOLD_EVERY
from ndi.store.export_reader import Checked, check
from ndi.store.host import flush_folder, publish, refuse_network_drive
from ndi.store.journal import Remembered, recorded_from_row
from ndi.store.keys import nobody
from ndi.store.new_file import remove, settle
from ndi.store.package import ENTRIES, Tell, unheard
from ndi.store.package_reader import opened
from ndi.store.places import is_url
from ndi.store.projection import apply
from ndi.store.schema import client_key, entry, read_tables
from ndi.store.transaction import Tx
from ndi.store.verify import verify

_BATCH = 250
_INSERT = insert(entry)
T = TypeVar("T")


@dataclass(frozen=True)
class Imported:
    """A book that was taken over whole, and what its export could not bring."""

    book: str
    head: Head
    entries: int
    photographs: int
    missing: tuple[str, ...]  # photographs that were lost before the export
    stations: tuple[str, ...]  # whose keys have to come on their own way


@dataclass(frozen=True)
class Photographs:
    """Where the photographs of a book go once its id is known, and how an archive in a folder is opened."""

    folder: Callable[[str], Path]
    archive: Callable[[Path], PhotoArchive]


def import_book(
    export: Path,
    where: str | Path,
    *,
    clock: Clock,
    photographs: Photographs,
    owner_url: str | None = None,
    against: str | None = None,
    tell: Tell = unheard,
) -> Imported:
    """Make a book from an export: in a new file, or in an empty database that ``owner_url``'s account owns.

    ExportError if anything in the export does not hold, InputError if a name is
    taken, StoreError if the place cannot be written; then nothing is left.
    """
    if is_url(where) and owner_url is None:
        raise InputError("to make a book on a server, name also the address with the account that is to own it")
    path = None if is_url(where) else Path(where)
    if path is not None:
        _check_free(path)
    try:
        with opened(export) as source:
            checked = check(source, against, tell)
            with _photographs(checked, photographs):
                if path is None:
                    _into_database(checked, str(where), str(owner_url), clock, tell)
                else:
                    _into_file(checked, path, clock, tell)
            walk = checked.walk
            return Imported(
                walk.book,
                walk.head,
                walk.position,
                len(checked.photographs),
                checked.missing,
                tuple(sorted(walk.stations)),
            )
    except OSError as error:
        raise StoreError(
            f"{where} cannot be written ({error.strerror or error}): make room or name another place; nothing was kept"
        ) from error


def _check_free(path: Path) -> None:
    refuse_network_drive(path)
    if path.exists():
        raise InputError(
            f"{path} is there already and is not overwritten: name another file for the book, or move it away first"
        )
    if not path.parent.is_dir():
        raise InputError(f"the folder {path.parent} does not exist: make it first")


def _into_file(checked: Checked, path: Path, clock: Clock, tell: Tell) -> None:
    unfinished = path.with_name(f".{path.name}-{os.getpid()}.unfinished")
    engine = SQLITE.engine(unfinished, BUSY_SECONDS)
    try:
        try:
            with connected(engine, reading=False) as connection:
                _fill(SQLITE, connection, checked, tell)
                connection.commit()
            _compare(SqliteBook(engine, unfinished, nobody(), clock), checked)
        finally:
            engine.dispose()
        settle(unfinished)
        publish(unfinished, path)
    finally:
        remove(unfinished)


def _into_database(checked: Checked, url: str, owner_url: str, clock: Clock, tell: Tell) -> None:
    from ndi.store.postgres import POSTGRES, fill_empty

    fill_empty(url, owner_url, lambda connection: _fill(POSTGRES, connection, checked, tell))
    engine = POSTGRES.engine(owner_url, BUSY_SECONDS)
    try:
        _compare(SqlBook(engine, nobody(), clock), checked)
    finally:
        engine.dispose()


def _fill(dialect: Dialect, connection: Connection, checked: Checked, tell: Tell) -> None:
    """Tables, entries and what follows from them, in the caller's transaction."""
    make_tables(dialect, connection)
    tx = Tx(connection, read_tables(), Remembered(_BATCH))
    for rows in _batches(checked.rows()):
        tx.quickly(_INSERT, rows)
        for row in rows:
            try:
                apply(tx, recorded_from_row(row))
            except (OverflowError, DataError):  # a number that no column of the tables holds
                raise ExportError(
                    checked.source.name,
                    ENTRIES,
                    row["position"],
                    "holds a number too large for the tables of a book; no program of this kind wrote it. Nothing was kept",
                ) from None
        if rows[-1]["position"] % TOLD_EVERY == 0:
            tell("entries", rows[-1]["position"], checked.walk.position)
    for calls in _batches(checked.call_rows()):
        tx.run(insert(client_key), calls)
    if tx.head() != checked.walk.head:
        raise StoreError(f"the book ends with {tx.head()} and not with {checked.walk.head}: nothing was kept")


def _batches(rows: Iterable[T]) -> Iterator[list[T]]:
    left = iter(rows)
    while batch := list(islice(left, _BATCH)):
        yield batch


def _compare(book: SqlBook, checked: Checked) -> None:
    """The book that was made, verified as any other."""
    found = verify(book, against=checked.walk.head, read_tables=False)
    if not found.ok or found.head != checked.walk.head:
        raise StoreError(f"the book that was made does not hold: do not use it. {found.message}")


@contextmanager
def _photographs(checked: Checked, photographs: Photographs) -> Iterator[None]:
    """Photographs in their folder before the book speaks of them; away again when the block fails."""
    if not checked.photographs:
        yield
        return
    folder = photographs.folder(checked.walk.book)
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()
    if folder.exists():
        raise InputError(f"{folder} is there already, and is where the photographs would go: move it away first")
    folder.parent.mkdir(parents=True, exist_ok=True)
    unfinished = folder.with_name(f".{folder.name}-{os.getpid()}.unfinished")
    try:
        archive = photographs.archive(unfinished)
        for raw in checked.photographs:
            archive.keep(checked.photograph(raw.hex()))
        unfinished.rename(folder)
    finally:
        _throw_away(unfinished)
    flush_folder(folder.parent)
    try:
        yield
    except BaseException:
        _throw_away(folder)
        raise


def _throw_away(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
