"""Everything that differs between database engines: connecting, the writers' lock, guards on the journal.

SQLite is here; PostgreSQL has a class with the same methods in ``postgres.py``.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import URL, Connection, Engine, create_engine, event

from ndi.domain.errors import StoreError
from ndi.store.schema import SCHEMA_VERSION, SHADOW

APPLICATION_ID = 0x4E444942  # "NDIB" in the file's header


# options of an engine; a listener to every beginning would be asked about at every statement
FIRST_TO_READ, FIRST_TO_WRITE = "first to read", "first to write"


class Dialect(Protocol):
    """What the book needs from an engine beyond portable SQL."""

    def engine(self, place: str | Path, busy_seconds: float) -> Engine:
        """Connections to a file or URL; their options say by which statement a transaction begins.

        One that writes takes the writers' lock by it, one that reads sees one state of the book from it on.
        """

    def stamp(self, connection: Connection) -> None:
        """Mark a new database as a record book of this schema."""

    def check(self, connection: Connection) -> None:
        """StoreError unless the database is a record book that this program can use."""

    def guards(self) -> dict[str, str]:
        """Names and texts of the triggers on the journal."""

    def guarded(self, connection: Connection) -> bool:
        """Whether the journal has these triggers and no others."""

    def restore_guards(self, connection: Connection) -> None:
        """Create the triggers that are missing or differ."""


_TAKEN = (
    "SELECT 1 FROM entry WHERE position = NEW.position OR uid = NEW.uid "
    "OR (station = NEW.station AND station_seq = NEW.station_seq)"
)


def _refusing(name: str, when: str, condition: str, text: str) -> str:
    return f"CREATE TRIGGER {name} BEFORE {when} ON entry {condition}BEGIN SELECT RAISE(ABORT, '{text}'); END"


class SqliteDialect:
    """SQLite: write-ahead log, every commit flushed, writers queue at BEGIN IMMEDIATE."""

    def engine(self, place: str | Path, busy_seconds: float) -> Engine:
        engine = create_engine(
            URL.create("sqlite", database=str(place)),
            connect_args={"timeout": busy_seconds, "cached_statements": 512},
            execution_options={FIRST_TO_READ: "BEGIN", FIRST_TO_WRITE: "BEGIN IMMEDIATE"},
        )
        event.listen(engine, "connect", _connected)
        return engine

    def stamp(self, connection: Connection) -> None:
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.exec_driver_sql(f"PRAGMA user_version = {SCHEMA_VERSION}")

    def check(self, connection: Connection) -> None:
        if connection.exec_driver_sql("PRAGMA application_id").scalar_one() != APPLICATION_ID:
            raise StoreError("this file is not a record book: choose another file or begin a new book")
        version = connection.exec_driver_sql("PRAGMA user_version").scalar_one()
        if version != SCHEMA_VERSION:
            raise StoreError(
                f"this record book has tables of version {version}, this program knows {SCHEMA_VERSION}: use the fitting program"
            )

    def guards(self) -> dict[str, str]:
        text = "the record book is append-only"
        return {
            "entry_no_update": _refusing("entry_no_update", "UPDATE", "", text),
            "entry_no_delete": _refusing("entry_no_delete", "DELETE", "", text),
            # REPLACE deletes without firing the delete trigger, so it is refused before it inserts
            "entry_no_replace": _refusing("entry_no_replace", "INSERT", f"WHEN EXISTS ({_TAKEN}) ", text),
            "entry_no_gap": _refusing(
                "entry_no_gap",
                "INSERT",
                "WHEN NEW.position <> (SELECT COALESCE(MAX(position), 0) + 1 FROM entry) ",
                "entries go to the end of the record book",
            ),
        }

    def guarded(self, connection: Connection) -> bool:
        return guards_found(connection) == self.guards()

    def restore_guards(self, connection: Connection) -> None:
        found = guards_found(connection)
        driver = connection.connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        driver.set_authorizer(None)
        try:
            for name, text in self.guards().items():
                if found.get(name) != text:
                    connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}")
                    connection.exec_driver_sql(text)
        finally:
            driver.set_authorizer(_authorize)


def begin_on(connection: Connection, reading: bool) -> None:
    """Begin a transaction, with the writers' lock unless it only reads."""
    connection.begin()
    connection.exec_driver_sql(connection.get_execution_options()[FIRST_TO_READ if reading else FIRST_TO_WRITE])


def guards_found(connection: Connection) -> dict[str, str]:
    """The triggers that the file really has."""
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").all()
    return {row[0]: row[1] for row in rows}


def _connected(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # sqlite3 opens no transactions by itself: the first statement does
    cursor = connection.cursor()
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()
    connection.set_authorizer(_authorize)


_REFUSED = {sqlite3.SQLITE_DROP_TRIGGER, sqlite3.SQLITE_ALTER_TABLE, sqlite3.SQLITE_DROP_VIEW}
_REFUSED_UNLESS_SHADOW = {sqlite3.SQLITE_DROP_TABLE, sqlite3.SQLITE_DROP_INDEX}


def _authorize(action: int, first: str | None, _second: str | None, _schema: str | None, _trigger: str | None) -> int:
    """Our own process never drops or alters tables; shadow tables of a rebuild may go."""
    if action in _REFUSED or (action in _REFUSED_UNLESS_SHADOW and not (first or "").endswith(SHADOW)):
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK


SQLITE: Dialect = SqliteDialect()
