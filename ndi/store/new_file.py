"""The file of a book that is being made: settled into one plain file, or removed with all that belongs to it."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from ndi.store.errors import store_error


def settle(path: Path) -> None:
    """Leave one plain file without a write-ahead log, flushed."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        raise store_error(error) from error
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def remove(unfinished: Path) -> None:
    """Remove what never got its name, with the logs beside it."""
    for ending in ("", "-wal", "-shm", "-journal"):
        unfinished.with_name(unfinished.name + ending).unlink(missing_ok=True)
