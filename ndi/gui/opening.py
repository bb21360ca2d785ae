"""What the window is opened on: a book, or the practice copy of the demonstration day, and what surrounds them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ndi.gui.presenters.booth.outside import PhotoFile

PICTURES = frozenset({".jpg", ".jpeg", ".png", ".tif", ".tiff", ".bmp", ".webp"})
_MOST_FILES = 200
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Inbox:
    """The folder where the station's camera leaves its files."""

    folder: Path

    def files(self) -> Sequence[PhotoFile]:
        """Pictures in it, newest first; empty when the folder is not there."""
        found = []
        try:
            with os.scandir(self.folder) as entries:
                for entry in entries:
                    if entry.is_file() and Path(entry.name).suffix.lower() in PICTURES:
                        about = entry.stat()
                        changed = _EPOCH + timedelta(seconds=about.st_mtime)
                        found.append(PhotoFile(entry.path, entry.name, changed, about.st_size))
        except OSError:
            return ()
        found.sort(key=lambda file: file.changed, reverse=True)
        return found[:_MOST_FILES]


def has_screen() -> bool:
    """Whether a window can be opened on this machine now."""
    import tkinter as tk

    try:
        root = tk.Tk()
    except tk.TclError:
        return False
    root.destroy()
    return True


Said = Callable[[str], None]
