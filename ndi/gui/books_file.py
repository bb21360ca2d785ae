"""Which books this person opened last, the latest first: ``~/.config/ndi/books.json``."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from ndi.gui.memory_file import MemoryFile

MOST = 8


def place() -> Path:
    """The file; under the folder that XDG_CONFIG_HOME names, where it names one."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "ndi" / "books.json"


def remembered() -> tuple[str, ...]:
    """Books that were opened, as far as they can still be there."""
    found = MemoryFile(place()).load().get("books", [])
    books = [book for book in found if isinstance(book, str)] if isinstance(found, list) else []
    return tuple(book for book in books if "://" in book or Path(book).is_file())[:MOST]


def remember(book: str) -> None:
    """Put a book first; where that cannot be kept, it is not, for nothing depends on it."""
    with suppress(OSError):
        others = [each for each in remembered() if each != book]
        MemoryFile(place()).save({"books": [book, *others][:MOST]})
