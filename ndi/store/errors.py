"""Errors of the database in words that say what to do.

StoreError
├── StoreBusy      another process holds the book
├── DiskFull       no room; nothing was written
├── BookDamaged    the file is not a database any more
└── KeyMismatch    the station key does not belong to this book
"""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError

from ndi.domain.errors import ReadOnly, StoreError


class StoreBusy(StoreError):
    """Somebody else was writing for longer than this station waits."""


class DiskFull(StoreError):
    """The disk has no room; the transaction was taken back whole."""


class BookDamaged(StoreError):
    """The file cannot be read as a database."""


class KeyMismatch(StoreError):
    """The station key is missing or is not the one that this book knows."""


_BUSY, _LOCKED, _READONLY, _IOERR, _CORRUPT, _FULL, _CANTOPEN, _CONSTRAINT, _AUTH, _NOTADB = (
    5, 6, 8, 10, 11, 13, 14, 19, 23, 26,
)  # fmt: skip  # primary result codes, sqlite.org/rescode.html

_TEXTS: dict[int, tuple[type[StoreError], str]] = {
    _BUSY: (StoreBusy, "another process is writing to the record book: wait a moment and try again; nothing was saved"),
    _LOCKED: (
        StoreBusy,
        "the record book is locked: close the other window that uses it and try again; nothing was saved",
    ),
    _READONLY: (
        ReadOnly,
        "the record book cannot be written: check the rights of the file and of its folder; nothing was saved",
    ),
    _IOERR: (StoreError, "the disk could not read or write the record book: check disk and cable; nothing was saved"),
    _CORRUPT: (
        BookDamaged,
        "the record book is damaged: stop working on it, copy the file aside and restore the last backup",
    ),
    _FULL: (DiskFull, "the disk is full: make room and enter it again; nothing was saved"),
    _CANTOPEN: (
        StoreError,
        "the record book cannot be opened: check that the file and its folder exist and can be read",
    ),
    _CONSTRAINT: (StoreError, "the record book refused the change; nothing was saved"),
    _AUTH: (StoreError, "dropping or altering tables of the record book is not allowed from this program"),
    _NOTADB: (
        BookDamaged,
        "this file is not a record book, or its beginning is damaged: choose another file or restore the last backup",
    ),
}


def store_error(error: Exception) -> StoreError:
    """The error of the project for an error of SQLAlchemy or sqlite3; the cause is named at its end."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(cause, "sqlite_errorcode", None)
    if code is None and isinstance(cause, sqlite3.DatabaseError) and "not authorized" in str(cause):
        code = _AUTH
    kind, text = _TEXTS.get((code or 0) & 0xFF, (StoreError, "the record book could not be used; nothing was saved"))
    return kind(f"{text} ({cause})")
