"""A record book and its transactions; in a SQLite file: begin one, open one."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, Engine, select

from ndi.domain.entry import Draft, Obtained
from ndi.domain.errors import NotFound, StoreError
from ndi.domain.facts import BookBegun, StationKeyEntered
from ndi.domain.moment import Moment
from ndi.services.ports import Clock, Head
from ndi.store.dialect import SQLITE, Dialect, begin_on
from ndi.store.errors import DATABASE_ERRORS, SavingUnknown, store_error
from ndi.store.host import publish, refuse_network_drive
from ndi.store.identifiers import new_book_id
from ndi.store.journal import Remembered
from ndi.store.keys import StationKey, check_key, load_key, new_key, save_key
from ndi.store.rebuild import Difference, rebuild
from ndi.store.schema import ReadTables, entry, journal_metadata, read_tables
from ndi.store.session import SqlSession
from ndi.store.transaction import Tx

BUSY_SECONDS = 15.0  # how long a writer queues behind others before it gives up


class SqlBook:
    """A record book in some database, as one of its stations uses it."""

    def __init__(self, engine: Engine, key: StationKey, clock: Clock) -> None:
        self.key, self.clock = key, clock
        self._engine = engine
        self._remembered = Remembered()
        self._writing = threading.local()

    @property
    def book_id(self) -> str:
        """The random name of this book, fixed at its beginning."""
        return self.key.book

    @property
    def station(self) -> str:
        """The station that signs what this process appends."""
        return self.key.station

    @property
    def practice(self) -> bool:
        """Whether the book is for practice: nothing in it releases a part."""
        with self.session(readonly=True) as session:
            begun = session.entry(1).fact
        return isinstance(begun, BookBegun) and begun.practice

    @contextmanager
    def session(self, readonly: bool = False) -> Iterator[SqlSession]:
        """A transaction; writers queue behind one another, readers (``readonly``) wait for nobody."""
        with self.transaction(reading=readonly) as tx:
            yield SqlSession(tx, self.key, self.clock, readonly=readonly)

    @contextmanager
    def transaction(self, *, reading: bool, tables: ReadTables | None = None) -> Iterator[Tx]:
        """The bare transaction behind a session; taken back unless it was committed."""
        if not reading and getattr(self._writing, "now", False):
            raise StoreError("a session that may write is open in this thread: finish it first, or read in that one")
        with connected(self._engine, reading) as connection:
            self._writing.now = self._is_writing() or not reading
            try:
                # what is being rebuilt is read from the file, never from memory
                remembered = self._remembered if tables is None else Remembered()
                yield Tx(connection, tables or read_tables(), remembered, reading=reading)
            finally:
                if not reading:
                    self._writing.now = False

    def _is_writing(self) -> bool:
        return bool(getattr(self._writing, "now", False))

    def head(self) -> Head:
        """The end of the chain now."""
        with self.transaction(reading=True) as tx:
            return tx.head()

    def rebuild(self, *, compare_only: bool = False) -> list[Difference]:
        """Fill the read tables again from the journal; see :func:`ndi.store.rebuild.rebuild`."""
        return rebuild(self, compare_only=compare_only)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class SqliteBook(SqlBook):
    """A record book in a file on a disk of this machine, used by one or several processes."""

    def __init__(self, engine: Engine, path: Path, key: StationKey, clock: Clock) -> None:
        super().__init__(engine, key, clock)
        self.path = path


@contextmanager
def connected(engine: Engine, reading: bool) -> Iterator[Connection]:
    """A connection with a transaction begun; what the database refuses comes out as StoreError."""
    try:
        with engine.connect() as connection:
            begin_on(connection, reading)
            yield connection
    except DATABASE_ERRORS as error:
        raise store_error(error) from error


def create_book(path: Path, *, shop: str, practice: bool, station: str, key_folder: Path, clock: Clock) -> SqliteBook:
    """Begin a book: its file, the station's key in ``key_folder``, and the first two entries.

    StoreError if the file exists or would lie on a network drive.  The file
    appears under its name only when it is complete.
    """
    refuse_network_drive(path)
    if path.exists():
        raise StoreError(f"{path} exists already: choose another name for the new record book")
    if not path.parent.is_dir():
        raise StoreError(f"the folder {path.parent} does not exist: make it first")
    key = new_key(new_book_id(), station)
    unfinished = path.with_name(f".{path.name}.{key.book}")
    engine = SQLITE.engine(unfinished, BUSY_SECONDS)
    try:
        with connected(engine, reading=False) as connection:
            key = begin(SQLITE, connection, key, shop, practice, clock)
            save_key(key_folder, key)
            connection.commit()
    except BaseException:
        engine.dispose()
        unfinished.unlink(missing_ok=True)
        raise
    engine.dispose()
    publish(unfinished, path)
    return open_book(path, station=station, key_folder=key_folder, clock=clock)


def begin(
    dialect: Dialect, connection: Connection, key: StationKey, shop: str, practice: bool, clock: Clock
) -> StationKey:
    """Make tables and guards and append the first two entries; the key with its entry pinned."""
    make_tables(dialect, connection)
    tx = Tx(connection, read_tables(), Remembered())
    when = Moment(clock.now(), clock.offset_min())
    facts = BookBegun(key.book, shop, practice), StationKeyEntered(key.station, key.public_hex)
    SqlSession(tx, key, clock).append([Draft(fact, when, by=key.station, how=Obtained.COMPUTED) for fact in facts])
    head = tx.head()
    return replace(key, pin_position=head.position, pin_hash=head.hash)


def make_tables(dialect: Dialect, connection: Connection) -> None:
    """Make an empty database into one that a book can be written to."""
    journal_metadata.create_all(connection)
    read_tables().metadata.create_all(connection)
    dialect.restore_guards(connection)
    dialect.stamp(connection)


def open_book(
    path: Path, *, station: str, key_folder: Path, clock: Clock, busy_seconds: float = BUSY_SECONDS
) -> SqliteBook:
    """Open a book as one of its stations.

    NotFound if there is no such file, StoreError if it is no record book or
    lies on a network drive, KeyMismatch if the station's key is not the book's.
    """
    refuse_network_drive(path)
    if not path.is_file():
        raise NotFound(f"there is no record book {path}: check the name, or begin a new book")
    engine = SQLITE.engine(path, busy_seconds)
    try:
        with connected(engine, reading=True) as connection:
            SQLITE.check(connection)
            key = station_key(connection, station, key_folder)
            has_guards = SQLITE.guarded(connection)
        if not has_guards:
            with connected(engine, reading=False) as connection:
                SQLITE.restore_guards(connection)
                connection.commit()
    except BaseException:
        engine.dispose()
        raise
    return SqliteBook(engine, path, key, clock)


def station_key(connection: Connection, station: str, key_folder: Path) -> StationKey:
    """The key of this station in ``key_folder``; KeyMismatch unless the book knows it."""
    book_id, public_hex = book_id_on(connection), _public_key(connection, station)
    key = load_key(key_folder, book_id, station)
    check_key(key, book_id, station, public_hex)
    return key


def _bodies(connection: Connection, kind: str) -> list[dict[str, object]]:
    query = select(entry.c.body).where(entry.c.kind == kind).order_by(entry.c.position)
    try:
        return [dict(json.loads(row.body)) for row in connection.execute(query)]
    except ValueError as error:
        raise StoreError(f"a {kind} entry cannot be read ({error}): restore the last backup") from error


def book_id_on(connection: Connection) -> str:
    """The name of the book in a database; StoreError if it has no beginning."""
    bodies = _bodies(connection, BookBegun.__name__)
    if not bodies:
        raise StoreError("this record book has no beginning: restore the last backup")
    return str(bodies[0].get("book"))


def _public_key(connection: Connection, station: str) -> str | None:
    bodies = _bodies(connection, StationKeyEntered.__name__)
    return next((str(body.get("public_key")) for body in bodies if body.get("station") == station), None)


def add_station(book: SqlBook, station: str, *, key_folder: Path, by: str) -> None:
    """Make a further station known to a book: its key file in ``key_folder``, its public half an entry.

    The entry is signed by the station that ``book`` was opened as; InputError if
    the code is taken.
    """
    key = new_key(book.book_id, station)
    with book.session() as session:
        when = Moment(book.clock.now(), book.clock.offset_min())
        recorded = session.append([Draft(StationKeyEntered(station, key.public_hex), when, by=by)])
        path = save_key(key_folder, replace(key, pin_position=recorded[0].position, pin_hash=session.head().hash))
        try:
            session.commit()
        except SavingUnknown:
            raise  # the book may know the key already: it is not thrown away
        except StoreError:
            path.unlink()
            raise
