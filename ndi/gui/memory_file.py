"""The station's small document on disk: written whole, flushed, then put in the place of the old one."""

from __future__ import annotations

import json
import os
from pathlib import Path

from ndi.gui.presenters.memory import Kept


class MemoryFile:
    """What is there is always one whole document: the old or the new."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._last = ""

    def load(self) -> Kept:
        """What was kept; empty when nothing readable is there, for what it holds is no fact of the book."""
        try:
            found = json.loads(self.path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def save(self, kept: Kept) -> None:
        """Durable when it returns; nothing is written when nothing changed."""
        text = json.dumps(kept, ensure_ascii=False)
        if text == self._last:
            return
        self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        beside = self.path.with_suffix(".new")
        with beside.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, self.path)
        self._last = text
