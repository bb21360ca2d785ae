"""A record book wherever it is: a file of this machine, or a database on a server."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ndi.domain.errors import InputError, NotFound, ReadOnly
from ndi.services.ports import Clock
from ndi.store.book import BUSY_SECONDS, SqlBook, SqliteBook, book_id_on, connected, create_book, open_book
from ndi.store.dialect import SQLITE, Dialect
from ndi.store.host import refuse_network_drive
from ndi.store.keys import nobody
from ndi.store.session import SqlSession


def is_url(where: str | Path) -> bool:
    """Whether ``where`` names a database on a server rather than a file."""
    return isinstance(where, str) and "://" in where


def open_any(where: str | Path, *, station: str, key_folder: Path, clock: Clock, as_owner: bool = False) -> SqlBook:
    """Open a book by its file or URL; ``as_owner`` bears on a server only."""
    if is_url(where):
        from ndi.store.postgres import open_book_on

        return open_book_on(str(where), station=station, key_folder=key_folder, clock=clock, as_owner=as_owner)
    return open_book(Path(where), station=station, key_folder=key_folder, clock=clock)


def create_any(
    where: str | Path,
    *,
    shop: str,
    practice: bool,
    station: str,
    key_folder: Path,
    clock: Clock,
    owner_url: str | None = None,
) -> SqlBook:
    """Begin a book in a new file, or in an empty database that ``owner_url``'s account owns."""
    if not is_url(where):
        return create_book(
            Path(where), shop=shop, practice=practice, station=station, key_folder=key_folder, clock=clock
        )
    if owner_url is None:
        raise InputError("to begin a book on a server, name also the address with the account that is to own it")
    from ndi.store.postgres import create_book_on

    return create_book_on(
        str(where),
        owner_url=owner_url,
        shop=shop,
        practice=practice,
        station=station,
        key_folder=key_folder,
        clock=clock,
    )


class _ForReading(SqlBook):
    """A book where no station's key is at hand: it is read and verified, nothing can be added to it."""

    @contextmanager
    def session(self, readonly: bool = False) -> Iterator[SqlSession]:
        if not readonly:
            raise ReadOnly("no station's key is at hand: this book can only be read and verified here")
        with super().session(readonly=True) as session:
            yield session


class _FileForReading(_ForReading, SqliteBook):
    pass


def open_to_read(where: str | Path, *, clock: Clock) -> SqlBook:
    """Open a book without a station's key, for whoever only reads it; whether it is whole, ``verify`` says."""
    path = None if is_url(where) else Path(where)
    dialect: Dialect = SQLITE
    if path is None:
        from ndi.store.postgres import POSTGRES

        dialect, engine = POSTGRES, POSTGRES.engine(str(where), BUSY_SECONDS)
    else:
        refuse_network_drive(path)
        if not path.is_file():
            raise NotFound(f"there is no record book {path}: check the name, or begin a new book")
        engine = SQLITE.engine(path, BUSY_SECONDS)
    try:
        with connected(engine, reading=True) as connection:
            dialect.check(connection)
            key = nobody(book_id_on(connection))
    except BaseException:
        engine.dispose()
        raise
    return _ForReading(engine, key, clock) if path is None else _FileForReading(engine, path, key, clock)
