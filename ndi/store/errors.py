"""Errors of the database in words that say what to do.

StoreError
├── StoreBusy       another process holds the book
├── DiskFull        no room; nothing was written
├── BookDamaged     the database cannot be read any more
├── KeyMismatch     the station key does not belong to this book
├── ConnectionLost  the database server went away; nothing of the step was saved
└── SavingUnknown   it went away while it was saving: saved whole or not at all
"""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError, PendingRollbackError

from ndi.domain.errors import ReadOnly, StoreError

DATABASE_ERRORS = (DBAPIError, PendingRollbackError)  # what SQLAlchemy raises for the database


class StoreBusy(StoreError):
    """Somebody else was writing for longer than this station waits."""


class DiskFull(StoreError):
    """The disk has no room; the transaction was taken back whole."""


class BookDamaged(StoreError):
    """The database cannot be read as one."""


class KeyMismatch(StoreError):
    """The station key is missing or is not the one that this book knows."""


class ConnectionLost(StoreError):
    """The database server went away or was never reached; nothing of the step was saved."""


class SavingUnknown(StoreError):
    """The answer to a commit never came: the step was saved whole or not at all."""


_BUSY, _LOCKED, _READONLY, _IOERR, _CORRUPT, _FULL, _CANTOPEN, _CONSTRAINT, _AUTH, _NOTADB = (
    5, 6, 8, 10, 11, 13, 14, 19, 23, 26,
)  # fmt: skip  # primary result codes, sqlite.org/rescode.html

_Said = tuple[type[StoreError], str]

_TEXTS: dict[int, _Said] = {
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

_BUSY_SERVER: _Said = (
    StoreBusy,
    "another station is writing to the record book: wait a moment and try again; nothing was saved",
)
_REFUSED: _Said = (StoreError, "the record book refused the change; nothing was saved")
_DAMAGED: _Said = (BookDamaged, "the record book is damaged: stop working on it and have the last backup restored")

# by SQLSTATE or by its class (first two characters), PostgreSQL manual, appendix A
_SQLSTATES: dict[str, _Said] = {
    "22": _REFUSED,
    "23": _REFUSED,
    "25006": (ReadOnly, "the database server only reads at present (a copy, or recovering): nothing was saved"),
    "25P02": (
        StoreError,
        "an earlier step of this transaction failed: leave it and do the whole again; nothing was saved",
    ),
    "40": _BUSY_SERVER,
    "42501": (
        ReadOnly,
        "this account of the database has no right to do that: rebuilding and changing tables is done under the account "
        "that owns the book; nothing was saved",
    ),
    "42P01": (StoreError, "this database is not a record book: choose another one or begin a new book"),
    "53": (
        StoreError,
        "the database server has no room for this at present: try again, or look after the server; nothing was saved",
    ),
    "53100": (
        DiskFull,
        "the disk of the database server is full: make room there and enter it again; nothing was saved",
    ),
    "55P03": _BUSY_SERVER,
    "58": (StoreError, "the database server could not read or write its disk: check the server; nothing was saved"),
    "XX001": _DAMAGED,
    "XX002": _DAMAGED,
}

_LOST: _Said = (
    ConnectionLost,
    "the database server is not reached or the connection to it was lost: nothing of this step was saved, all that was "
    "shown as saved is safe. Try again; this station connects anew by itself",
)
_UNKNOWN: _Said = (
    SavingUnknown,
    "the answer to saving never came: this step was saved whole or not at all. Look whether it is in the book before "
    "you enter it again; all that was shown as saved before is safe",
)
_EARLIER: _Said = (
    StoreError,
    "an earlier call of this step failed: leave the step, see what that message said, and do the whole again",
)
_OTHER: _Said = (StoreError, "the record book could not be used; nothing was saved")


def store_error(error: Exception, *, committing: bool = False) -> StoreError:
    """The error of the project for an error of SQLAlchemy or of its driver; the cause is named at its end.

    ``committing``: it came from a commit, whose outcome is unknown when the answer is lost.
    """
    cause = error.orig if isinstance(error, DBAPIError) else error
    if cause is None or isinstance(error, PendingRollbackError):
        kind, text = _EARLIER
    elif isinstance(cause, sqlite3.Error):
        kind, text = _of_sqlite(cause, committing)
    else:
        kind, text = _of_server(error, getattr(cause, "sqlstate", None), committing)
    said = str(cause).strip().partition("\n")[0]  # a server also quotes the statement
    return kind(f"{text} ({said})")


def _of_sqlite(cause: sqlite3.Error, committing: bool) -> _Said:
    code = getattr(cause, "sqlite_errorcode", None)
    if code is None and isinstance(cause, sqlite3.DatabaseError) and "not authorized" in str(cause):
        code = _AUTH
    primary = (code or 0) & 0xFF
    if committing and primary == _IOERR:
        return _UNKNOWN  # the commit may be in the log though its flush failed
    return _TEXTS.get(primary, _OTHER)


def _of_server(error: Exception, sqlstate: str | None, committing: bool) -> _Said:
    if _is_lost(error, sqlstate):
        return _UNKNOWN if committing else _LOST
    known = sqlstate or ""
    return _SQLSTATES.get(known) or _SQLSTATES.get(known[:2]) or _OTHER


def _is_lost(error: Exception, sqlstate: str | None) -> bool:
    """Whether the server is gone: said so by it (08, 57P01 to 57P05), or found out by the driver."""
    if sqlstate is not None:
        return sqlstate.startswith(("08", "57P"))
    invalidated = isinstance(error, DBAPIError) and error.connection_invalidated
    return invalidated or isinstance(error, (OperationalError, InterfaceError))
